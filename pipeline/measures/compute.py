"""Counts of the SQL models -> rows of `results`, with intervals, curves and tests."""

import numpy as np
import pandas as pd
import pyarrow

from pipeline import database
from pipeline.measures.blocks import Groups, Samples, block, joined, matrices
from pipeline.measures.case_mix import observed_expected
from pipeline.measures.catalogue import BY_ASA, METHODS, PARTIAL, measures
from pipeline.measures.durations import log_rank_measures, log_ranks, times_of, times_to_event
from pipeline.measures.many import quartiles
from pipeline.measures.many import trends as trends_of
from pipeline.measures.periods import only_stale_periods, remember_periods, write_periods
from pipeline.models import kept
from pipeline.models.build import build_models, models_of
from pipeline.settings import Settings
from pipeline.statistics.proportions import wilson

NUMBERS = ["numerator", "denominator", "value", "low", "high", "not_assessable"]
CLASSES = ("1", "2", "3", "4", "5")
RESULTS_LAYER = "40_results"

# Kinds of measures of which every group has a row; their rows are computed by period.
GROUPED = ("share", "median", "quartile", "ratio", "trend", "time_to_event")

# Half up at the ninth decimal; a sum in another order must not show.
ROUNDED = ", ".join(f"floor({name} * 1e9 + 0.5) / 1e9 AS {name}" for name in NUMBERS[:-1])


def compute(db, settings: Settings, month: str | None = None, progress=None) -> str | None:
    """Writes `results` from the case-level models. month: the report month, YYYY-MM; returns the one used.

    Counts of layer 40 are needed no longer than this takes: temporary tables. Raises SettingsFault for a month
    without records.
    """
    report_month = write_periods(db, settings, month)
    models = models_of(RESULTS_LAYER)
    by_period = kept.built(models, "by period")
    with only_stale_periods(db, settings):
        build_models(db, by_period, progress, "TEMP ")
    build_models(db, {name: model for name, model in models.items() if name not in by_period}, progress, "TEMP ")
    assemble(db)
    remember_periods(db, settings)
    return report_month


def assemble(db) -> None:
    """Writes `results` from the counts of layer 40 and report_periods, wherever they were computed.

    Rows of groups stay where they stand for a period that layer 40 did not count again.
    """
    groups = Groups(db)
    times = times_of(db, groups)
    grouped = [
        shares(db, groups),
        quantiles(db, groups),
        ratios(db, groups),
        trends(db, groups),
        times_to_event(times, groups),
    ]
    listed = [leak_shares(db), totals(db), log_ranks(times, groups), observed_expected(db)]
    _write(db, joined(grouped, ["place", "group_no", *NUMBERS]), pd.concat(listed, ignore_index=True))


def shares(db, groups: Groups) -> dict[str, np.ndarray]:
    wanted = measures("share")
    names = [measure.measure for measure in wanted]
    known, having = matrices(db, "share_counts", ("assessable", "having_it"), names, groups)
    return block(wanted, groups, **_with_wilson(groups.n, having, known))


def leak_shares(db) -> pd.DataFrame:
    counts = db.execute("""
        SELECT period, by_column AS "by", level_text AS level, n, assessable, having_it
        FROM leak_tests
        UNION ALL
        SELECT period, 'all', 'all', 0, 0, 0 FROM report_periods
        WHERE period NOT IN (SELECT period FROM leak_tests WHERE by_column = 'all')
    """).df()
    having, known = (counts.pop(name).to_numpy(float) for name in ("having_it", "assessable"))
    counts = counts.assign(**_with_wilson(counts["n"].to_numpy(), having, known))
    return pd.DataFrame(measures("leak_share")).merge(counts, how="cross")


def _with_wilson(n: np.ndarray, having: np.ndarray, known: np.ndarray) -> dict[str, np.ndarray]:
    interval = wilson(having, known)
    return {
        "numerator": having,
        "denominator": known,
        "value": np.where(known > 0, having / np.where(known > 0, known, 1), np.nan),
        "low": interval.low,
        "high": interval.high,
        "not_assessable": n - known,
    }


def quantiles(db, groups: Groups) -> dict[str, np.ndarray]:
    wanted = measures("median", "quartile")
    bases = sorted({measure.base for measure in wanted})
    amounts = Samples(db, "amount_counts", "amount", ("cases",), bases, groups)
    (cases,) = amounts.counts
    rows = [bases.index(measure.base) for measure in wanted]
    known = amounts.matrix(np.diff(np.concatenate([[0], np.cumsum(cases)])[amounts.starts]), groups, 0.0)[rows]
    found = [amounts.matrix(one, groups, np.nan) for one in quartiles(amounts.starts, amounts.value, cases)]
    by_share = dict(zip((0.25, 0.5, 0.75), found, strict=True))
    value = np.stack([by_share[measure.quantile][row] for measure, row in zip(wanted, rows, strict=True)])
    return block(wanted, groups, denominator=known, value=value, not_assessable=groups.n - known)


def ratios(db, groups: Groups) -> dict[str, np.ndarray]:
    wanted = measures("ratio")
    names = [measure.measure for measure in wanted]
    known, top, bottom = matrices(db, "ratio_sums", ("assessable", "top_sum", "bottom_sum"), names, groups)
    value = np.where(bottom > 0, top / np.where(bottom > 0, bottom, 1), np.nan)
    return block(wanted, groups, numerator=top, denominator=bottom, value=value, not_assessable=groups.n - known)


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


def trends(db, groups: Groups) -> dict[str, np.ndarray]:
    """numerator: z; value: p. Groupings by ASA class have none."""
    wanted = measures("trend")
    bases = [measure.base for measure in wanted]
    columns = tuple(
        f"sum(CASE WHEN asa_class = '{one}' THEN {count} ELSE 0 END) AS {count}_{one}"
        for count in ("having_it", "assessable")
        for one in CLASSES
    )
    table = f"(SELECT measure, group_no, {', '.join(columns)} FROM trend_counts GROUP BY measure, group_no)"
    names = tuple(column.rsplit(" ", 1)[1] for column in columns)
    found = np.stack(matrices(db, table, names, bases, groups), axis=-1)
    having, known = found.reshape(-1, 2, len(CLASSES)).swapaxes(0, 1)
    z, p = (one.reshape(len(wanted), len(groups)) for one in trends_of(having, known))
    tested = known.sum(axis=1).reshape(z.shape)
    rows = block(wanted, groups, numerator=z, value=p, not_assessable=groups.n - tested)
    kept = np.tile(~groups.frame["by"].isin(BY_ASA).to_numpy(), len(wanted))
    return {name: column[kept] for name, column in rows.items()}


def _write(db, grouped: pyarrow.Table, listed: pd.DataFrame) -> None:
    """Rounds half up to 9 decimals and writes the rows, those computed together in a fixed order.

    grouped: rows by place of the measure and number of the group; listed: rows with measure, period, by and level
    """
    known = measures()
    others = listed[~listed["measure"].isin({measure.measure for measure in known})]
    others = others.drop_duplicates("measure").sort_values("measure")
    catalogue = pd.DataFrame(
        {
            "place": range(len(known) + len(others)),
            "measure": [measure.measure for measure in known] + list(others["measure"]),
            "unit": [measure.unit for measure in known] + list(others["unit"]),
            "method": [METHODS[kind] for kind in [measure.kind for measure in known] + list(others["kind"])],
        }
    )
    db.register("catalogue", catalogue)
    db.register("grouped", grouped)
    db.register("listed", listed.reindex(columns=["measure", "period", "by", "level", "n", *NUMBERS]))
    numbers = ", ".join(f"CASE WHEN isnan({name}) THEN NULL ELSE {name} END AS {name}" for name in NUMBERS)
    rows = f"""
        WITH numbered AS (
            SELECT place, group_no AS nth, period, by_column AS "by", level_text AS level, n, {numbers}
            FROM grouped JOIN group_counts USING (group_no)
            UNION ALL
            SELECT place, row_number() OVER (ORDER BY ordinal, "by", level) AS nth, period, "by", level, n, {numbers}
            FROM listed JOIN catalogue USING (measure) JOIN report_periods USING (period)
        ), rounded AS (
            SELECT place, nth, period, "by", level, n, {ROUNDED}, not_assessable FROM numbered
        )
        SELECT measure, unit, rounded.period, "by", level, n::BIGINT AS n, numerator, denominator, value, low, high,
            not_assessable::BIGINT AS not_assessable,
            CASE WHEN report_periods.partial THEN method || '{PARTIAL}' ELSE method END AS method
        FROM rounded JOIN catalogue USING (place) JOIN report_periods USING (period)
        WHERE n > 0 OR "by" = 'all'
        ORDER BY place, nth
    """
    in_groups = [measure.measure for measure in known if measure.kind in GROUPED] + log_rank_measures()
    with database.at_once(db):
        db.execute(f"CREATE TABLE IF NOT EXISTS results AS {rows} LIMIT 0")
        db.execute(
            """
            DELETE FROM results
            WHERE NOT list_contains($in_groups, measure) OR period IN (SELECT period FROM group_counts)
                OR period NOT IN (SELECT period FROM report_periods)
            """,
            {"in_groups": in_groups},
        )
        db.execute(f"INSERT INTO results {rows}")
    for name in ("catalogue", "grouped", "listed"):
        db.unregister(name)
