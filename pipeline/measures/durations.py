"""Times to a stage: one Kaplan-Meier curve a measure and group, and one log-rank test a grouping."""

import numpy as np
import pandas as pd

from pipeline.measures.blocks import Groups, block
from pipeline.measures.catalogue import measures
from pipeline.measures.many import curves, log_rank


def stages() -> list[str]:
    """What a time is counted to."""
    return sorted({row.base for row in measures("time_to_event")})


def log_rank_measures() -> list[str]:
    return [f"{stage}_log_rank" for stage in stages()]


class Times:
    """The counts of stage_counts, sorted by measure, group and time: arrays of equal length."""

    def __init__(self, db):
        self.measures = stages()
        found = db.execute(
            """
            SELECT asked.no, group_no - 1 AS group_no, minutes, cases, seen
            FROM stage_counts JOIN (SELECT unnest($names) AS measure, unnest(range(len($names))) AS no) AS asked
                USING (measure)
            """,
            {"names": self.measures},
        ).fetchnumpy()
        order = np.lexsort((found["minutes"], found["group_no"], found["no"]))
        self.measure, self.group, self.minutes, self.cases, self.seen = (column[order] for column in found.values())
        new = (np.diff(self.measure) != 0) | (np.diff(self.group) != 0)
        edges = [0, *(np.flatnonzero(new) + 1), len(order)] if len(order) else [0]
        self.starts = np.array(edges)


def times_to_event(times: Times, groups: Groups) -> dict[str, np.ndarray]:
    """Rows of `results` for the quantiles of every time to an event; low and high for the median only."""
    found = curves(times.starts, times.minutes, times.cases, times.seen)
    at = times.measure[times.starts[:-1]], times.group[times.starts[:-1]]

    def matrix(values, missing):
        filled = np.full((len(times.measures), len(groups)), missing)
        filled[at] = values
        return filled

    wanted = measures("time_to_event")
    rows = [times.measures.index(measure.base) for measure in wanted]
    quartiles = {
        0.25: matrix(found.quartile_1, np.nan),
        0.5: matrix(found.median, np.nan),
        0.75: matrix(found.quartile_3, np.nan),
    }
    value = np.stack([quartiles[measure.quantile][row] for measure, row in zip(wanted, rows, strict=True)])
    median = np.array([[measure.quantile == 0.5] for measure in wanted])
    entered = matrix(found.entered, 0.0)[rows]
    return block(
        wanted,
        groups,
        numerator=matrix(found.seen, 0.0)[rows],
        denominator=entered,
        value=value,
        low=np.where(median, matrix(found.low, np.nan)[rows], np.nan),
        high=np.where(median, matrix(found.high, np.nan)[rows], np.nan),
        not_assessable=groups.n - entered,
    )


def log_ranks(times: Times, groups: Groups) -> pd.DataFrame:
    """One test over all known levels of a grouping, for the last 12 months and for all; by names the grouping,
    level is 'all'. value: p before any adjustment; Holm's is made over the tests that a page shows."""
    wanted = groups.frame
    wanted = wanted[
        (wanted["kind"] != "month")
        & ~wanted["by"].isin(["all", "technique"])
        & ~wanted["level"].str.contains("not recorded", regex=False)
    ]
    cases = groups.frame[groups.frame["by"] == "all"].set_index("period")["n"]
    tested = []
    for (period, by), part in wanted.groupby(["period", "by"]):
        inside = np.isin(times.group, part.index)
        for number, measure in enumerate(times.measures):
            rows = inside & (times.measure == number)
            if rows.any():
                chi2, p = log_rank(times.group[rows], times.minutes[rows], times.cases[rows], times.seen[rows])
                tested.append((f"{measure}_log_rank", period, by, "all", cases[period], chi2, p,
                               cases[period] - times.cases[rows].sum()))  # fmt: skip
    columns = ["measure", "period", "by", "level", "n", "numerator", "value", "not_assessable"]
    return pd.DataFrame(tested, columns=columns).assign(kind="log_rank", unit="")
