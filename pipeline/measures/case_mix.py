"""Observed against expected for the mix of cases: rows `<measure>_observed_expected` of `results`.

Each complete month is held against the 12 to 24 complete months before it; the 12 months are the sums of theirs.
n: cases; numerator: observed; denominator: expected; value: their ratio; low, high: exact Poisson limits on the
observed count over the expected. By month and over the last 12, for all, by site and by procedure group.
"""

import numpy as np
import pandas as pd

from pipeline.statistics.poisson import observed_over_expected
from pipeline.statistics.standardise import FEWEST_CASES, FEWEST_MONTHS, MERGES, MIX, MOST_MONTHS

KIND = "observed_expected"


def observed_expected(db) -> pd.DataFrame:
    """Rows of `results`; none where fewer than 12 complete months lie before a month."""
    complete = [month for (month,) in db.execute(
        "SELECT month FROM report_months WHERE complete AND cases > 0 ORDER BY month_no").fetchall()]  # fmt: skip
    counts = db.execute("""
        SELECT measure, by_column AS "by", level_text AS level, report_months.month, asa_class, species, emergency,
            mix_counts.cases, events
        FROM mix_counts JOIN report_months USING (month_no) WHERE complete
    """).df()
    for name in MIX:
        counts[name] = pd.factorize(counts[name])[0]
    found = [_held(measure, part, complete) for measure, part in counts.groupby("measure")]
    months = pd.concat(found) if found else pd.DataFrame()
    if months.empty:
        return pd.DataFrame()
    groups = db.execute('SELECT period, by_column AS "by", level_text AS level, n FROM mix_groups').df()
    rows = pd.concat([months, _year(db, months)]).merge(groups, on=["period", "by", "level"])
    ratio = observed_over_expected(rows["observed"].to_numpy(), rows["expected"].to_numpy())
    return rows.assign(
        kind=KIND,
        unit="ratio",
        numerator=rows["observed"],
        denominator=rows["expected"],
        value=ratio[0],
        low=ratio[1],
        high=ratio[2],
        not_assessable=rows["n"] - rows["cases"],
    )


def _held(measure: str, counts: pd.DataFrame, complete: list[str]) -> pd.DataFrame:
    """Observed and expected of every month, grouping and level; one reference a month, the whole clinic's past.

    What `statistics.standardise.expected` does for one month, for all months at once.
    """
    at = counts["month"].map({month: place for place, month in enumerate(complete)})
    counts, at = counts[at.notna()], at.dropna().to_numpy(int)
    from_no = np.maximum(at - MOST_MONTHS, 0)
    everybody = (counts["by"] == "all").to_numpy()
    hoped = np.full(len(counts), np.nan)
    for columns in MERGES:
        cell = counts.groupby(columns).ngroup().to_numpy() if columns else np.zeros(len(counts), int)
        cases, events = (
            _before(at[everybody], cell[everybody], counts[name].to_numpy()[everybody], len(complete), cell)
            for name in ("cases", "events")
        )
        cases, events = (total[at, cell] - total[from_no, cell] for total in (cases, events))
        held = np.isnan(hoped) & (cases >= FEWEST_CASES)
        hoped[held] = counts["cases"].to_numpy()[held] * events[held] / cases[held]
    columns = {"month": "period", "events": "observed"}
    found = counts.assign(expected=hoped)[at >= FEWEST_MONTHS].rename(columns=columns)
    found = found.assign(measure=f"{measure}_{KIND}")
    grain = ["measure", "period", "by", "level"]
    return found.groupby(grain, as_index=False)[["cases", "observed", "expected"]].sum(min_count=1)


def _before(at: np.ndarray, cell: np.ndarray, counts: np.ndarray, months: int, every_cell: np.ndarray) -> np.ndarray:
    """Sums of counts by cell over all months before each month."""
    total = np.zeros((months + 1, every_cell.max() + 1))
    np.add.at(total, (at + 1, cell), counts)
    return total.cumsum(axis=0)


def _year(db, months: pd.DataFrame) -> pd.DataFrame:
    """The 12 months: sums over those of them that have a reference, and only where all complete ones do."""
    period, first, last = db.execute("""
        SELECT period, from_month_no, to_month_no FROM report_periods WHERE kind = 'year'
    """).fetchone()
    inside = [month for (month,) in db.execute(
        "SELECT month FROM report_months WHERE month_no BETWEEN ? AND ? AND complete AND cases > 0", [first, last]
    ).fetchall()]  # fmt: skip
    part = months[months["period"].isin(inside)]
    if part.empty or set(part["period"]) != set(inside):
        return part.head(0)
    sums = part.groupby(["measure", "by", "level"], as_index=False)[["cases", "observed", "expected"]].sum(min_count=1)
    return sums.assign(period=period)
