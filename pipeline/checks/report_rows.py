"""What the records report shows, read from the checks' and the loads' tables; nothing is computed twice."""

from pipeline.checks.catalogue import SEVERITIES
from pipeline.checks.inputs import WHOLE_NAME
from pipeline.database import tables

# Counts of a file's rows and their headings.
COUNTS = {
    "lines": "Lines",
    "rows_read": "Rows read",
    "rows_new": "New",
    "rows_unchanged": "Unchanged",
    "rows_replaced": "Replaced",
    "rows_quarantined": "Quarantined",
    "rows_set_aside": "Lines set aside",
}
KEPT_RUNS = 24


def dicts(db, sql: str, *given) -> list[dict]:
    found = db.execute(sql, list(given))
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


def latest_run(db) -> dict | None:
    found = dicts(db, "SELECT * FROM check_runs ORDER BY run_id DESC LIMIT 1")
    return found[0] if found else None


def outcomes(db, run_id: int) -> list[dict]:
    """The run's outcomes, worst first, with what the run before found."""
    return dicts(
        db,
        """
        SELECT check_outcomes.*, before.failed AS failed_before, before.outcome AS outcome_before
        FROM check_outcomes
        LEFT JOIN check_outcomes AS before
            ON before.rule_id = check_outcomes.rule_id
            AND before.run_id = (SELECT max(run_id) FROM check_runs WHERE run_id < $1)
        WHERE check_outcomes.run_id = $1
        ORDER BY
            CASE WHEN check_outcomes.outcome IN ('failed', 'could_not_run') THEN 0 ELSE 1 END,
            CASE check_outcomes.severity WHEN 'stop' THEN 0 WHEN 'set_aside' THEN 1 WHEN 'flag' THEN 2 ELSE 3 END,
            check_outcomes.share DESC NULLS LAST,
            check_outcomes.rule_id
        """,
        run_id,
    )


def failures(db) -> dict[str, list[dict]]:
    """Listed rows of the latest run by rule, by file and line."""
    found: dict[str, list[dict]] = {}
    for row in dicts(db, "SELECT * FROM check_failures ORDER BY rule_id, name, row, case_id, value"):
        found.setdefault(row["rule_id"], []).append(row)
    return found


def completeness(db, months: int) -> tuple[list[str], list[list]]:
    """The last months with cases, as YYYY-MM, and for each field its filled percent in each."""
    found = dicts(db, "SELECT * FROM check_completeness WHERE person IS NULL ORDER BY place")
    last = sorted({row["month_no"] for row in found if row["table_name"] == "cases"})[-months:]
    grid: dict[str, dict] = {}
    for row in found:
        name = f"{row['table_name']}, {row['column_name'].replace('_', ' ')}"
        grid.setdefault(name, {})[row["month_no"]] = percent(row)
    names = [f"{month // 12}-{month % 12 + 1:02d}" for month in last]
    return names, [[name, *(by_month.get(month) for month in last)] for name, by_month in grid.items()]


def completeness_by_person(db) -> tuple[list[str], list[list]]:
    """Anesthetists, and for each field of a case its filled percent by each."""
    found = dicts(db, "SELECT * FROM check_completeness WHERE person IS NOT NULL ORDER BY place")
    people = sorted({row["person"] for row in found})
    grid: dict[str, dict] = {}
    for row in found:
        grid.setdefault(row["column_name"].replace("_", " "), {})[row["person"]] = percent(row)
    return people, [[name, *(by_person.get(person) for person in people)] for name, by_person in grid.items()]


def percent(row: dict) -> int | None:
    """Whole percent, rounded down: 100 is nothing missing."""
    return 100 * row["filled"] // row["in_scope"] if row["in_scope"] else None


def files(db) -> list[dict]:
    """Loaded files, latest first, with their counts."""
    if "files" not in tables(db):
        return []
    return dicts(db, f"SELECT {WHOLE_NAME} AS name, {', '.join(COUNTS)} FROM files ORDER BY loaded_at DESC, name")


def waiting(db) -> list[list]:
    """What keeps rows in quarantine, by file and line: reason, what may have been meant, rows. Rows that wait for
    their case stand last, together, at the line of the first."""
    if "quarantine" not in tables(db):
        return []
    return lists(
        db,
        """
        SELECT name, min(row), column_name, reason, any_value(proposal), count(DISTINCT row)
        FROM (SELECT *, coalesce(rule = 'no_such_case', FALSE) AS waits FROM quarantine)
        GROUP BY waits, file_id, name, CASE WHEN NOT waits THEN row END, column_name, reason
        ORDER BY waits, name, min(row), column_name, reason
        """,
    )


def notes(db) -> list[list]:
    """What the loads noted, by file; examples stay in the load's own account."""
    if "load_notes" not in tables(db):
        return []
    columns = "name, column_name, sentence, n"
    return lists(db, f"SELECT {columns} FROM load_notes ORDER BY name, n DESC, column_name, sentence")


def runs(db) -> list[list]:
    """Runs, latest first: outcomes, and rows wrong by severity."""
    wrong = ", ".join(
        f"coalesce(sum(check_outcomes.failed) FILTER (WHERE severity = '{severity}'), 0)" for severity in SEVERITIES
    )
    return lists(
        db,
        f"""
        SELECT ran_at, any_value(check_runs.failed), any_value(passed), any_value(not_applicable),
            any_value(could_not_run), {wrong}
        FROM check_runs
        LEFT JOIN check_outcomes ON check_outcomes.run_id = check_runs.run_id
        GROUP BY check_runs.run_id, ran_at
        ORDER BY check_runs.run_id DESC
        LIMIT {KEPT_RUNS}
        """,
    )


def lists(db, sql: str) -> list[list]:
    return [list(row) for row in db.execute(sql).fetchall()]
