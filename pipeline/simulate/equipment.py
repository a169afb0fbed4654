"""What was done to the machines: leak tests, absorbent marks and changes, canisters on the scale,
vaporizers filled, oxygen cylinders changed and their gauges read, systems cleaned."""

import numpy as np
import pandas as pd

from pipeline.simulate import clinic
from pipeline.simulate.plan import DAY, Plan

DENSITY = {"isoflurane": 1.496, "sevoflurane": 1.520}  # g/mL
CANISTER_G, CANISTER_GAIN_G, CANISTER_HOURS = 1420, 46, 10  # changed before 50 g or 12 h are reached
CYLINDER_L, CYLINDER_PSI = 660, 1900  # an E cylinder
FILL_ML = 100


def equipment(plan: Plan, cases: pd.DataFrame, changes: pd.DataFrame) -> pd.DataFrame:
    """Rows of the table equipment, with site and agent beside them for the store."""
    rng = plan.chance(20)
    cases = cases.assign(end=cases.at_induction + cases.m_extubation.fillna(cases.m_off))
    rows = [
        _leak_tests(plan, cases, rng),
        _absorbent(changes, cases, rng),
        _marks(plan, cases, rng),
        *(_canister(rows, rng) for _, rows in cases.groupby(["site", "machine_id"], sort=True)),
        _fills(cases, rng),
        _cylinders(plan, cases),
        _gauges(plan, cases),
    ]
    table = pd.concat(rows, ignore_index=True)
    table["at"] = np.floor(table["at"])
    return table.sort_values(["at", "machine_id", "item", "action"], kind="stable", ignore_index=True)


def _frame(cases, where, at, item, action, value=np.nan, unit=None, agent=None, **more) -> pd.DataFrame:
    where = np.asarray(where, int)
    return pd.DataFrame({
        "site": cases.site.to_numpy()[where], "machine_id": cases.machine_id.to_numpy()[where], "at": at, "item": item,
        "action": action, "value": value, "unit": unit, "person": cases.anesthetist.to_numpy()[where],
        "agent": agent, **more,
    })  # fmt: skip


def _leak_tests(plan: Plan, cases: pd.DataFrame, rng) -> pd.DataFrame:
    """One test a machine on each day it is used, before its first case; a failed one is repaired and
    tested again."""
    day = cases.at_induction // DAY
    first = np.sort(cases.groupby([cases.site, cases.machine_id, day], sort=True).head(1).index.to_numpy())
    before = cases.at_induction.to_numpy()[first] - 20 - np.nan_to_num(-cases.m_preoxygenation_start.to_numpy()[first])
    morning = before % DAY > 7 * 60 + 40
    at = np.where(morning, before // DAY * DAY + 7 * 60 + 10 + rng.integers(0, 30, len(first)), before)
    at = np.maximum(at, day.to_numpy()[first] * DAY)  # a case at midnight: on its own day
    value = np.round(np.clip(rng.gamma(4, 28, len(first)), 10, 290))
    tests = _frame(cases, first, at, "breathing_system", "leak_tested", value, "mL/min")
    if not plan.faults:
        return tests
    failed = rng.random(len(first)) < 0.018
    again = tests[failed].assign(at=tests["at"][failed] + 12)
    tests.loc[failed, "value"] = np.round(rng.uniform(320, 900, failed.sum()))
    missing = ~failed & (rng.random(len(first)) < 0.035)
    return pd.concat([tests[~missing], again])


def _absorbent(changes: pd.DataFrame, cases: pd.DataFrame, rng) -> pd.DataFrame:
    nurses = cases.groupby("site").anesthetist.first()
    return pd.DataFrame({
        "site": changes.site, "machine_id": changes.machine_id, "at": changes["at"], "item": "absorbent",
        "action": "changed", "value": float(clinic.ABSORBENT_GRAMS), "unit": "g",
        "person": changes.site.map(nurses).to_numpy(),
    })  # fmt: skip


def _marks(plan: Plan, cases: pd.DataFrame, rng) -> pd.DataFrame:
    """A box crossed for each half hour of use, when it is over."""
    used = cases.cycle_min.to_numpy()
    length = (cases.end - cases.at_induction).to_numpy()
    whole = (used + length) // clinic.MINUTES_PER_MARK - used // clinic.MINUTES_PER_MARK
    count = np.nan_to_num(whole).astype(int)
    if plan.faults:  # now and then nobody crosses the box; on the forgotten machine the sheet was lost
        count = np.where(rng.random(len(cases)) < 0.06, np.maximum(count - 1, 0), count)
        if plan.overrun:
            lost = (
                (cases.machine_id == "M2")
                & (cases.at_induction > plan.overrun[0])
                & (cases.at_induction < plan.overrun[1])
            )
            count = np.where(lost & (used > 480), 0, count)
    where = np.repeat(np.arange(len(cases)), count)
    first = np.cumsum(count) - count
    nth = np.arange(len(where)) - first[where] + 1 + np.nan_to_num(used // clinic.MINUTES_PER_MARK)[where]
    at = cases.at_induction.to_numpy()[where] + np.ceil(nth * clinic.MINUTES_PER_MARK - used[where])
    return _frame(cases, where, at, "absorbent", "marked", case_id=cases.case_id.to_numpy()[where])


def _canister(cases: pd.DataFrame, rng) -> pd.DataFrame | None:
    """Weighed in the evening of a day with an inhalant; a new one in the morning when the old is nearly
    full. What it gains is most of the liquid agent and some moisture."""
    used = cases[cases.agent != "none"]
    if not len(used):
        return None
    used = used.assign(
        gain=used.liquid_ml * used.agent.map(DENSITY).astype(float) * 0.9 + 0.4,
        day=used.end // DAY,
        hours=(used.end - used.at_induction) / 60,
    )
    days = used.groupby("day", sort=True).agg(
        begins=("at_induction", "min"),
        ends=("end", "max"),
        gain=("gain", "sum"),
        hours=("hours", "sum"),
        person=("anesthetist", "last"),
    )
    minute = rng.integers(0, 40, len(days))
    fresh = CANISTER_G + rng.integers(-15, 16, len(days))
    rows, weight, start, hours = [], 0.0, 0.0, 0.0
    for number, today in enumerate(days.itertuples()):
        if not rows or weight - start >= CANISTER_GAIN_G or hours >= CANISTER_HOURS:
            start, weight, hours = fresh[number], float(fresh[number]), 0.0
            rows += [(today.begins - 10, action, weight, today.person) for action in ("changed", "weighed")]
        weight += today.gain
        hours += today.hours
        evening = max(today.Index * DAY + 19 * 60 + minute[number], today.ends + 5)
        rows.append((evening, "weighed", round(weight), today.person))
    table = pd.DataFrame(rows, columns=["at", "action", "value", "person"])
    site, machine = cases.site.iloc[0], cases.machine_id.iloc[0]
    return table.assign(site=site, machine_id=machine, item="scavenging_canister", unit="g")


def _fills(cases: pd.DataFrame, rng) -> pd.DataFrame | None:
    """Each vaporizer topped up with 100 mL before the case that would run it dry; 8 % is lost on the way."""
    rows = []
    for _, of in cases[cases.agent != "none"].groupby(["site", "machine_id", "agent"], sort=True):
        poured = (of.liquid_ml.to_numpy() * 1.08).cumsum()
        filled = np.floor(poured / FILL_ML)
        here = of.index.to_numpy()[np.flatnonzero(np.diff(filled, prepend=-1.0) > 0)]
        at, agent = cases.at_induction.to_numpy()[here] - 15, cases.agent.to_numpy()[here]
        rows.append(_frame(cases, here, at, "vaporizer", "filled", float(FILL_ML), "mL", agent=agent))
    return pd.concat(rows) if rows else None


def _cylinders(plan: Plan, cases: pd.DataFrame) -> pd.DataFrame:
    """A cylinder feeds a machine until its liters are used; the new one is full."""
    rows = []
    for _, of in cases.groupby(["site", "machine_id"], sort=True):
        liters = of.oxygen_l.to_numpy().cumsum()
        empty = np.diff(np.floor(liters / CYLINDER_L), prepend=-1.0) > 0
        here = of.index.to_numpy()[np.flatnonzero(empty)]
        rows.append(
            _frame(
                cases,
                here,
                cases.at_induction.to_numpy()[here] - 18,
                "oxygen_cylinder",
                "changed",
                float(CYLINDER_PSI),
                "psi",
            )
        )
        weekly = of.index.to_numpy()[np.flatnonzero(np.diff(of.at_induction.to_numpy() // (7 * DAY), prepend=-1) > 0)]
        rows.append(_frame(cases, weekly, cases.end.to_numpy()[weekly] + 15, "breathing_system", "cleaned"))
    return pd.concat(rows)


def _gauges(plan: Plan, cases: pd.DataFrame) -> pd.DataFrame:
    """The gauge of a machine's oxygen cylinder after its last case of the day, to the nearest mark of 50 psi; in a
    record with faults some evenings are left out."""
    rows, rng = [], plan.chance(21)
    for _, of in cases.groupby(["site", "machine_id"], sort=True):
        left = CYLINDER_L - of.oxygen_l.to_numpy().cumsum() % CYLINDER_L
        day = of.at_induction.to_numpy() // DAY
        last = np.flatnonzero(np.diff(day, append=np.inf) > 0)
        last = last[rng.random(len(last)) > 0.2 * plan.faults]
        here = of.index.to_numpy()[last]
        psi = np.round(left[last] * CYLINDER_PSI / CYLINDER_L / 50) * 50
        rows.append(_frame(cases, here, cases.end.to_numpy()[here] + 10, "oxygen_cylinder", "marked", psi, "psi"))
    return pd.concat(rows)
