"""The books of the invented clinic: times in order, machines free, doses inside the shipped bands, every mL
of a controlled drug accounted for, and what is wrong only where it was made wrong."""

import numpy as np
import pandas as pd
import pytest
from invented_clinic import minutes

from pipeline import settings, shipped

STAGES = [
    "premed_at", "preoxygenation_start_at", "induction_at", "intubation_at", "vaporizer_on_at", "procedure_start_at",
    "procedure_end_at", "vaporizer_off_at", "extubation_at", "sternal_at", "standing_at", "recovery_end_at",
]  # fmt: skip


def milliliters(drugs: pd.DataFrame, kg: pd.Series) -> pd.Series:
    """Volume of each row by the data model's units: a rate times its hours, a dose by kg times the weight."""
    hours = minutes(drugs.stopped_at, drugs.given_at) / 60
    unit, strength = drugs.amount_unit, drugs.concentration_mg_ml
    factors = {
        "mg": 1 / strength, "mcg": 1e-3 / strength, "mL": 1.0, "mg/kg": kg / strength, "mcg/kg": 1e-3 * kg / strength,
        "mg/kg/h": kg * hours / strength, "mcg/kg/h": 1e-3 * kg * hours / strength,
        "mcg/kg/min": 0.06 * kg * hours / strength, "mL/h": hours, "mg/h": hours / strength,
    }  # fmt: skip
    return drugs.amount * np.select([unit == name for name in factors], list(factors.values()), np.nan)


def weights(clinic) -> pd.Series:
    return clinic.cases.set_index("case_id").weight_kg.reindex(clinic.drugs.case_id).set_axis(clinic.drugs.index)


def syringes(clinic) -> pd.Series:
    """Drawn less given less wasted, by case, drug, person and day."""
    rows = clinic.drugs.assign(ml=milliliters(clinic.drugs, weights(clinic)), day=clinic.drugs.given_at.dt.date)
    rows = rows[rows.drawn_ml.notna()]
    left = rows.drawn_ml - rows.ml - rows.wasted_ml
    return left.groupby([rows.case_id, rows.drug, rows.given_by, rows.day]).sum(min_count=1)


def test_stages_follow_each_other(clean):
    """Order of an anesthetic; equality allowed, any may be missing (common practice)."""
    times = clean.cases[STAGES].apply(lambda column: column.astype("int64").where(column.notna()))
    latest = times.cummax(axis=1)
    assert ((times >= latest) | times.isna()).all().all()
    assert (
        minutes(clean.cases.end_at, clean.cases.induction_at).between(10, 12 * 60).loc[clean.cases.end_at.notna()].all()
    )


def test_no_machine_has_two_patients(clean):
    rows = clean.cases.assign(from_at=clean.cases.preoxygenation_start_at.fillna(clean.cases.induction_at))
    rows = rows.sort_values(["site", "machine_id", "from_at"])
    before = rows.groupby(["site", "machine_id"]).end_at.shift()
    assert (before.isna() | (rows.from_at > before)).all()


def test_no_case_runs_through_a_change_of_clocks(demo):
    """Between 2 and 3 h on the last Sundays of March and October (EU directive 2000/84/EC)."""
    for day in ("2025-03-30", "2025-10-26", "2026-03-29", "2026-10-25"):
        change = pd.Timestamp(day) + pd.Timedelta(hours=2)
        assert not ((demo.cases.premed_at <= change + pd.Timedelta(hours=1)) & (demo.cases.end_at >= change)).any()


def test_doses_lie_inside_the_shipped_bands(clean):
    """Each against the formulary's published range for its species and route; volumes are rounded, so 5 %."""
    bands = pd.read_csv(shipped.folder("sql") / "seeds" / "formulary.csv")
    scale = {"mg/kg": 1.0, "mcg/kg": 1e-3, "mg/kg/h": 1.0, "mcg/kg/h": 1e-3, "mg/kg/min": 60.0, "mcg/kg/min": 0.06}
    bands = bands[bands.unit.isin(list(scale))]
    bands["kind"] = np.where(bands.unit.str.count("/") == 1, "bolus", "infusion")
    bands["low"], bands["high"] = bands.low * bands.unit.map(scale), bands.high * bands.unit.map(scale)
    rows = clean.drugs.assign(
        kg=weights(clean), species=clean.cases.set_index("case_id").species.reindex(clean.drugs.case_id).to_numpy()
    )
    hours = np.where(rows.kind == "infusion", minutes(rows.stopped_at, rows.given_at) / 60, 1.0)
    rows["dose"] = milliliters(rows, rows.kg) * rows.concentration_mg_ml / rows.kg / hours
    judged = 0
    for (drug, species, kind), of in rows[rows.species != "rabbit"].groupby(["drug", "species", "kind"]):
        for route, given in of.groupby("route"):
            here = bands[(bands.drug == drug) & (bands.species == species) & (bands.kind == kind)]
            here = here[here.route == route] if (here.route == route).any() else here[here.route == "any"]
            if len(here):
                judged += len(given)
                assert given.dose.between(0.95 * here.low.min(), 1.05 * here.high.max()).all(), (
                    drug,
                    species,
                    kind,
                    route,
                )
    assert judged > 0.9 * (rows.species != "rabbit").sum()


def test_all_units_of_the_record_are_used(clean):
    assert set(clean.drugs.amount_unit) == {
        "mg",
        "mcg",
        "mL",
        "mg/kg",
        "mcg/kg",
        "mg/kg/h",
        "mcg/kg/h",
        "mcg/kg/min",
        "mL/h",
        "mg/h",
    }


def test_syringes_balance(clean):
    assert syringes(clean).abs().max() <= 0.05


def test_the_syringes_that_do_not_balance_are_those_planted(demo):
    left = syringes(demo)
    off = (left.abs() > 0.05).sum()
    planted = demo.planted["faults"]["waste that does not balance"]
    assert planted <= off <= planted + 2  # a dose ten times over, or a weight, may add one
    assert left.isna().sum() >= 1  # wastes not written


def balances(clinic) -> pd.DataFrame:
    """Each count of an item against the count before it and what moved between (strict items and others)."""
    sign = {"received": 1, "returned": 1, "supplied": -1, "discarded": -1, "expired": -1, "opened": 0}
    lines = []
    for item, rows in clinic.stock.groupby("item"):
        on_hand = None
        for row in rows.sort_values("at", kind="stable").itertuples():
            if row.movement == "counted":
                if on_hand is not None:
                    lines.append((item, row.at, row.quantity - on_hand))
                on_hand = row.quantity
            else:
                on_hand = on_hand + sign[row.movement] * row.quantity if on_hand is not None else None
    return pd.DataFrame(lines, columns=["item", "at", "off"])


def test_the_store_balances_at_every_count(clean):
    lines = balances(clean)
    assert len(lines) > 1000
    assert lines.off.abs().max() < 1e-6


def test_the_counts_that_are_off_are_the_four_planted(demo):
    lines = balances(demo)
    off = lines[lines.off.abs() > 0.05].set_index("item").off.round(2).to_dict()
    assert off == {"methadone_10ml": -0.4, "ketamine_10ml": -1.0, "fentanyl_10ml": 10.0, "midazolam_10ml": -5.0}


def test_what_leaves_the_cupboard_is_what_was_drawn(clean):
    drawn = clean.drugs[clean.drugs.drawn_ml.notna()]
    items = settings.read(clean.folder / "clinic.toml").items
    for name, item in items.items():
        if item.control:
            supplied = clean.stock.quantity[(clean.stock.item == name) & (clean.stock.movement == "supplied")].sum()
            assert supplied == pytest.approx(drawn.drawn_ml[drawn.drug == item.drug].sum(), abs=0.5), name


def test_one_item_runs_low_at_the_end(demo):
    """Less than its lead time's use is left of methadone, and of nothing else."""
    items = settings.read(demo.folder / "clinic.toml").items
    low = []
    sign = {"received": 1, "returned": 1, "supplied": -1, "discarded": -1, "expired": -1}
    days = (demo.stock["at"].max() - demo.stock["at"].min()).days
    for name, rows in demo.stock.sort_values("at", kind="stable").groupby("item"):
        last = rows[rows.movement == "counted"].iloc[-1]
        after = rows[rows["at"] > last["at"]]
        left = last.quantity + (after.quantity * after.movement.map(sign).fillna(0).astype(float)).sum()
        a_day = rows.quantity[rows.movement.isin(["supplied", "discarded"])].sum() / days
        if a_day * items[name].lead_days > left:
            low.append(name)
    assert low == ["methadone_10ml"]


def test_each_machine_is_leak_tested_on_each_day_it_is_used(clean):
    tests = clean.equipment[clean.equipment.action == "leak_tested"]
    assert (tests.value <= 300).all() and (tests.unit == "mL/min").all()
    tested = set(zip(tests.machine_id, tests["at"].dt.date, strict=True))
    used = set(zip(clean.cases.machine_id, clean.cases.induction_at.dt.date, strict=True))
    assert used <= tested


def test_marks_stand_for_half_hours_of_use(clean):
    """8 h = 16 marks at 30 min (clinic's own setting): floor(minutes of a cycle / 30) marks in each."""
    used = clean.cases[clean.cases.breathing_system == "rebreathing"]
    for machine, rows in clean.equipment[clean.equipment.item == "absorbent"].groupby("machine_id"):
        changed = rows["at"][rows.action == "changed"].sort_values().to_list() + [pd.Timestamp.max]
        cases = used[used.machine_id == machine]
        length = minutes(cases.end_at.fillna(cases.outcome_at), cases.induction_at)
        for begins, ends in zip(changed, changed[1:], strict=False):
            within = (cases.induction_at >= begins) & (cases.induction_at < ends)
            marks = ((rows.action == "marked") & (rows["at"] >= begins) & (rows["at"] < ends)).sum()
            assert marks == length[within].sum() // 30


def test_canisters_gain_less_than_the_liquid_used(clean):
    """A canister cannot gain more than the agent poured in (1.496 g/mL isoflurane, 1.520 sevoflurane, labels)
    and moisture; half again is a data fault."""
    weighed = clean.equipment[clean.equipment.item == "scavenging_canister"].sort_values(["machine_id", "at"])
    cycle = (weighed.action == "changed").groupby(weighed.machine_id).cumsum()
    gain = weighed.groupby([weighed.machine_id, cycle]).value.agg(lambda grams: grams.iloc[-1] - grams.iloc[0]).sum()
    poured = clean.equipment.value[clean.equipment.action == "filled"].sum() * 1.5
    assert 0.5 < gain / poured < 1.0


def test_a_cylinder_s_gauge_falls_until_the_cylinder_is_changed(clean):
    """In line with what was used: 660 L at 1900 psi, E cylinder (the seed of cylinders names its sources)."""
    rows = clean.equipment[clean.equipment.item == "oxygen_cylinder"].sort_values(["machine_id", "at"], kind="stable")
    assert (rows.unit == "psi").all()
    read = rows[rows.action == "marked"]
    assert read.value.between(0, 1900).all() and (read.value % 50 == 0).all()
    cycle = (rows.action == "changed").groupby(rows.machine_id).cumsum()
    assert (rows.groupby([rows.machine_id, cycle]).value.diff().dropna() <= 0).all()
    days = set(zip(clean.cases.machine_id, clean.cases.induction_at.dt.date, strict=True))
    assert len(read) == len(days)


def test_some_lots_on_the_shelf_expire_soon(demo):
    received = demo.stock[(demo.stock.movement == "received")]
    latest = received.groupby("item").expires_on.max() - demo.stock["at"].max().normalize()
    assert set(latest.index[latest.dt.days <= 90]) == {"rocuronium_5ml", "epinephrine_1ml"}
    assert (received.expires_on > received["at"]).all()


def test_the_settings_say_what_the_books_need(demo):
    chosen = settings.read(demo.folder / "clinic.toml")
    assert (chosen.controlled.witness_waste, chosen.controlled.count_days) == (True, 7)
    single = {name for name, item in chosen.items.items() if item.open_days == 1}
    assert {"fentanyl_10ml", "morphine_1ml", "norepinephrine_4ml"} < single
    assert chosen.items["isoflurane_250ml"].open_days is None  # good until it is empty


def test_controlled_drugs_have_a_witness(clean, demo):
    for clinic, most in ((clean, 0.0), (demo, 0.03)):
        kept = clinic.drugs[clinic.drugs.drawn_ml.notna()]
        assert kept.witnessed_by.isna().mean() <= most
        both = kept[kept.witnessed_by.notna()]
        assert (both.given_by != both.witnessed_by).all()


def test_roles_name_known_people_and_one_primary(clean):
    roles = clean.case_people
    assert set(roles.case_id) == set(clean.cases.case_id)
    assert (roles.from_at < roles.to_at).all()
    at_once = roles[roles.role == "primary"].sort_values(["case_id", "from_at"])
    before = at_once.groupby("case_id").to_at.shift()
    assert (before.isna() | (at_once.from_at >= before)).all()
    assert roles.groupby("role").size().index.tolist() == ["assisting", "observing", "primary", "supervising"]
