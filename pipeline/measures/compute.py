"""Counts of the SQL models -> rows of `results`, with intervals, curves and tests."""

import numpy as np
import pandas as pd

from pipeline.measures.case_mix import observed_expected
from pipeline.measures.catalogue import BY_ASA, METHODS, PARTIAL, measures
from pipeline.measures.durations import log_ranks, times_to_event
from pipeline.measures.periods import write_periods
from pipeline.models import build_layer
from pipeline.settings import Settings
from pipeline.statistics.proportions import wilson
from pipeline.statistics.trend import cochran_armitage

GROUP = ["period", "by", "level"]
COLUMNS = ["measure", "unit", "period", "by", "level", "n", "numerator", "denominator", "value", "low", "high",
           "not_assessable", "method"]  # fmt: skip
DECIMALS = 1e9
RESULTS_LAYER = "40_results"


def compute(db, settings: Settings, month: str | None = None, progress=None) -> str | None:
    """Writes `results` from the case-level models. month: the report month, YYYY-MM; returns the one used.

    Raises SettingsFault for a month without records.
    """
    report_month = write_periods(db, settings, month)
    build_layer(db, (RESULTS_LAYER,), progress)
    assemble(db)
    return report_month


def assemble(db) -> None:
    """Writes `results` from the counts of layer 40 and report_periods, wherever they were computed."""
    groups = _groups(db)
    found = [
        shares(db, groups),
        leak_shares(db),
        quantiles(db, groups),
        ratios(db, groups),
        totals(db),
        trends(db, groups),
        times_to_event(db, groups),
        log_ranks(db, groups),
        observed_expected(db, groups),
    ]
    results = pd.concat([rows.reindex(columns=COLUMNS[:-1] + ["kind"]) for rows in found], ignore_index=True)
    _write(db, results)


def _groups(db) -> pd.DataFrame:
    """Cases of every period, grouping and level, [period, by, level, n]; by = all also where there are none."""
    return db.execute("""
        SELECT report_periods.period, 'all' AS "by", 'all' AS level, coalesce(group_counts.n, 0) AS n
        FROM report_periods LEFT JOIN group_counts
            ON group_counts.period = report_periods.period AND group_counts.by_column = 'all'
        UNION ALL
        SELECT period, by_column, level_text, n FROM group_counts WHERE by_column <> 'all'
    """).df()


def _each(kinds: tuple[str, ...], groups: pd.DataFrame, counts: pd.DataFrame, base: bool = False) -> pd.DataFrame:
    """Every measure of these kinds in every group, with its counts where there are any."""
    wanted = pd.DataFrame(measures(*kinds))
    wanted["counted"] = wanted["base"] if base else wanted["measure"]
    rows = wanted.merge(groups, how="cross")
    return rows.merge(counts.rename(columns={"measure": "counted"}), how="left", on=["counted", *GROUP])


def shares(db, groups: pd.DataFrame) -> pd.DataFrame:
    counts = db.execute("""
        SELECT measure, period, by_column AS "by", level_text AS level,
            sum(assessable) AS denominator, sum(having_it) AS numerator
        FROM share_counts GROUP BY ALL
    """).df()
    return _with_wilson(_each(("share",), groups, counts).fillna({"denominator": 0, "numerator": 0}))


def leak_shares(db) -> pd.DataFrame:
    counts = db.execute("""
        SELECT period, by_column AS "by", level_text AS level, n, assessable AS denominator, having_it AS numerator
        FROM leak_tests
        UNION ALL
        SELECT period, 'all', 'all', 0, 0, 0 FROM report_periods
        WHERE period NOT IN (SELECT period FROM leak_tests WHERE by_column = 'all')
    """).df()
    return _with_wilson(pd.DataFrame(measures("leak_share")).merge(counts, how="cross"))


def _with_wilson(rows: pd.DataFrame) -> pd.DataFrame:
    known = rows["denominator"].to_numpy(float)
    having = rows["numerator"].to_numpy(float)
    interval = wilson(having, known)
    return rows.assign(
        value=np.where(known > 0, having / np.where(known > 0, known, 1), np.nan),
        low=interval.low,
        high=interval.high,
        not_assessable=rows["n"] - known,
    )


def quantiles(db, groups: pd.DataFrame) -> pd.DataFrame:
    counts = db.execute("""
        SELECT measure, period, by_column AS "by", level_text AS level, assessable AS denominator,
            quartile_1, median, quartile_3
        FROM amount_quantiles
    """).df()
    rows = _each(("median", "quartile"), groups, counts, base=True).fillna({"denominator": 0})
    chosen = {0.25: rows["quartile_1"], 0.5: rows["median"], 0.75: rows["quartile_3"]}
    value = np.select([rows["quantile"] == share for share in chosen], list(chosen.values()))
    return rows.assign(value=value, not_assessable=rows["n"] - rows["denominator"])


def ratios(db, groups: pd.DataFrame) -> pd.DataFrame:
    counts = db.execute("""
        SELECT measure, period, by_column AS "by", level_text AS level, assessable,
            top_sum AS numerator, bottom_sum AS denominator
        FROM ratio_sums
    """).df()
    rows = _each(("ratio",), groups, counts).fillna({"assessable": 0, "numerator": 0, "denominator": 0})
    value = rows["numerator"] / rows["denominator"].where(rows["denominator"] > 0)
    return rows.assign(value=value, not_assessable=rows["n"] - rows["assessable"])


def totals(db) -> pd.DataFrame:
    counts = db.execute("""
        SELECT measure, period, by_column AS "by", level_text AS level, n, known, amount AS numerator
        FROM total_sums
        UNION ALL
        SELECT 'absorbent_hours_since_change', period, 'machine_id', machine_id, n, known, hours_since_change
        FROM absorbent_since_change
        UNION ALL
        SELECT measures.measure, period, 'all', 'all', 0, 0, 0
        FROM report_periods, (VALUES ('oxygen_l'), ('cases'), ('anesthesia_hours')) AS measures(measure)
        WHERE (measures.measure, period) NOT IN (SELECT (measure, period) FROM total_sums WHERE by_column = 'all')
    """).df()
    rows = pd.DataFrame(measures("total", "since_change")).merge(counts, on="measure")
    return rows.assign(value=rows["numerator"], not_assessable=rows["n"] - rows["known"])


def trends(db, groups: pd.DataFrame) -> pd.DataFrame:
    wanted = pd.DataFrame(measures("trend"))
    classes = range(1, 6)
    columns = ", ".join(
        f"sum(CASE WHEN asa_class = '{one}' THEN {count} ELSE 0 END)::BIGINT"
        for count in ("assessable", "having_it")
        for one in classes
    )
    counts = db.execute(
        f"""
        SELECT measure, period, by_column, level_text, {columns} FROM share_counts
        WHERE list_contains($bases, measure) AND NOT list_contains($by_asa, by_column)
        GROUP BY ALL
        """,
        {"bases": list(wanted["base"]), "by_asa": list(BY_ASA)},
    ).fetchall()
    tested = []
    for *at, a1, a2, a3, a4, a5, h1, h2, h3, h4, h5 in counts:
        assessable = (a1, a2, a3, a4, a5)
        trend = cochran_armitage((h1, h2, h3, h4, h5), assessable, classes)
        tested.append((*at, sum(assessable), *(trend or (np.nan, np.nan))))
    tested = pd.DataFrame(tested, columns=["measure", *GROUP, "tested", "numerator", "value"])
    rows = _each(("trend",), groups[~groups["by"].isin(BY_ASA)], tested, base=True).fillna({"tested": 0})
    return rows.assign(not_assessable=rows["n"] - rows["tested"])


def _write(db, results: pd.DataFrame) -> None:
    """Rounds half up to 9 decimals and writes the table, in a fixed order."""
    for column in ("numerator", "denominator", "value", "low", "high"):
        results[column] = np.floor(results[column].astype(float) * DECIMALS + 0.5) / DECIMALS
    results["method"] = results["kind"].map(METHODS)
    order = {measure.measure: place for place, measure in enumerate(measures())}
    results["place"] = results["measure"].map(lambda measure: order.get(measure, len(order)))
    db.register("new_results", results)
    db.execute(f"""
        CREATE OR REPLACE TABLE results AS
        SELECT measure, unit, new_results.period, "by", level, n::BIGINT AS n, numerator::DOUBLE AS numerator,
            denominator::DOUBLE AS denominator, value::DOUBLE AS value, low::DOUBLE AS low, high::DOUBLE AS high,
            not_assessable::BIGINT AS not_assessable,
            CASE WHEN report_periods.partial THEN method || '{PARTIAL}' ELSE method END AS method
        FROM new_results JOIN report_periods USING (period)
        WHERE n > 0 OR "by" = 'all'
        ORDER BY place, measure, ordinal, "by", level
    """)
    db.unregister("new_results")
    for column in ("numerator", "denominator", "value", "low", "high"):
        db.execute(f'UPDATE results SET "{column}" = NULL WHERE isnan("{column}")')
