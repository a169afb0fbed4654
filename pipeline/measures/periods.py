"""The periods of `results`: each month, the 12 ending with the report month, and all.

A month is a number, year x 12 + month - 1, local to the clinic; `month_text` writes it.
"""

from contextlib import contextmanager
from datetime import datetime
from zoneinfo import ZoneInfo

from pipeline import database
from pipeline.errors import SettingsFault
from pipeline.models import kept
from pipeline.settings import Settings

FAR_S = 9_000_000_000_000

MONTHS = {"month_no": "BIGINT", "month": "VARCHAR", "cases": "BIGINT", "quarantined": "BIGINT", "complete": "BOOLEAN"}
PERIODS = {"ordinal": "BIGINT", "period": "VARCHAR", "kind": "VARCHAR", "from_month_no": "BIGINT",
           "to_month_no": "BIGINT", "end_s": "BIGINT", "partial": "BOOLEAN"}  # fmt: skip


def month_text(month_no: int) -> str:
    """
    >>> month_text(2026 * 12 + 9)
    '2026-10'
    """
    return f"{month_no // 12:04d}-{month_no % 12 + 1:02d}"


def month_number(text: str) -> int:
    """Number of a month written YYYY-MM. Raises SettingsFault for anything else.

    >>> month_number("2026-10") == 2026 * 12 + 9
    True
    """
    try:
        month = datetime.strptime(text, "%Y-%m")
    except ValueError as cause:
        raise SettingsFault(
            where="--month", found=repr(text), wanted="a month such as 2026-10", fix="write the year and the month"
        ) from cause
    return month.year * 12 + month.month - 1


def month_end_s(month_no: int, zone: str) -> int:
    """First second after the month, in UTC seconds."""
    after = month_no + 1
    return int(datetime(after // 12, after % 12 + 1, 1, tzinfo=ZoneInfo(zone)).timestamp())


def write_periods(db, settings: Settings, month: str | None) -> str | None:
    """Writes `report_periods` and `report_months`; returns the report month, None without a case.

    report_months(month_no, month, cases, quarantined, complete); report_periods(ordinal, period, kind, from_month_no,
    to_month_no, end_s, partial). The 12 months start no earlier than the first case: rows of machines and stores
    before it stand only in all. Raises SettingsFault for a month without records.
    """
    months = _months(db)
    rows, report = _periods(months, settings, month) if months else ([], None)
    with database.at_once(db):
        database.write_rows(db, "report_months", MONTHS, months)
        database.write_rows(db, "report_periods", PERIODS, rows)
    return report and month_text(report)


def _periods(months: list[tuple], settings: Settings, month: str | None) -> tuple[list[tuple], int]:
    """(rows of report_periods, number of the report month)."""
    numbers = [row[0] for row in months]
    report = _report_month(months, month)
    rows = [
        (number, text, "month", number, number, month_end_s(number, settings.zone), not complete)
        for number, text, _, _, complete in months
    ]
    year = f"{month_text(report - 11)}..{month_text(report)}"
    first = max(report - 11, numbers[0])
    rows.append((numbers[-1] + 1, year, "year", first, report, month_end_s(report, settings.zone), False))
    rows.append((numbers[-1] + 2, "all", "all", numbers[0], numbers[-1], FAR_S, False))
    return rows, report


def _months(db) -> list[tuple]:
    """(month_no, text, cases, quarantined, complete) of every month from the first case to the last.

    Complete: at every site with a case in it (or a quarantined one) the latest case start is in a
    later month and at most the tolerated share of the cases is quarantined.
    """
    return db.execute("""
        WITH loaded AS (
            SELECT site, month_no, cases FROM case_months
        ), set_back AS (
            SELECT coalesce(site, '') AS site, month_no, count(*) AS quarantined
            FROM quarantine WHERE table_name = 'cases' AND month_no IS NOT NULL GROUP BY ALL
        ), latest AS (
            SELECT site, max(month_no) AS month_no FROM loaded GROUP BY site
        ), span AS (
            SELECT min(month_no) AS first_no, max(month_no) AS last_no FROM loaded
        ), sites AS (
            SELECT coalesce(loaded.site, set_back.site) AS site,
                coalesce(loaded.month_no, set_back.month_no) AS month_no,
                coalesce(cases, 0) AS cases, coalesce(quarantined, 0) AS quarantined
            FROM loaded FULL JOIN set_back USING (site, month_no)
        ), judged AS (
            SELECT sites.month_no, sum(cases)::BIGINT AS cases, sum(quarantined)::BIGINT AS quarantined,
                bool_and(coalesce(latest.month_no > sites.month_no, false)
                    AND quarantined <= (SELECT val FROM seed_windows WHERE name = 'quarantine_max_share')
                        * (cases + quarantined)) AS complete
            FROM sites LEFT JOIN latest USING (site) GROUP BY sites.month_no
        )
        SELECT every.month_no, format('{:04d}-{:02d}', every.month_no // 12, every.month_no % 12 + 1),
            coalesce(cases, 0), coalesce(quarantined, 0), coalesce(complete, true)
        FROM span, range(first_no, last_no + 1) AS every(month_no)
        LEFT JOIN judged ON judged.month_no = every.month_no
        WHERE first_no IS NOT NULL
        ORDER BY every.month_no
    """).fetchall()


def _report_month(months: list[tuple], asked: str | None) -> int:
    """The month asked for, else the last complete one, else the last with a case."""
    if asked:
        number = month_number(asked)
        if number not in {row[0] for row in months}:
            raise SettingsFault(
                where="--month",
                found=asked,
                wanted=f"a month from {months[0][1]} to {months[-1][1]}, for which cases are loaded",
                fix="choose one of these, or load the export of that month first",
            )
        return number
    complete = [row[0] for row in months if row[4]]
    return complete[-1] if complete else months[-1][0]


@contextmanager
def only_stale_periods(db, settings: Settings):
    """Puts the periods whose results must be computed again in front of `report_periods`.

    Stale is a month in which a row of a case changed, a period that is new or other than last time, and with any of
    them the 12 months and all; every period where the results were not computed under these settings and this SQL.
    """
    whole = computed_under(db) != kept.fingerprint(settings) or "kept_periods" not in database.tables(db)
    unchanged = "SELECT ''" if whole else "SELECT period FROM (FROM main.report_periods INTERSECT FROM kept_periods)"
    db.execute(f"""
        CREATE TEMP TABLE report_periods AS
        WITH stale AS (
            SELECT period FROM main.report_periods
            WHERE period NOT IN ({unchanged}) OR (kind = 'month' AND from_month_no IN (FROM stale_months))
        )
        SELECT report_periods.* FROM main.report_periods
        WHERE period IN (FROM stale) OR (kind <> 'month' AND EXISTS (FROM stale))
    """)
    if whole:
        db.execute("DROP TABLE IF EXISTS results")
    try:
        yield
    finally:
        db.execute("DROP TABLE temp.report_periods")


def computed_under(db) -> str | None:
    """The fingerprint that the table `results` bears; one that another run put there bears none."""
    row = db.execute("SELECT comment FROM duckdb_tables() WHERE table_name = 'results'").fetchone()
    return row and row[0]


def remember_periods(db, settings: Settings) -> None:
    """After the results stand: the periods they were computed for, and on the table under what."""
    under = kept.fingerprint(settings)
    with database.at_once(db):
        db.execute("CREATE OR REPLACE TABLE kept_periods AS FROM report_periods")
        db.execute("DELETE FROM stale_months")
        db.execute(f"COMMENT ON TABLE results IS '{under}'")
