"""The rows of `results` as a careful analyst would compute them with pandas from the same exports.

    python tests/benchmarks/rival_pandas.py CLINIC OUT.parquet

For the benchmark only: long vitals without faults, no accounts, no checks, no pages. Case-level facts are columns
beside the cases, a row of readings names its case by position.
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.csv
import rival_definitions as told
from rival_pandas_rows import case_rows, own_month_rows

ARROW = {"text": pa.string(), "number": pa.float64(), "time": pa.timestamp("s")}
WORDS = pa.dictionary(pa.int32(), pa.string())
GASES = ("o2_flow", "air_flow", "n2o_flow", "vaporizer_setting")


def main(folder: Path, out: Path) -> None:
    given = told.clinic(folder)
    cases = read(given, "cases").drop_duplicates("case_id", keep="last", ignore_index=True)
    latest = add_clocks(cases, given, "cases")
    position = pd.Index(cases.case_id)
    raw, last = read_vitals(given, position)
    tables = {}
    for name in ("case_people", "drugs", "events", "equipment", "stock"):
        tables[name] = read(given, name)
        latest = max(latest, add_clocks(tables[name], given, name))
        if name in ("drugs", "events"):
            tables[name]["case"] = position.get_indexer(tables[name].case_id)
    latest = max(latest, last.max())
    add_windows(cases, raw, last)
    valid = valid_readings(raw, cases)
    shares, amounts, ratios = exposures(valid, cases)
    shares["charting_gap"] = charting_gap(raw["heart_rate"], cases)
    stages = temperatures(valid["temperature"], cases, shares)
    complications(tables["events"], cases, given, shares)
    deaths(tables["events"], cases, given, latest, shares)
    stages |= recovery(tables["drugs"], cases, given, shares)
    amounts["anesthesia_minutes"] = cases.window / 60
    oxygen, liquid = gases(valid, cases)
    doses = drug_doses(tables["drugs"], cases, given)
    rows = case_rows(cases, pd.DataFrame(shares), pd.DataFrame(amounts), ratios, stages, oxygen)
    rows += own_month_rows(cases, liquid, doses, tables["equipment"])
    pd.concat(rows, ignore_index=True)[told.COLUMNS].to_parquet(out)


def read(given: told.Clinic, table: str) -> pd.DataFrame:
    """All files of a table; a row that an overlapping later file holds again counts once."""
    types = {name: ARROW[kind] for name, kind in told.kinds(table).items()}
    options = pa.csv.ConvertOptions(column_types=types, strings_can_be_null=True)
    parts = []
    for path in sorted(given.exports.glob(f"{table}*.csv")):
        rows = pa.csv.read_csv(path, convert_options=options).to_pandas()
        rows["mark"] = pd.util.hash_pandas_object(rows, index=False)
        parts.append(rows.assign(twin=rows.groupby("mark").cumcount()))
    return pd.concat(parts).drop_duplicates(["mark", "twin"], ignore_index=True).drop(columns=["mark", "twin"])


def clock(local: pd.Series, zone: str) -> np.ndarray:
    """Seconds of UTC from local times, NaN where there is none."""
    utc = local.dt.tz_localize(zone, ambiguous="NaT", nonexistent="NaT").dt.tz_convert("UTC").dt.tz_localize(None)
    seconds = utc.astype("datetime64[s]").astype("int64").to_numpy()
    return np.where(utc.isna(), np.nan, seconds)


def add_clocks(rows: pd.DataFrame, given: told.Clinic, table: str) -> float:
    """Adds X_s beside each time X_at; returns the latest."""
    latest = -np.inf
    for name, kind in told.kinds(table).items():
        if kind == "time" and name in rows:
            rows[name + "_s"] = clock(rows[name], given.zone)
            latest = max(latest, rows[name + "_s"].max())
    return latest


def read_vitals(given: told.Clinic, position: pd.Index) -> tuple[dict[str, pd.DataFrame], pd.Series]:
    """{parameter: frame[case, s, value] in order of case and time}; the last reading of each case."""
    types = {"case_id": WORDS, "taken_at": ARROW["time"], "parameter": WORDS, "value": pa.float64()}
    options = pa.csv.ConvertOptions(column_types=types)
    parts, lasts = {}, []
    for path in sorted(given.exports.glob("vitals*.csv")):
        rows = pa.csv.read_csv(path, convert_options=options).to_pandas().dropna(subset="value")
        rows["case"] = position.get_indexer(rows.case_id.cat.categories)[rows.case_id.cat.codes]
        rows["s"] = clock(rows.taken_at, given.zone).astype("int64")
        lasts.append(rows.groupby("case").s.max())
        for name, some in rows.groupby("parameter", observed=True):
            parts.setdefault(name, []).append(some[["case", "s", "value"]])
    raw = {name: pd.concat(some).sort_values(["case", "s"], ignore_index=True) for name, some in parts.items()}
    for name in (*told.LIMITED, "temperature", *GASES):
        raw.setdefault(name, pd.DataFrame({"case": np.array([], int), "s": np.array([], int), "value": []}))
    return raw, pd.concat(lasts).groupby(level=0).max()


def first_known(*columns: pd.Series) -> pd.Series:
    known = columns[0]
    for column in columns[1:]:
        known = known.fillna(column)
    return known


def add_windows(cases: pd.DataFrame, raw: dict, last: pd.Series) -> None:
    """start, month, end, window, recovery_end, last_reading, weight of every case; seconds of UTC."""
    begun = first_known(cases.induction_at, cases.intubation_at, cases.vaporizer_on_at)
    cases["start"] = first_known(cases.induction_at_s, cases.intubation_at_s, cases.vaporizer_on_at_s)
    cases["start_at"], cases["month"] = begun, begun.dt.year * 12 + begun.dt.month - 1
    cases["last_reading"] = last.reindex(cases.index)
    end = first_known(cases.extubation_at_s, cases.vaporizer_off_at_s)
    awake = cases[["sternal_at_s", "standing_at_s", "recovery_end_at_s"]].min(axis=1).fillna(np.inf)
    for rows in raw.values():
        some = rows[end.isna().to_numpy()[rows.case]]
        inside = some.s.to_numpy() >= cases.start.to_numpy()[some.case]
        inside &= some.s.to_numpy() <= awake.to_numpy()[some.case]
        found = some[inside].groupby("case").s.max().reindex(cases.index)
        cases["estimated"] = found if "estimated" not in cases else np.fmax(cases.estimated, found)
    cases["end"] = end.fillna(cases.estimated)
    cases["window"] = (cases.end - cases.start).where(cases.end > cases.start)
    recovered = first_known(cases.recovery_end_at_s, cases.standing_at_s, cases.last_reading)
    cases["recovery_end"] = np.fmax(recovered, cases.end).where(cases.end.notna(), recovered)
    bounds = {row["species"]: (row["low"], row["high"]) for row in told.BOUNDS if row["parameter"] == "weight_kg"}
    low, high = (cases.species.map({name: pair[side] for name, pair in bounds.items()}) for side in (0, 1))
    cases["weight"] = cases.weight_kg.where(~((cases.weight_kg < low) | (cases.weight_kg > high)))


def valid_readings(raw: dict, cases: pd.DataFrame) -> dict:
    """Readings inside the bounds of species or dial, without those an artefact rule names."""
    inside = {name: rows[within_bounds(name, rows, cases)] for name, rows in raw.items()}
    valid, beats = dict(inside), raw["heart_rate"]

    co2 = raw["etco2"]
    low = co2.value <= told.DISCONNECTED_MAX
    run = ((low != low.shift()) | (co2.case != co2.case.shift())).cumsum()
    short = co2[low & (run.groupby(run).transform("size") <= told.DISCONNECTED_RUN)]
    accompanied = pd.Series(True, short.index)
    for name in ("spo2", "heart_rate"):
        accompanied &= minutes(short).isin(minutes(inside[name]))
    off = accompanied.groupby(run.loc[short.index]).transform("all")
    valid["etco2"] = inside["etco2"].drop(short.index[off], errors="ignore")

    silent = minutes(beats[beats.value == 0])
    silent = silent[~silent.isin(minutes(beats[beats.value > 0]))]
    valid["spo2"] = inside["spo2"][~minutes(inside["spo2"]).isin(silent)]

    warm = raw["temperature"]
    placed = warm[warm.value >= told.PLACED_MIN].groupby("case").s.min().reindex(cases.index).fillna(np.inf)
    valid["temperature"] = inside["temperature"][lambda rows: rows.s >= placed.to_numpy()[rows.case]]
    return valid


def minutes(rows: pd.DataFrame) -> pd.Series:
    """One number for a case and clock minute."""
    return rows.case.astype("int64") * 10**9 + rows.s // 60


def within_bounds(parameter: str, rows: pd.DataFrame, cases: pd.DataFrame) -> np.ndarray:
    of = cases.agent if parameter == "vaporizer_setting" else cases.species
    known = [row for row in told.BOUNDS if row["parameter"] == parameter]
    low, high = ({row["species"] or row["agent"]: row[side] for row in known} for side in ("low", "high"))
    low, high = (of.map(limit).to_numpy(float)[rows.case] for limit in (low, high))
    return ~((rows.value.to_numpy() < low) | (rows.value.to_numpy() > high))


def held(rows: pd.DataFrame, cases: pd.DataFrame) -> pd.DataFrame:
    """Readings from start to end with the seconds each stands for and the number of its stretch."""
    windowed = cases[["start", "end"]].where(cases.window.notna()).to_numpy()[rows.case]
    inside = (rows.s >= windowed[:, 0]) & (rows.s <= windowed[:, 1])
    rows = rows[inside].assign(end=windowed[inside, 1]).reset_index(drop=True)
    of_case = rows.groupby("case").s
    until = np.fmin(of_case.shift(-1), rows.end)
    rows["hold"] = (until - rows.s).clip(upper=told.HOLD_MAX)
    rows["stretch"] = (~(rows.s - of_case.shift() <= told.HOLD_MAX)).cumsum()
    return rows


def exposures(valid: dict, cases: pd.DataFrame) -> tuple[dict, dict, dict]:
    """Shares, amounts and pairs for ratios of every measure with a limit, NaN where not assessable."""
    found = {}
    for parameter, measures in told.MEASURES_OF.items():
        rows = held(valid[parameter], cases)
        stretches = rows.groupby("stretch").agg(case=("case", "first"), n=("hold", "size"), s=("hold", "sum"))
        covered = stretches[stretches.n >= told.MIN_READINGS].groupby("case").s.sum().reindex(cases.index)
        assessable = (covered >= told.MIN_COVERAGE * cases.window) & (cases.window >= told.SUSTAIN)
        observed = rows.groupby("case").hold.sum().reindex(cases.index)
        for measure in measures:
            facts = past_limit(rows, cases, measure, parameter)
            facts["observed"] = observed / 60
            facts = facts.where(assessable & facts.pop("limited"))
            found[measure] = found[measure].combine_first(facts) if measure in found else facts
    shares = {measure: found[measure].has for measure in told.EXPOSURES}
    amounts = {}
    for measure in told.EXPOSURES:
        amounts[f"{measure}_minutes"], amounts[f"{measure}_area"] = found[measure].beyond, found[measure].area
    return shares, amounts, {f"{m}_time_share": (found[m].beyond, found[m].observed) for m in told.EXPOSURES}


def past_limit(rows: pd.DataFrame, cases: pd.DataFrame, measure: str, parameter: str) -> pd.DataFrame:
    """has, beyond, area of every case, and whether a limit exists for it."""
    limits = pd.DataFrame(np.nan, cases.index, ["above", "below", "at_most", "depth_from"])
    for row in told.LIMITS:
        if (row["measure"], row["parameter"]) == (measure, parameter):
            here = cases.species == row["species"]
            if row["over_kg"] is not None:
                here &= (cases.weight > row["over_kg"]) & (cases.weight <= row["upto_kg"])
            limits.loc[here, limits.columns] = [np.nan if row[side] is None else row[side] for side in limits]
    value = rows.value.to_numpy()
    above, below, at_most, depth = (limits[side].to_numpy()[rows.case] for side in limits)
    past = ~np.isnan(depth) & ~(value <= above) & ~(value >= below) & ~(value > at_most)
    area = np.abs(value - depth) * rows.hold
    rows = rows.assign(place=np.arange(len(rows)), area=area)[past]
    episode = ((rows.place.diff() != 1) | (rows.stretch.diff() != 0)).cumsum()
    runs = rows.assign(held=rows.hold > 0).groupby(episode).agg(case=("case", "first"), n=("held", "sum"),
                                                               s=("hold", "sum"))  # fmt: skip
    having = runs[(runs.n >= told.MIN_READINGS) & (runs.s >= told.SUSTAIN)].case
    summed = rows.groupby("case")[["hold", "area"]].sum().reindex(cases.index, fill_value=0.0) / 60
    has = cases.index.isin(having).astype(float)
    return pd.DataFrame({"has": has, "beyond": summed.hold, "area": summed.area, "limited": limits.depth_from.notna()})


def charting_gap(beats: pd.DataFrame, cases: pd.DataFrame) -> pd.Series:
    start, end = cases.start.to_numpy()[beats.case], cases.end.to_numpy()[beats.case]
    times = beats[(beats.s >= start) & (beats.s <= end)].groupby("case").s
    inner = times.diff().groupby(beats.case).max().reindex(cases.index)
    outer = np.fmax(times.min().reindex(cases.index) - cases.start, cases.end - times.max().reindex(cases.index))
    longest = np.fmax(inner, outer).fillna(cases.window)
    return (longest > told.CHARTING_GAP).astype(float).where(cases.window > told.CHARTING_GAP)


def temperatures(rows: pd.DataFrame, cases: pd.DataFrame, shares: dict) -> dict:
    """Adds the bands to shares; returns minutes to hypothermia and to rewarming as (minutes, seen)."""
    judged = cases[["start", "end", "recovery_end"]].where(
        cases.window.notna() & cases.species.isin({row["species"] for row in told.BANDS})
    )
    start, end, recovered = judged.to_numpy()[rows.case].T
    whole = rows[(rows.s >= start) & (rows.s <= recovered)]
    after = rows[rows.s > end]
    at_end = rows[(rows.s >= start) & (rows.s <= end)].groupby("case").value.last().reindex(cases.index)
    extremes = whole.groupby("case").value.agg(["min", "max"]).reindex(cases.index)
    for row in told.BANDS:
        measure, ours = row["measure"], cases.species == row["species"]
        for name, value in ((measure, extremes["min" if row["reading"] == "lowest" else "max"]),
                            (f"{measure}_at_end", at_end)):  # fmt: skip
            has = pd.Series(True, cases.index)
            for side, keeps in (("at_least", value.ge), ("below", value.lt), ("at_most", value.le),
                                ("above", value.gt)):  # fmt: skip
                if row[side] is not None:
                    has &= keeps(row[side])
            has = has.astype(float).where(ours & value.notna())
            shares[name] = has if name not in shares else shares[name].fillna(has)
    cold = first_or_last(whole, whole.value < told.COLD, judged.start)
    warm = first_or_last(after, after.value >= told.COLD, judged.end.where(at_end < told.COLD))
    return {"minutes_to_hypothermia": cold, "minutes_to_rewarm": warm}


def first_or_last(rows: pd.DataFrame, holds: pd.Series, origin: pd.Series) -> tuple[pd.Series, pd.Series]:
    first = rows[holds].groupby("case").s.min().reindex(origin.index)
    at = first.fillna(rows.groupby("case").s.max().reindex(origin.index))
    return (at - origin) / 60, first.notna()


def complications(events: pd.DataFrame, cases: pd.DataFrame, given: told.Clinic, shares: dict) -> None:
    charts = cases.site.fillna("").isin(cases.site.fillna("").iloc[events.case.unique()]) | given.recorded
    if given.recorded_from:
        charts &= cases.start_at.dt.normalize() >= pd.Timestamp(given.recorded_from)
    named = events[events.event.isin(told.EVENTS)]
    for measure, some in (
        ("complication", named),
        *((f"complication_{e}", named[named.event == e]) for e in told.EVENTS),
    ):
        shares[measure] = pd.Series(cases.index.isin(some.case), cases.index).astype(float).where(charts)
    start, end = cases.start.to_numpy()[events.case], cases.end.to_numpy()[events.case]
    within = events.occurred_at_s.isna() | ((events.occurred_at_s >= start) & (events.occurred_at_s <= end))
    for measure in told.AGREEMENT:
        noted = cases.index.isin(events.case[within & (events.event == measure)]).astype(float)
        seen = shares[measure].where(charts & cases.window.notna())
        shares[f"agreement_{measure}_both"] = seen * noted
        shares[f"agreement_{measure}_detected_only"] = seen * (1 - noted)
        shares[f"agreement_{measure}_charted_only"] = (1 - seen) * noted


def deaths(events: pd.DataFrame, cases: pd.DataFrame, given: told.Clinic, latest: float, shares: dict) -> None:
    until = cases.end + told.DEATH_WINDOW
    fatal = events[events.event == "death"].groupby("case").occurred_at_s.agg(["size", "min"]).reindex(cases.index)
    euthanised, outcome = cases.outcome == "euthanised", cases.outcome_at_s
    died = ~euthanised & ((cases.outcome == "died") | (fatal["size"] > 0))
    death = outcome.where(cases.outcome == "died").fillna(fatal["min"])
    followed = np.fmax(cases.followed_until_s, outcome)
    rules = [
        (cases.window.isna(), np.nan),
        (euthanised & ~(outcome > until), np.nan),
        (euthanised, 0),
        (died & death.isna(), 1),
        (died & (death < cases.start), np.nan),
        (died, (death <= until).astype(float)),
        (followed >= until, 0),
        (cases.start > latest - told.DEATH_WINDOW, np.nan),
    ]
    otherwise = 0.0 if given.assume_alive else np.nan
    shares["death_48h"] = pd.Series(np.select(*zip(*rules, strict=True), otherwise), cases.index)
    by_then = outcome.isna() | (cases.window.notna() & (outcome <= until))
    shares["euthanasia_48h"] = (euthanised & by_then).astype(float)


def recovery(drugs: pd.DataFrame, cases: pd.DataFrame, given: told.Clinic, shares: dict) -> dict:
    """{stage: (minutes, seen)}; adds prolonged_recovery to shares."""
    slept = drugs[(drugs.kind == "infusion") & (drugs.phase == "maintenance") & drugs.drug.isin(given.hypnotics)]
    stopped = slept.groupby("case").stopped_at_s.max().reindex(cases.index)
    origin = cases.vaporizer_off_at_s.where(cases.agent != "none", stopped).where(cases.agent.notna())
    gone = cases.outcome.isin(["died", "euthanised"]) & (cases.outcome_at_s <= cases.end + told.DEATH_WINDOW)
    left = (cases.outcome == "alive") | cases.recovery_end_at_s.notna()
    lost = cases.outcome_at_s.where(gone, cases.last_reading.where(cases.last_reading > origin))
    times, found = [cases[name + "_s"] for name in told.STAGES.values()], {}
    for place, measure in enumerate(told.STAGES):
        passed = left.copy()
        for later in times[place + 1 :]:
            passed |= later.notna()
        at = times[place].fillna(lost.mask(passed))
        if measure == "to_extubation":
            at = at.where(cases.airway == "tracheal_tube")
        found[measure] = ((at - origin).where(at >= origin) / 60, times[place].notna())
    sternal, seen = found["to_sternal"]
    prolonged = ((sternal > told.PROLONGED) | ~seen).astype(float)
    shares["prolonged_recovery"] = prolonged.where(sternal.notna() & (seen | (sternal >= told.PROLONGED)))
    return found


def gases(valid: dict, cases: pd.DataFrame) -> tuple[pd.Series, pd.DataFrame]:
    """Liters of oxygen of every case; mL of liquid inhalant and kg of CO2 equivalent of those with an inhalant."""
    steps = [valid[name].set_index(["case", "s"]).value.rename(name) for name in GASES]
    steps = pd.concat(steps, axis=1).sort_index().groupby(level="case").ffill().reset_index()
    until = steps.groupby("case").s.shift(-1).fillna(np.inf)
    dialed = steps[steps.vaporizer_setting > 0].groupby("case").s.min().reindex(cases.index)
    oxygen_from = first_known(cases.preoxygenation_start_at_s, cases.vaporizer_on_at_s, cases.start)
    flow = steps.o2_flow + steps.air_flow.fillna(0) + steps.n2o_flow.fillna(0)
    vapor = flow * 1000 * steps.vaporizer_setting / 100
    used = []
    for rate, begin, finish in (
        (steps.o2_flow, oxygen_from, first_known(cases.extubation_at_s, cases.end)),
        (vapor, cases.vaporizer_on_at_s.fillna(dialed), cases.vaporizer_off_at_s.fillna(cases.end)),
    ):
        begin, finish = begin.to_numpy()[steps.case], finish.to_numpy()[steps.case]
        lasted = np.minimum(until, finish) - np.maximum(steps.s, begin)
        amount = (rate * lasted / 60).where(lasted > 0)
        used.append(amount.groupby(steps.case).sum(min_count=1).reindex(cases.index))
    agents = pd.DataFrame(told.AGENTS).T.reindex(cases.agent).reset_index(drop=True)
    liquid = used[1] / agents.vapor_ml_per_liquid_ml.astype(float)
    co2e = liquid * agents.density_g_ml.astype(float) * agents.gwp100.astype(float) / 1000
    inhaled = pd.DataFrame({"level": cases.agent, "month": cases.month, "agent_liquid_ml": liquid, "co2e_kg": co2e})
    return used[0], inhaled[cases.agent.isin(told.AGENTS) & cases.start.notna()]


def drug_doses(drugs: pd.DataFrame, cases: pd.DataFrame, given: told.Clinic) -> pd.DataFrame:
    """Every dose in mg, mL and packs, with its drug and month."""
    moments = (
        drugs[["case", "drug", "given_at_s"]].dropna().drop_duplicates().sort_values(["case", "drug", "given_at_s"])
    )
    moments["next_s"] = moments.groupby(["case", "drug"]).given_at_s.shift(-1)
    rows = drugs.merge(moments, how="left", on=["case", "drug", "given_at_s"])
    hours = (rows.stopped_at_s.fillna(rows.next_s) - rows.given_at_s) / 3600
    hours = hours.where((rows.kind == "infusion") & (hours >= 0))
    unit, weight = rows.amount_unit, cases.weight.to_numpy()[rows.case]
    bolus_weight = np.where(rows.kind == "bolus", weight, np.nan)
    factors = {"mg": 1, "mcg": 1 / 1000, "mg/kg": bolus_weight, "mcg/kg": bolus_weight / 1000, "mg/h": hours,
               "mg/kg/h": weight * hours, "mcg/kg/h": weight * hours / 1000,
               "mcg/kg/min": weight * hours * 60 / 1000}  # fmt: skip
    mg = rows.amount * np.select([unit == name for name in factors], list(factors.values()), np.nan)
    ml = rows.amount * np.select([unit == "mL", unit == "mL/h"], [1, hours], np.nan)
    strength = rows.concentration_mg_ml.fillna(rows.drug.map(given.strengths))
    packs = rows.drug.map(given.packs)
    found = pd.DataFrame({"level": rows.drug, "drug_mg": mg.fillna(ml * strength), "drug_ml": ml.fillna(mg / strength)})
    found["drug_packs"], found["drug_wasted_ml"] = found.drug_ml / packs, rows.wasted_ml
    own = rows.given_at.dt.year * 12 + rows.given_at.dt.month - 1
    found["month"] = pd.Series(cases.month.to_numpy()[rows.case]).fillna(own)
    return found


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
