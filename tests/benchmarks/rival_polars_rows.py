"""From facts of cases to rows of `results` with polars: every grouping and period, counted once by month."""

import polars as pl
import rival_definitions as told

col = pl.col
AT = ["period", "level"]


class Periods:
    """Months by number from the first case's, and which of them make the year; then all."""

    def __init__(self, cases: pl.DataFrame):
        started = cases.filter(col("start").is_not_null())
        self.first, last = started["month"].min(), started["month"].max()
        self.months = last - self.first + 1
        open_ = started.filter(col("month") == col("month").max().over(col("site").fill_null("")))["month"]
        complete = sorted(set(range(self.first, last + 1)) - set(open_))
        report = complete[-1] if complete else last
        self.year = (max(report - 11 - self.first, 0), report - self.first)
        names = [told.month_text(self.first + place) for place in range(self.months)]
        self.names = [*names, f"{told.month_text(report - 11)}..{told.month_text(report)}", "all"]

    def spread(self, rows: pl.LazyFrame) -> pl.LazyFrame:
        """Each row once in its month, once in the year if it is in it, once in all; month counts from the first."""
        return pl.concat([
            rows.filter(col("month").is_between(0, self.months - 1)).with_columns(period=col("month").cast(pl.Int64)),
            rows.filter(col("month").is_between(*self.year)).with_columns(period=pl.lit(self.months, pl.Int64)),
            rows.with_columns(period=pl.lit(self.months + 1, pl.Int64)),
        ])  # fmt: skip


def groups_of(cases: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """{grouping: frame[case, level]}; a case stands once in each of its techniques."""
    started = cases.filter(col("start").is_not_null())
    band = pl.coalesce(
        pl.when((col("weight") > row["over_kg"]) & (col("weight") <= row["upto_kg"])).then(pl.lit(row["band"]))
        for row in told.WEIGHT_BANDS
    )
    levels = {name: col(name) for name in told.CASE_COLUMNS} | {"all": pl.lit("all"), "weight_band": band}
    levels["asa_class x species"] = pl.format(
        "{} x {}", *(col(name).fill_null(told.NO) for name in ("asa_class", "species"))
    )
    groups = {by: started.select("case", level=level.fill_null(told.NO)) for by, level in levels.items()}
    words = started.select("case", level=col("techniques").str.split(";")).explode("level")
    groups["technique"] = words.with_columns(col("level").str.strip_chars().fill_null(told.NO))
    return groups


def case_rows(cases: pl.DataFrame, shares: list, amounts: list, ratios: list, stages: list) -> list[pl.DataFrame]:
    """Every measure of a case, by every grouping."""
    periods, found = Periods(cases), []
    pairs = [f"{name}_{side}" for name in ratios for side in ("top", "bottom")]
    cases = cases.with_columns(col("month") - periods.first, anesthesia_hours=col("window") / 3600)
    wanted = [*shares, *amounts, *pairs, *stages, *(f"{name}_seen" for name in stages), "anesthesia_hours", "oxygen_l"]
    facts = cases.select("case", "month", "asa_class", *wanted)
    for by, levels in groups_of(cases).items():
        rows = levels.hstack(facts.drop("case")[levels["case"]]).lazy()
        grid = grid_of(rows, by, periods)
        found += additive_rows(rows, grid, by, periods, shares, ratios, pairs)
        spread = periods.spread(rows.select("month", "level", *amounts, *stages, *(f"{s}_seen" for s in stages)))
        spread = spread.collect().lazy()
        found += quantile_rows(spread, grid, amounts)
        found += curve_rows(spread, grid, stages)
        if by not in told.BY_ASA:
            found += trend_rows(rows, grid, periods)
    agents = cases.filter(col("agent").is_in(list(told.AGENTS)) & col("start").is_not_null())
    return [*found, *total_rows(agents.select("month", "agent_liquid_ml", "co2e_kg", level="agent"), "agent", periods)]


def grid_of(rows: pl.LazyFrame, by: str, periods: Periods) -> pl.DataFrame:
    """[period (its name), by, level, n] of the groups that have rows; by = all in every period."""
    grid = periods.spread(rows.select("month", "level")).group_by(AT).agg(n=pl.len().cast(pl.Int64)).collect()
    if by == "all":
        every = pl.DataFrame({"period": range(len(periods.names)), "level": "all"})
        grid = every.join(grid, on=AT, how="left").with_columns(col("n").fill_null(0))
    name = pl.lit(pl.Series(periods.names)).gather(col("period"))
    return grid.with_columns(name=name, by=pl.lit(by))


def rows_of(wide: pl.DataFrame, measures: list[str], **columns: list[str]) -> pl.DataFrame:
    """One row a group and measure from a wide frame; columns: {column of results: its wide columns, in order}."""
    at = wide.select(col("name").alias("period"), "by", "level", "n")
    parts = []
    for place, measure in enumerate(measures):
        values = [wide[names[place]].cast(pl.Float64).alias(name) for name, names in columns.items()]
        parts.append(at.with_columns(pl.lit(measure).alias("measure"), *values))
    return pl.concat(parts)


def with_wilson(rows: pl.DataFrame) -> pl.DataFrame:
    low, high = told.wilson(rows["numerator"].to_numpy(), rows["denominator"].to_numpy())
    share = pl.when(col("denominator") > 0).then(col("numerator") / col("denominator"))
    return rows.with_columns(value=share, low=pl.Series(low), high=pl.Series(high))


def additive_rows(rows, grid, by, periods, shares, ratios, pairs) -> list[pl.DataFrame]:
    """Shares, ratios of sums and totals."""
    totals = ["anesthesia_hours", *(["oxygen_l"] if by in told.OXYGEN_BY else [])]
    summed = [*shares, *pairs, *totals]
    sums, known = ([(col(name).sum() if side else col(name).count()).alias(f"{name}|{'sum' if side else 'count'}")
                    for name in summed] for side in (True, False))  # fmt: skip
    months = rows.group_by("month", "level").agg(*sums, *known)
    wide = periods.spread(months).drop("month").group_by(AT).sum().collect()
    wide = grid.join(wide, on=AT, how="left").fill_null(0)
    found = rows_of(wide, [name.removeprefix("has_") for name in shares], numerator=[f"{s}|sum" for s in shares],
                    denominator=[f"{s}|count" for s in shares])  # fmt: skip
    parts = [with_wilson(found)]
    found = rows_of(
        wide, ratios, numerator=[f"{r}_top|sum" for r in ratios], denominator=[f"{r}_bottom|sum" for r in ratios]
    )
    parts.append(found.with_columns(value=pl.when(col("denominator") > 0).then(col("numerator") / col("denominator"))))
    parts.append(rows_of(wide, ["cases"], numerator=["n"], value=["n"]))
    for name in totals:
        known = wide.with_columns(pl.when((col(f"{name}|count") > 0) | (col("n") == 0)).then(f"{name}|sum").alias(name))
        parts.append(rows_of(known, [name], numerator=[name], value=[name]))
    return parts


def quantile_rows(spread: pl.LazyFrame, grid: pl.DataFrame, amounts: list[str]) -> list[pl.DataFrame]:
    wanted = [(name, tail, share) for name in amounts for tail, share in told.QUANTILES.items()
              if tail == "" or name.endswith("_minutes")]  # fmt: skip
    quantiles = [col(name).quantile(share, "linear").alias(f"{name}|{tail}") for name, tail, share in wanted]
    known = [col(name).count().alias(f"{name}|count") for name in amounts]
    wide = grid.join(spread.group_by(AT).agg(*quantiles, *known).collect(), on=AT, how="left")
    wide = wide.with_columns(col(f"{name}|count").fill_null(0) for name in amounts)
    measures, values = [name + tail for name, tail, _ in wanted], [f"{name}|{tail}" for name, tail, _ in wanted]
    return [rows_of(wide, measures, value=values, denominator=[f"{name}|count" for name, _, _ in wanted])]


def curve_rows(spread: pl.LazyFrame, grid: pl.DataFrame, stages: list[str]) -> list[pl.DataFrame]:
    """Kaplan-Meier quantiles of every group and stage at once; events before censorings at a tie."""
    at, key = [], [*AT, "stage"]
    for name in stages:
        at.append(spread.select(*AT, stage=pl.lit(name), minutes=col(name), seen=f"{name}_seen").drop_nulls("minutes"))
    at = (
        pl.concat(at).group_by(*key, "minutes").agg(size=pl.len().cast(pl.Int64), seen=col("seen").sum().cast(pl.Int64))
    )
    at = at.sort(*key, "minutes").collect().lazy()
    entered = at.group_by(key).agg(entered=col("size").sum(), reached=col("seen").sum())
    risk = col("size").sum().over(key) - col("size").cum_sum().over(key) + col("size")
    left = col("risk") - col("seen")
    survival, log = col("survival"), col("survival").log().abs()
    drawn = ((survival > 0) & (survival < 1)).any()
    lower, upper = (
        pl.when(survival > 0).then(survival.pow(power)).otherwise(0) for power in (col("power"), 1 / col("power"))
    )
    times = {
        f"value{tail}": col("minutes").filter(survival <= 1 - share + 1e-9).min()
        for tail, share in told.QUANTILES.items()
    }
    curves = (
        at.with_columns(risk=risk)
        .filter(col("seen") > 0)
        .with_columns(
            survival=(left / col("risk")).cum_prod().over(key),
            greenwood=pl.when(left > 0).then(col("seen") / (col("risk") * left)).otherwise(0).cum_sum().over(key),
        )
        .with_columns(power=(told.Z * col("greenwood").sqrt() / log).exp())
        .group_by(key)
        .agg(
            **times,
            low=pl.when(drawn).then(col("minutes").filter(lower <= 0.5).min()),
            high=pl.when(drawn).then(col("minutes").filter(upper <= 0.5).min()),
        )
    )
    wide = grid.lazy().join(pl.LazyFrame({"stage": stages}), how="cross").join(entered, on=key, how="left")
    wide = wide.join(curves, on=key, how="left").with_columns(col("entered", "reached").fill_null(0)).collect()
    found = []
    for tail in told.QUANTILES:
        band = ["low", "high"] if tail == "" else []
        found.append(
            wide.select("by", "level", "n", pl.format(f"{{}}{tail}", "stage").alias("measure"), period="name",
                        numerator=col("reached").cast(pl.Float64), denominator=col("entered").cast(pl.Float64),
                        value=f"value{tail}", **{name: name for name in band})
        )  # fmt: skip
    return found


def trend_rows(rows: pl.LazyFrame, grid: pl.DataFrame, periods: Periods) -> list[pl.DataFrame]:
    classes = [str(number) for number in range(1, 6)]
    counts = {}
    for name in told.TRENDS:
        for asa in classes:
            some = col(f"has_{name}").filter(col("asa_class") == asa)
            counts[f"{name}|{asa}|known"], counts[f"{name}|{asa}|having"] = some.count(), some.sum()
    wide = periods.spread(rows.group_by("month", "level").agg(**counts)).drop("month").group_by(AT).sum().collect()
    wide = grid.join(wide, on=AT, how="left").fill_null(0)
    for name in told.TRENDS:
        tested = (wide.select(f"{name}|{asa}|{side}" for asa in classes).to_numpy().astype(float)
                  for side in ("known", "having"))  # fmt: skip
        z, p = told.trend(*tested)
        wide = wide.with_columns(pl.Series(f"{name}|z", z), pl.Series(f"{name}|p", p))
    return [rows_of(wide, [f"{name}_asa_trend" for name in told.TRENDS], numerator=[f"{t}|z" for t in told.TRENDS],
                    value=[f"{t}|p" for t in told.TRENDS])]  # fmt: skip


def total_rows(rows: pl.DataFrame, by: str, periods: Periods) -> list[pl.DataFrame]:
    """Sums of the known; month counts from the first."""
    names = [name for name in rows.columns if name not in ("level", "month")]
    grid = grid_of(rows.lazy(), by, periods)
    sums = [pl.when(col(name).count() > 0).then(col(name).sum()).alias(name) for name in names]
    wide = grid.join(periods.spread(rows.lazy()).group_by(AT).agg(*sums).collect(), on=AT, how="left")
    return [rows_of(wide, names, numerator=names, value=names)]


def own_month_rows(cases: pl.DataFrame, doses: pl.DataFrame, equipment: pl.DataFrame) -> list[pl.DataFrame]:
    """Totals by drug, and leak tests: rows of their own months."""
    periods = Periods(cases)
    found = total_rows(doses.with_columns(col("month") - periods.first), "drug", periods)
    flow = pl.when(col("unit").str.to_lowercase() == "ml/min").then("value")
    month = col("at").dt.year().cast(pl.Int64) * 12 + col("at").dt.month() - 1 - periods.first
    tests = equipment.filter(col("action") == "leak_tested")
    tests = tests.select("machine_id", month=month, failed=(flow > told.LEAK_MAX).cast(pl.Int64))
    for by, level in (("all", pl.lit("all")), ("machine_id", col("machine_id"))):
        rows = tests.lazy().with_columns(level=level)
        counts = periods.spread(rows).group_by(AT).agg(having=col("failed").sum(), known=col("failed").count())
        wide = grid_of(rows, by, periods).join(counts.collect(), on=AT, how="left")
        wide = wide.with_columns(col("having", "known").fill_null(0))
        found.append(with_wilson(rows_of(wide, ["leak_test_failed"], numerator=["having"], denominator=["known"])))
    return found
