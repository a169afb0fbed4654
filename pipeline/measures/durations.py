"""Times to a stage: one Kaplan-Meier curve a measure and group, and one log-rank test a grouping."""

import numpy as np
import pandas as pd

from pipeline.measures.blocks import Groups, Samples, block
from pipeline.measures.catalogue import measures
from pipeline.measures.many import curves, log_rank


def stages() -> list[str]:
    """What a time is counted to."""
    return sorted({row.base for row in measures("time_to_event")})


def log_rank_measures() -> list[str]:
    return [f"{stage}_log_rank" for stage in stages()]


def times_of(db, groups: Groups) -> Samples:
    """How long cases were watched, and whether they reached the stage then; counts are cases and seen."""
    return Samples(db, "stage_counts", "minutes", ("cases", "seen"), stages(), groups)


def times_to_event(times: Samples, groups: Groups) -> dict[str, np.ndarray]:
    """Rows of `results` for the quantiles of every time to an event; low and high for the median only."""
    found = curves(times.starts, times.value, *times.counts)

    def matrix(values, missing):
        return times.matrix(values, groups, missing)

    wanted = measures("time_to_event")
    rows = [stages().index(measure.base) for measure in wanted]
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


def log_ranks(times: Samples, groups: Groups) -> pd.DataFrame:
    """One test over all known levels of a grouping, for the last 12 months and for all; by names the grouping,
    level is 'all'. value: p before any adjustment; Holm's is made over the tests that a page shows."""
    wanted = groups.frame
    wanted = wanted[
        (wanted["kind"] != "month")
        & ~wanted["by"].isin(["all", "technique"])
        & ~wanted["level"].str.contains("not recorded", regex=False)
    ]
    cases = groups.frame[groups.frame["by"] == "all"].set_index("period")["n"]
    watched, seen = times.counts
    asked = np.isin(np.arange(len(groups)), wanted.index)
    place = times.measure * len(groups) + times.group
    tested = []
    for (period, by), part in wanted.groupby(["period", "by"]):
        for number, measure in enumerate(stages()):
            ends = number * len(groups) + np.array([part.index[0], part.index[-1] + 1])
            first, after = np.searchsorted(place, ends)  # groups of one period and grouping stand together
            rows = first + np.flatnonzero(asked[times.group[first:after]])
            if len(rows):
                chi2, p = log_rank(times.group[rows], times.value[rows], watched[rows], seen[rows])
                tested.append((f"{measure}_log_rank", period, by, "all", cases[period], chi2, p,
                               cases[period] - watched[rows].sum()))  # fmt: skip
    columns = ["measure", "period", "by", "level", "n", "numerator", "value", "not_assessable"]
    return pd.DataFrame(tested, columns=columns).assign(kind="log_rank", unit="")
