"""The checks' tables: outcomes by run, so that change shows; failing rows and rows set aside of the latest run."""

from pipeline.checks.catalogue import Rule
from pipeline.checks.verdicts import Outcome
from pipeline.lanes import Here

DDL = """
CREATE TABLE IF NOT EXISTS check_runs (
    run_id BIGINT, ran_at TIMESTAMP, rules BIGINT, passed BIGINT, failed BIGINT, not_applicable BIGINT,
    could_not_run BIGINT, seconds DOUBLE
);
CREATE TABLE IF NOT EXISTS check_outcomes (
    run_id BIGINT, rule_id VARCHAR, table_name VARCHAR, level VARCHAR, column_name VARCHAR, severity VARCHAR,
    in_scope BIGINT, judged BIGINT, failed BIGINT, share DOUBLE, tolerated DOUBLE, outcome VARCHAR,
    counted_by VARCHAR, sentence VARCHAR, fix VARCHAR, why VARCHAR, source VARCHAR, reason VARCHAR
);
CREATE OR REPLACE TABLE check_failures (
    rule_id VARCHAR, table_name VARCHAR, file_id BIGINT, name VARCHAR, row BIGINT, case_id VARCHAR,
    column_name VARCHAR, value VARCHAR, sentence VARCHAR, fix VARCHAR, person VARCHAR
);
CREATE OR REPLACE TABLE set_aside_rows (
    table_name VARCHAR, source_file BIGINT, source_row BIGINT, rule_id VARCHAR
);
CREATE OR REPLACE TABLE check_completeness (
    place BIGINT, table_name VARCHAR, column_name VARCHAR, month_no BIGINT, person VARCHAR, in_scope BIGINT,
    filled BIGINT
);
CREATE OR REPLACE {hits} (
    rule_id VARCHAR, source_file BIGINT, source_row BIGINT, case_id VARCHAR, parameter VARCHAR, at_s BIGINT,
    person VARCHAR, found VARCHAR
);
CREATE OR REPLACE {rules} (
    rule_id VARCHAR, place BIGINT, table_name VARCHAR, column_name VARCHAR, sentence VARCHAR, fix VARCHAR
);
"""


def begin(db, rules: list[Rule], shared: str = Here.shared) -> None:
    """Tables to write to, empty but for the earlier runs' outcomes."""
    db.execute(DDL.format(hits=shared.format("TABLE", "check_hits"), rules=shared.format("TABLE", "check_rules")))
    insert(
        db,
        "check_rules",
        [
            (rule.id, place, rule.table, (rule.columns or ("",))[0], rule.sentence, rule.fix)
            for place, rule in enumerate(rules)
        ],
    )


def insert(db, table: str, rows: list[tuple]) -> None:
    """Adds rows by way of Arrow: executemany takes a statement a row, and a statement of all rows is slow to parse."""
    import pyarrow

    if rows:
        columns = [pyarrow.array(values) for values in zip(*rows, strict=True)]
        db.register("rows_to_insert", pyarrow.table(columns, names=[f"c{place}" for place in range(len(columns))]))
        db.execute(f"INSERT INTO {table} FROM rows_to_insert")
        db.unregister("rows_to_insert")


def write_failures(db) -> None:
    """check_hits with file names, sentences and fixes, in the catalogue's order. Where a rule gave a moment of a
    case and parameter, the reading's line stands for it: most are among the doubtful readings, few need a search."""
    db.execute(
        """
        INSERT INTO check_failures
        WITH

        asked AS (
            SELECT DISTINCT
                check_hits.case_id, check_hits.parameter, check_hits.at_s, groups.case_id IS NOT NULL AS near
            FROM check_hits
            LEFT JOIN doubtful_groups AS groups
                ON groups.case_id = check_hits.case_id AND groups.parameter = check_hits.parameter
            WHERE check_hits.at_s IS NOT NULL
        ),

        standing AS (
            SELECT near.case_id, near.parameter, near.taken_at_s, near.taken_at, near.source_file, near.source_row
            FROM doubtful_readings AS near
            INNER JOIN asked
                ON asked.case_id = near.case_id
                AND asked.parameter = near.parameter
                AND asked.at_s = near.taken_at_s
            UNION ALL
            SELECT far.case_id, far.parameter, far.taken_at_s, far.taken_at, far.source_file, far.source_row
            FROM vitals AS far
            INNER JOIN asked
                ON asked.case_id = far.case_id
                AND asked.parameter = far.parameter
                AND asked.at_s = far.taken_at_s
            WHERE NOT asked.near
        ),

        readings AS (
            SELECT
                case_id, parameter, taken_at_s AS at_s, min(source_file) AS file_id, min(source_row) AS row,
                min(taken_at) AS taken_at
            FROM standing
            GROUP BY case_id, parameter, taken_at_s
        ),

        lines AS (
            SELECT
                check_hits.*,
                coalesce(readings.file_id, check_hits.source_file) AS file_id,
                coalesce(readings.row, check_hits.source_row) AS row,
                coalesce(strftime(readings.taken_at, '%Y-%m-%d %H:%M') || ' ', '')
                    || regexp_replace(regexp_replace(check_hits.found, '(\\d)\\.0([^0-9.]|$)', '\\1\\2', 'g'),
                        '( \\d\\d:\\d\\d):00', '\\1', 'g') AS value
            FROM check_hits
            LEFT JOIN readings
                ON readings.case_id = check_hits.case_id
                AND readings.parameter = check_hits.parameter
                AND readings.at_s = check_hits.at_s
        )

        SELECT
            lines.rule_id, check_rules.table_name, lines.file_id, check_files.name, lines.row, lines.case_id,
            check_rules.column_name, lines.value, check_rules.sentence, check_rules.fix, lines.person
        FROM lines
        INNER JOIN check_rules ON check_rules.rule_id = lines.rule_id
        LEFT JOIN check_files ON check_files.file_id = lines.file_id
        ORDER BY check_rules.place, check_files.name, lines.row, lines.case_id, lines.value
        """
    )


def write_outcomes(db, outcomes: list[Outcome], ran_at, seconds: float) -> int:
    """Adds the run. Returns its number."""
    run_id = db.execute("SELECT coalesce(max(run_id), 0) + 1 FROM check_runs").fetchall()[0][0]
    tally = [sum(one.outcome == word for one in outcomes)
             for word in ("passed", "failed", "not_applicable", "could_not_run")]  # fmt: skip
    db.execute(
        "INSERT INTO check_runs VALUES (?, ?, ?, ?, ?, ?, ?, ?)", [run_id, ran_at, len(outcomes), *tally, seconds]
    )
    insert(
        db,
        "check_outcomes",
        [(run_id, *(getattr(one, name) for name in Outcome.__slots__)) for one in outcomes],
    )
    return run_id
