"""The rows of `results` as a careful analyst would compute them with polars from the same exports.

    python tests/benchmarks/rival_polars.py CLINIC OUT.parquet

For the benchmark only (`pip install polars`): long vitals without faults, no accounts, no checks, no pages. A case is
named by its position in `cases`; what is known of each case stands in columns beside it.
"""

import sys
from pathlib import Path

import polars as pl
import rival_definitions as told
from rival_polars_readings import (
    GASES,
    beside,
    joined,
    latest_of,
    month_of,
    read,
    read_vitals,
    valid_readings,
    with_windows,
)
from rival_polars_rows import case_rows, own_month_rows

col, first_known = pl.col, pl.coalesce


def main(folder: Path, out: Path) -> None:
    given = told.clinic(folder)
    tables = {name: read(given, name) for name in ("cases", "case_people", "drugs", "events", "equipment", "stock")}
    cases = tables["cases"].unique("case_id", keep="last", maintain_order=True).with_row_index("case")
    ids = pl.Enum(cases["case_id"])
    for name in ("drugs", "events"):
        tables[name] = tables[name].with_columns(case=col("case_id").cast(ids).to_physical())
    raw, last = read_vitals(given, ids)
    latest = max(last["last_reading"].max(), *(latest_of(table) for table in tables.values()))
    cases = with_windows(cases, raw, last)
    valid = valid_readings(raw, cases)
    amounts, ratios = ["anesthesia_minutes"], []
    for parameter, measures in told.MEASURES_OF.items():
        cases = with_exposures(cases, held(valid[parameter], cases), measures, parameter)
    for measure in told.EXPOSURES:
        amounts += [f"{measure}_minutes", f"{measure}_area"]
        ratios.append(f"{measure}_time_share")
    cases = with_charting_gap(cases, raw["heart_rate"])
    cases = with_temperatures(cases, valid["temperature"])
    cases = with_complications(cases, tables["events"], given)
    cases = with_deaths(cases, tables["events"], given, latest)
    cases, stages = with_recovery(cases, tables["drugs"], given)
    cases = with_gases(cases, valid)
    shares = [name for name in cases.columns if name.startswith("has_")]
    rows = case_rows(cases, shares, amounts, ratios, ["minutes_to_hypothermia", "minutes_to_rewarm", *stages])
    rows += own_month_rows(cases, drug_doses(tables["drugs"], cases, given), tables["equipment"])
    pl.concat(rows, how="diagonal_relaxed").select(told.COLUMNS).write_parquet(out)


def held(rows: pl.DataFrame, cases: pl.DataFrame) -> pl.DataFrame:
    """Readings from start to end with the seconds each stands for and the number of its stretch."""
    same_before, same_after = (col("case") == col("case").shift(step) for step in (1, -1))
    until = pl.when(same_after).then(pl.min_horizontal(col("s").shift(-1), "end")).otherwise("end")
    unbroken = same_before & (col("s") - col("s").shift(1) <= told.HOLD_MAX)
    return (
        beside(rows, cases, "start", "end", "window", "species", "weight")
        .lazy()
        .filter(col("window").is_not_null() & col("s").is_between("start", "end"))
        .with_columns(
            hold=pl.min_horizontal(until - col("s"), told.HOLD_MAX),
            stretch=(~unbroken.fill_null(False)).cum_sum(),
            place=pl.int_range(pl.len()),
        )
        .collect()
    )


def with_exposures(cases: pl.DataFrame, rows: pl.DataFrame, measures, parameter: str) -> pl.DataFrame:
    """Adds has, minutes, area, time beyond and observed of every measure of this parameter, null where not
    assessable or already known from a parameter of a better rank."""
    stretches = rows.lazy().group_by("stretch").agg(col("case").first(), n=pl.len(), s=col("hold").sum())
    enough = col("s").filter(col("n") >= told.MIN_READINGS).sum()
    cases = joined(cases, stretches.group_by("case").agg(covered=enough, observed=col("s").sum()).collect())
    assessable = (col("covered") >= told.MIN_COVERAGE * col("window")) & (col("window") >= told.SUSTAIN)
    frames = pl.collect_all([past_limit(rows.lazy(), measure, parameter) for measure in measures])
    for measure, found in zip(measures, frames, strict=True):
        limited = ours(measure, parameter, pl.lit(True))
        facts = {
            f"has_{measure}": col("has").fill_null(0),
            f"{measure}_minutes": col("beyond").fill_null(0) / 60,
            f"{measure}_area": col("area").fill_null(0) / 60,
            f"{measure}_time_share_top": col("beyond").fill_null(0) / 60,
            f"{measure}_time_share_bottom": col("observed") / 60,
        }
        facts = {name: pl.when(assessable & limited).then(value) for name, value in facts.items()}
        facts = {name: first_known(name, value) if name in cases.columns else value for name, value in facts.items()}
        cases = joined(cases, found).with_columns(**facts).drop("has", "beyond", "area")
    return cases.drop("covered", "observed")


def ours(measure: str, parameter: str, value) -> pl.Expr:
    """Value where a limit of the measure is for the animal; value(row) or an expression."""
    chosen = []
    for row in told.LIMITS:
        if (row["measure"], row["parameter"]) == (measure, parameter):
            here = col("species") == row["species"]
            if row["over_kg"] is not None:
                here &= (col("weight") > row["over_kg"]) & (col("weight") <= row["upto_kg"])
            chosen.append(pl.when(here).then(value(row) if callable(value) else value))
    return pl.coalesce(chosen)


def past_limit(rows: pl.LazyFrame, measure: str, parameter: str) -> pl.LazyFrame:
    """has, seconds beyond and area of every case with a reading past its limit."""

    def past(row: dict) -> pl.Expr:
        rules = {"above": col("value").gt, "below": col("value").lt, "at_most": col("value").le}
        return pl.all_horizontal(rule(row[side]) for side, rule in rules.items() if row[side] is not None)

    depth = (col("value") - ours(measure, parameter, lambda row: pl.lit(row["depth_from"]))).abs()
    return (
        rows.filter(ours(measure, parameter, past))
        .with_columns(depth=depth, episode=pl.struct("stretch", col("place") - pl.int_range(pl.len())).rle_id())
        .group_by("episode")
        .agg(
            col("case").first(), s=col("hold").sum(), n=(col("hold") > 0).sum(), area=(col("depth") * col("hold")).sum()
        )
        .group_by("case")
        .agg(
            has=((col("n") >= told.MIN_READINGS) & (col("s") >= told.SUSTAIN)).any().cast(pl.Int64),
            beyond=col("s").sum(),
            area=col("area").sum(),
        )
    )


def with_charting_gap(cases: pl.DataFrame, beats: pl.DataFrame) -> pl.DataFrame:
    inside = beside(beats, cases, "start", "end").lazy().filter(col("s").is_between("start", "end"))
    times = inside.with_columns(gap=col("s").diff().over("case")).group_by("case")
    times = times.agg(inner=col("gap").max(), first=col("s").min(), last=col("s").max()).collect()
    longest = pl.max_horizontal("inner", col("first") - col("start"), col("end") - col("last"))
    has = (first_known(longest, "window") > told.CHARTING_GAP).cast(pl.Int64)
    cases = joined(cases, times).with_columns(has_charting_gap=pl.when(col("window") > told.CHARTING_GAP).then(has))
    return cases.drop("inner", "first", "last")


def with_temperatures(cases: pl.DataFrame, rows: pl.DataFrame) -> pl.DataFrame:
    """Adds the bands, and minutes to hypothermia and to rewarming with whether they were seen."""
    judged = col("window").is_not_null() & col("species").is_in([row["species"] for row in told.BANDS])
    whole = (col("s") >= col("start")) & (col("s") <= col("recovery_end"))
    asleep, after = whole & (col("s") <= col("end")), col("s") > col("end")
    value, cold = col("value"), col("value") < told.COLD
    found = (
        beside(rows, cases, "window", "species", "start", "end", "recovery_end")
        .lazy()
        .filter(judged)
        .group_by("case")
        .agg(
            lowest=value.filter(whole).min(),
            highest=value.filter(whole).max(),
            at_end=value.filter(asleep).last(),
            cold_s=col("s").filter(whole & cold).min(),
            last_s=col("s").filter(whole).max(),
            warm_s=col("s").filter(after & ~cold).min(),
            last_after_s=col("s").filter(after).max(),
        )
        .collect()
    )
    cases = joined(cases, found)
    bands: dict[str, list] = {}
    for row in told.BANDS:
        for name, read_as in ((row["measure"], row["reading"]), (f"{row['measure']}_at_end", "at_end")):
            rules = {"at_least": col(read_as).ge, "below": col(read_as).lt, "at_most": col(read_as).le,
                     "above": col(read_as).gt}  # fmt: skip
            has = pl.all_horizontal(rule(row[side]) for side, rule in rules.items() if row[side] is not None)
            bands.setdefault(f"has_{name}", []).append(
                pl.when(col("species") == row["species"]).then(has.cast(pl.Int64))
            )
    return cases.with_columns(
        **{name: pl.coalesce(some) for name, some in bands.items()},
        minutes_to_hypothermia=(first_known("cold_s", "last_s") - col("start")) / 60,
        minutes_to_hypothermia_seen=col("cold_s").is_not_null(),
        minutes_to_rewarm=pl.when(col("at_end") < told.COLD).then(
            (first_known("warm_s", "last_after_s") - col("end")) / 60
        ),
        minutes_to_rewarm_seen=col("warm_s").is_not_null(),
    )


def with_complications(cases: pl.DataFrame, events: pl.DataFrame, given: told.Clinic) -> pl.DataFrame:
    site = col("site").fill_null("")
    charting = cases.filter(col("case").is_in(events["case"].implode())).select(site)["site"]
    charts = site.is_in(charting.unique().implode()) | given.recorded
    if given.recorded_from:
        charts &= col("start_at").dt.date() >= pl.lit(given.recorded_from).str.to_date()
    events = beside(events, cases, "start", "end")
    within = first_known(col("occurred_at_s").is_between("start", "end"), col("occurred_at_s").is_null())
    noted = {f"noted_{name}": ((col("event") == name) & within).any() for name in told.AGREEMENT}
    kinds = {f"event_{name}": (col("event") == name).any() for name in told.EVENTS}
    found = events.group_by("case").agg(**kinds, **noted, any_event=col("event").is_in(told.EVENTS).any())
    cases = joined(cases, found).with_columns(pl.selectors.by_name(*found.columns[1:]).fill_null(False).cast(pl.Int64))
    named = {"has_complication": "any_event"} | {f"has_complication_{name}": f"event_{name}" for name in told.EVENTS}
    cases = cases.with_columns(**{name: pl.when(charts).then(col(source)) for name, source in named.items()})
    agreed = {}
    for name in told.AGREEMENT:
        seen, noted = pl.when(charts & col("window").is_not_null()).then(f"has_{name}"), col(f"noted_{name}")
        agreed[f"has_agreement_{name}_both"] = seen * noted
        agreed[f"has_agreement_{name}_detected_only"] = seen * (1 - noted)
        agreed[f"has_agreement_{name}_charted_only"] = (1 - seen) * noted
    return cases.with_columns(**agreed)


def with_deaths(cases: pl.DataFrame, events: pl.DataFrame, given: told.Clinic, latest: int) -> pl.DataFrame:
    fatal = (
        events.filter(col("event") == "death").group_by("case").agg(fatal=pl.len(), fatal_s=col("occurred_at_s").min())
    )
    until, outcome = col("end") + told.DEATH_WINDOW, col("outcome_at_s")
    euthanised = col("outcome").eq_missing(pl.lit("euthanised"))
    died = ~euthanised & (col("outcome").eq_missing(pl.lit("died")) | col("fatal").is_not_null())
    death = first_known(pl.when(col("outcome") == "died").then(outcome), "fatal_s")
    otherwise = pl.lit(0 if given.assume_alive else None, pl.Int64)
    death_48h = (
        pl.when(col("window").is_null()).then(None)
        .when(euthanised & (outcome > until).fill_null(False).not_()).then(None)
        .when(euthanised).then(0)
        .when(died & death.is_null()).then(1)
        .when(died & (death < col("start"))).then(None)
        .when(died).then((death <= until).cast(pl.Int64))
        .when(pl.max_horizontal("followed_until_s", outcome) >= until).then(0)
        .when(col("start") > latest - told.DEATH_WINDOW).then(None)
        .otherwise(otherwise)
    )  # fmt: skip
    by_then = outcome.is_null() | (col("window").is_not_null() & (outcome <= until)).fill_null(False)
    return joined(cases, fatal).with_columns(
        has_death_48h=death_48h, has_euthanasia_48h=(euthanised & by_then).cast(pl.Int64)
    )


def with_recovery(cases: pl.DataFrame, drugs: pl.DataFrame, given: told.Clinic) -> tuple[pl.DataFrame, list[str]]:
    slept = drugs.filter(
        (col("kind") == "infusion") & (col("phase") == "maintenance") & col("drug").is_in(given.hypnotics)
    )
    cases = joined(cases, slept.group_by("case").agg(slept_s=col("stopped_at_s").max())).with_columns(
        origin=pl.when(col("agent") == "none")
        .then("slept_s")
        .when(col("agent").is_not_null())
        .then("vaporizer_off_at_s")
    )
    gone = col("outcome").is_in(["died", "euthanised"]) & (col("outcome_at_s") <= col("end") + told.DEATH_WINDOW)
    left = col("outcome").eq_missing(pl.lit("alive")) | col("recovery_end_at_s").is_not_null()
    lost = (
        pl.when(gone.fill_null(False))
        .then("outcome_at_s")
        .when(col("last_reading") > col("origin"))
        .then("last_reading")
    )
    times, found = [col(f"{name}_s") for name in told.STAGES.values()], {}
    for place, measure in enumerate(told.STAGES):
        passed = pl.any_horizontal(left, *(later.is_not_null() for later in times[place + 1 :]))
        at = first_known(times[place], pl.when(~passed).then(lost))
        if measure == "to_extubation":
            at = pl.when(col("airway") == "tracheal_tube").then(at)
        found[measure] = pl.when(at >= col("origin")).then((at - col("origin")) / 60)
        found[f"{measure}_seen"] = times[place].is_not_null()
    minutes, seen = col("to_sternal"), col("to_sternal_seen")
    prolonged = ((minutes > told.PROLONGED) | ~seen).cast(pl.Int64)
    cases = cases.with_columns(**found).with_columns(
        has_prolonged_recovery=pl.when(minutes.is_not_null() & (seen | (minutes >= told.PROLONGED))).then(prolonged)
    )
    return cases, list(told.STAGES)


def with_gases(cases: pl.DataFrame, valid: dict) -> pl.DataFrame:
    """Adds oxygen_l, and agent_liquid_ml and co2e_kg of cases with an inhalant."""
    rows = pl.concat(valid[name].lazy().with_columns(setting=pl.lit(name)) for name in GASES)
    of = {name: col("value").filter(col("setting") == name).max() for name in GASES}
    steps = rows.group_by("case", "s").agg(**of).sort("case", "s")
    steps = steps.with_columns(*(col(name).forward_fill().over("case") for name in GASES),
                               until=col("s").shift(-1).over("case").fill_null(2**60)).collect()  # fmt: skip
    dialed = steps.filter(col("vaporizer_setting") > 0).group_by("case").agg(dialed_s=col("s").min())
    cases = joined(cases, dialed).with_columns(
        oxygen_from=first_known("preoxygenation_start_at_s", "vaporizer_on_at_s", "start"),
        oxygen_to=first_known("extubation_at_s", "end"),
        agent_from=first_known("vaporizer_on_at_s", "dialed_s"),
        agent_to=first_known("vaporizer_off_at_s", "end"),
    )
    flow = col("o2_flow") + col("air_flow").fill_null(0) + col("n2o_flow").fill_null(0)
    used = {}
    for name, rate in (("oxygen", col("o2_flow")), ("agent", flow * 1000 * col("vaporizer_setting") / 100)):
        lasted = pl.min_horizontal("until", f"{name}_to") - pl.max_horizontal("s", f"{name}_from")
        bounded = col(f"{name}_to").is_not_null() & col(f"{name}_from").is_not_null()
        amount = pl.when(bounded & (lasted > 0)).then(rate * lasted / 60)
        used[f"{name}_used"] = pl.when(amount.count() > 0).then(amount.sum())
    spans = beside(steps, cases, "oxygen_from", "oxygen_to", "agent_from", "agent_to")
    cases = joined(cases, spans.lazy().group_by("case").agg(**used).collect())
    agents = pl.DataFrame(list(told.AGENTS.values())).drop("source")
    cases = cases.join(agents, on="agent", how="left", maintain_order="left")
    liquid = col("agent_used") / col("vapor_ml_per_liquid_ml")
    return cases.with_columns(
        oxygen_l=col("oxygen_used"),
        agent_liquid_ml=liquid,
        co2e_kg=liquid * col("density_g_ml") * col("gwp100") / 1000,
    )


def drug_doses(drugs: pl.DataFrame, cases: pl.DataFrame, given: told.Clinic) -> pl.DataFrame:
    """Every dose in mg, mL and packs, with its drug (level) and month."""
    moments = drugs.select("case", "drug", "given_at_s").drop_nulls().unique().sort("case", "drug", "given_at_s")
    moments = moments.with_columns(next_s=col("given_at_s").shift(-1).over("case", "drug"))
    rows = drugs.join(moments, on=["case", "drug", "given_at_s"], how="left").with_columns(
        own_month=month_of(col("given_at")),
        strength=first_known("concentration_mg_ml", col("drug").replace_strict(given.strengths, default=None)),
        pack=col("drug").replace_strict(given.packs, default=None),
    )
    rows = rows.join(cases.select("case", "weight", "month"), on="case", how="left")
    hours = (first_known("stopped_at_s", "next_s") - col("given_at_s")) / 3600
    hours = pl.when((col("kind") == "infusion") & (hours >= 0)).then(hours)
    weight, unit = col("weight"), col("amount_unit")
    bolus = pl.when(col("kind") == "bolus").then(weight)
    factors = {"mg": pl.lit(1.0), "mcg": pl.lit(1 / 1000), "mg/kg": bolus, "mcg/kg": bolus / 1000, "mg/h": hours,
               "mg/kg/h": weight * hours, "mcg/kg/h": weight * hours / 1000,
               "mcg/kg/min": weight * hours * 60 / 1000}  # fmt: skip
    mg = col("amount") * pl.coalesce(pl.when(unit == name).then(value) for name, value in factors.items())
    ml = col("amount") * pl.coalesce(pl.when(unit == "mL").then(1.0), pl.when(unit == "mL/h").then(hours))
    return rows.with_columns(mg=mg, ml=ml).select(
        level="drug",
        month=first_known("month", "own_month"),
        drug_mg=first_known("mg", col("ml") * col("strength")),
        drug_ml=first_known("ml", col("mg") / col("strength")),
        drug_packs=first_known("ml", col("mg") / col("strength")) / col("pack"),
        drug_wasted_ml="wasted_ml",
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
