"""Times to a stage: one Kaplan-Meier curve a measure and group, and one log-rank test a grouping."""

import numpy as np
import pandas as pd

from pipeline.measures.catalogue import measures
from pipeline.statistics.survival import kaplan_meier, log_rank

GROUP = ["period", "by", "level"]


def times_to_event(db, groups: pd.DataFrame) -> pd.DataFrame:
    """Rows of `results` for the quantiles of every time to an event; low and high for the median only."""
    curves = []
    for at, minutes, seen in _samples(db, "TRUE"):
        curve = kaplan_meier(minutes, seen)
        low, high = curve.median_interval()
        quartiles = [curve.quantile(share) for share in (0.25, 0.5, 0.75)]
        curves.append((*at, curve.seen, curve.entered, *quartiles, low, high))
    columns = ["base", *GROUP, "numerator", "denominator", 0.25, 0.5, 0.75, "low", "high"]
    curves = pd.DataFrame(curves, columns=columns)
    wanted = pd.DataFrame(measures("time_to_event"))
    rows = wanted.merge(groups, how="cross").merge(curves, how="left", on=["base", *GROUP])
    rows = rows.fillna({"numerator": 0, "denominator": 0})
    value = np.select([rows["quantile"] == share for share in (0.25, 0.5, 0.75)],
                      [rows[share].astype(float) for share in (0.25, 0.5, 0.75)])  # fmt: skip
    median = rows["quantile"] == 0.5
    return rows.assign(
        value=value,
        low=rows["low"].astype(float).where(median),
        high=rows["high"].astype(float).where(median),
        not_assessable=rows["n"] - rows["denominator"],
    )


def log_ranks(db, groups: pd.DataFrame) -> pd.DataFrame:
    """One test over all known levels of a grouping, for the last 12 months and for all; by names the grouping,
    level is 'all'. value: p before any adjustment; Holm's is made over the tests that a page shows."""
    cases = groups[groups["by"] == "all"].set_index("period")["n"]
    units: dict[tuple, list] = {}
    for (measure, period, by, level), minutes, seen in _samples(db, "report_periods.kind <> 'month'"):
        if by not in ("all", "technique") and "not recorded" not in level:
            units.setdefault((measure, period, by), []).append((minutes, seen))
    tested = []
    for (measure, period, by), samples in units.items():
        test = log_rank(samples) if len(samples) > 1 else None
        entered = sum(len(minutes) for minutes, _ in samples)
        tested.append((f"{measure}_log_rank", period, by, "all", cases[period], test.chi2 if test else np.nan,
                       test.p if test else np.nan, cases[period] - entered))  # fmt: skip
    columns = ["measure", *GROUP, "n", "numerator", "value", "not_assessable"]
    return pd.DataFrame(tested, columns=columns).assign(kind="log_rank", unit="")


def _samples(db, which: str):
    """((measure, period, by, level), minutes, seen) of every curve, for the periods that match."""
    found = db.sql(f"""
        SELECT measure, period, by_column, level_text,
            array_agg(minutes ORDER BY minutes, seen DESC), array_agg(seen ORDER BY minutes, seen DESC),
            array_agg(cases ORDER BY minutes, seen DESC)
        FROM stage_counts JOIN report_periods USING (period)
        WHERE {which}
        GROUP BY ALL ORDER BY ALL
    """).to_arrow_table()
    keys = zip(*(found.column(place).to_pylist() for place in range(4)), strict=True)
    minutes, seen, cases = (found.column(place).combine_chunks() for place in (4, 5, 6))
    starts = minutes.offsets.to_numpy()
    minutes, seen, cases = (column.values.to_numpy() for column in (minutes, seen, cases))
    for key, begin, end in zip(keys, starts[:-1], starts[1:], strict=True):
        times = cases[begin:end]
        yield key, np.repeat(minutes[begin:end], times), np.repeat(seen[begin:end], times)
