"""Readings and cases of a clinic's exports with polars: read, windows of the cases, valid readings.

A case is named by its position in `cases`; what is known of each case stands in columns beside it.
"""

import polars as pl
import rival_definitions as told

TYPES = {"text": pl.String, "number": pl.Float64, "time": pl.Datetime("us")}
GASES = ("o2_flow", "air_flow", "n2o_flow", "vaporizer_setting")
col, first_known = pl.col, pl.coalesce


def read(given: told.Clinic, table: str) -> pl.DataFrame:
    """All files of a table with X_s, seconds of UTC, beside each time; a row that an overlapping later file holds
    again counts once."""
    kinds = told.kinds(table)
    parts = []
    for path in sorted(given.exports.glob(f"{table}*.csv")):
        rows = pl.read_csv(path, schema_overrides={name: TYPES[kind] for name, kind in kinds.items()})
        parts.append(rows.with_columns(twin=pl.int_range(pl.len()).over(rows.columns)))
    rows = pl.concat(parts).unique(maintain_order=True, keep="first").drop("twin")
    return rows.with_columns(
        clock(name, given.zone).alias(f"{name}_s") for name in rows.columns if kinds[name] == "time"
    )


def clock(name: str, zone: str) -> pl.Expr:
    """Seconds of UTC from local times."""
    return col(name).dt.replace_time_zone(zone, ambiguous="null", non_existent="null").dt.epoch("s")


def latest_of(table: pl.DataFrame) -> int:
    return table.select(pl.max_horizontal(pl.selectors.ends_with("_s").max())).item() or 0


def read_vitals(given: told.Clinic, ids: pl.Enum) -> tuple[dict[str, pl.DataFrame], pl.DataFrame]:
    """{parameter: frame[case, s, value] in order of case and time}; the last reading of each case."""
    types = {"case_id": pl.String, "taken_at": TYPES["time"], "parameter": pl.Categorical, "value": pl.Float64}
    vitals = (
        pl.scan_csv(given.exports / "vitals*.csv", schema=types)
        .filter(col("value").is_not_null())
        .select(
            "parameter",
            col("case_id").cast(ids).to_physical().alias("case"),
            clock("taken_at", given.zone).alias("s"),
            "value",
        )  # fmt: skip
        .collect(engine="streaming")
    )
    last = vitals.group_by("case").agg(last_reading=col("s").max())
    parts = vitals.partition_by("parameter", as_dict=True, include_key=False)
    raw = {key[0]: rows.sort("case", "s") for key, rows in parts.items()}
    for name in (*told.LIMITED, "temperature", *GASES):
        raw.setdefault(name, vitals.clear().drop("parameter"))
    return raw, last


def beside(rows: pl.DataFrame, cases: pl.DataFrame, *names: str) -> pl.DataFrame:
    """Rows with columns of their cases."""
    return rows.hstack(cases.select(names)[rows["case"]])


def joined(cases: pl.DataFrame, found: pl.DataFrame) -> pl.DataFrame:
    return cases.join(found, on="case", how="left", maintain_order="left")


def with_windows(cases: pl.DataFrame, raw: dict, last: pl.DataFrame) -> pl.DataFrame:
    """start, month, end, window, recovery_end, last_reading, weight; seconds of UTC."""
    begun = first_known("induction_at", "intubation_at", "vaporizer_on_at")
    cases = joined(cases, last).with_columns(
        start=first_known("induction_at_s", "intubation_at_s", "vaporizer_on_at_s"),
        start_at=begun,
        month=month_of(begun),
        charted_end=first_known("extubation_at_s", "vaporizer_off_at_s"),
        awake=pl.min_horizontal("sternal_at_s", "standing_at_s", "recovery_end_at_s"),
    )
    open_ = cases.filter(col("charted_end").is_null())["case"]
    inside = (col("s") >= col("start")) & (col("s") <= col("awake").fill_null(2**62))
    some = [rows.filter(col("case").is_in(open_.implode())).select("case", "s") for rows in raw.values()]
    some = beside(pl.concat(some), cases, "start", "awake").filter(inside)
    cases = joined(cases, some.group_by("case").agg(estimated=col("s").max()))
    low, high = (
        pl.coalesce(pl.when(col("species") == row["species"]).then(row[side]) for row in told.BOUNDS
                    if row["parameter"] == "weight_kg")
        for side in ("low", "high")
    )  # fmt: skip
    outside = ((col("weight_kg") < low) | (col("weight_kg") > high)).fill_null(False)
    cases = cases.with_columns(
        end=first_known("charted_end", "estimated"), weight=pl.when(~outside).then("weight_kg")
    ).with_columns(window=pl.when(col("end") > col("start")).then(col("end") - col("start")))
    return cases.with_columns(
        recovery_end=pl.max_horizontal(first_known("recovery_end_at_s", "standing_at_s", "last_reading"), "end"),
        anesthesia_minutes=col("window") / 60,
    )


def month_of(time: pl.Expr) -> pl.Expr:
    return time.dt.year().cast(pl.Int64) * 12 + time.dt.month() - 1


def within_bounds(parameter: str, rows: pl.DataFrame, cases: pl.DataFrame) -> pl.DataFrame:
    of = "agent" if parameter == "vaporizer_setting" else "species"
    known = pl.DataFrame([row for row in told.BOUNDS if row["parameter"] == parameter], infer_schema_length=None)
    if known.is_empty():
        return rows
    limits = cases.select("case", of).join(known.select(of, "low", "high"), on=of, how="left", maintain_order="left")
    outside = ((col("value") < col("low")) | (col("value") > col("high"))).fill_null(False)
    return beside(rows, limits, "low", "high").filter(~outside).select(rows.columns)


def valid_readings(raw: dict, cases: pl.DataFrame) -> dict:
    """Readings inside the bounds of species or dial, without those an artefact rule names."""
    inside = {name: within_bounds(name, rows, cases) for name, rows in raw.items()}
    valid, minute = dict(inside), col("s") // 60

    co2 = raw["etco2"].lazy().with_columns(low=col("value") <= told.DISCONNECTED_MAX, minute=minute)
    short = co2.with_columns(run=pl.struct("case", "low").rle_id()).filter("low")
    short = short.filter(pl.len().over("run") <= told.DISCONNECTED_RUN)
    for name in ("spo2", "heart_rate"):
        beside_it = inside[name].lazy().select("case", minute.alias("minute"), pl.lit(True).alias(name)).unique()
        short = short.join(beside_it, on=["case", "minute"], how="left")
    accompanied = (col("spo2") & col("heart_rate")).fill_null(False)
    off = short.filter(accompanied.all().over("run")).select("case", "s").collect()
    valid["etco2"] = inside["etco2"].join(off, on=["case", "s"], how="anti", maintain_order="left")

    beats = raw["heart_rate"].select("case", "value", minute=minute)
    silent = beats.filter(col("value") == 0).join(beats.filter(col("value") > 0), on=["case", "minute"], how="anti")
    seen = inside["spo2"].with_columns(minute=minute)
    valid["spo2"] = seen.join(silent, on=["case", "minute"], how="anti", maintain_order="left").drop("minute")

    placed = raw["temperature"].filter(col("value") >= told.PLACED_MIN).group_by("case").agg(placed=col("s").min())
    warm = inside["temperature"].join(placed, on="case", how="inner", maintain_order="left")
    valid["temperature"] = warm.filter(col("s") >= col("placed")).drop("placed")
    return valid
