"""The records report: what the loads did, which rules failed, which rows to mend, what is left blank.

Worst first. Every failing row is named by file and line, with the sentence and the fix.
"""

import csv
from pathlib import Path

from pipeline.reporting.display import month_text, words
from pipeline.reporting.frame import Column, Fold, Page, Section, Table, write_page
from pipeline.reporting.sheets import defused

SHOWN = 300
"""Rows of a list on the page; the sheet beside it holds all that were kept."""

SHEET = "check_failures.csv"
WEIGHT = {"stop": 0, "set_aside": 1, "flag": 2, "note": 3}
OUTCOMES = {
    "failed": "failed",
    "could_not_run": "could not run",
    "passed": "passed",
    "not_applicable": "nothing to judge",
}


def write(db, settings, clinic: Path, share: bool = False) -> list[Path]:
    """Writes records.html and its tables into clinic/reports (shared: clinic/reports/shared), and to_fix/ with the
    failing rows; returns the paths, the page first."""
    folder = clinic / "reports" / "shared" if share else clinic / "reports"
    written = write_page(page(db, settings, share), settings, db, folder)
    if not share:
        written.append(write_sheet(db, clinic / "to_fix" / SHEET))
    return written


def page(db, settings, share: bool = False) -> Page:
    sections = [
        Section("loads", "What the loads did", "Is every row of every file accounted for?", loads(db)),
        Section("rules", "Rules, worst first", "What do the records get wrong?", rules(db)),
    ]
    if not share:
        sections.append(Section("rows", "Rows to mend", "Where, what, and how to mend it?", rows(db, settings)))
    sections.append(Section("filled", "What is filled in", "Which fields are left blank, and since when?", filled(db)))
    return Page("records", "Records", settings.name, "as loaded", sections, lead=lead(db), share=share)


def select(db, sql: str) -> list[tuple]:
    return db.execute(sql).fetchall()


def lead(db) -> list:
    tally = dict(select(db, f"SELECT outcome, count(*) FROM ({LATEST}) GROUP BY outcome"))
    said = [
        (
            f"{sum(tally.values())} rules: {tally.get('failed', 0)} failed, {tally.get('could_not_run', 0)} could not "
            f"run, {tally.get('not_applicable', 0)} had nothing to judge, {tally.get('passed', 0)} passed.",
            "#rules",
            "the rules",
        )
    ]
    stops = select(db, f"SELECT sentence, fix FROM ({LATEST}) WHERE outcome = 'failed' AND severity = 'stop'")
    said = [(f"Before any rate is read: {sentence}. {fix}.", "#rules", "the rule") for sentence, fix in stops] + said
    read, quarantined = select(db, "SELECT coalesce(sum(rows_read), 0), coalesce(sum(rows_quarantined), 0) FROM files")[
        0
    ]
    said.append((f"{quarantined:,} of {read:,} rows wait to be mended.", "#loads", "the files"))
    incomplete = [month for (month,) in select(db, INCOMPLETE)]
    if incomplete:
        said.append(f"Incomplete, more than one case in twenty quarantined: {', '.join(incomplete)}.")
    return said


LATEST = "SELECT * FROM check_outcomes WHERE run_id = (SELECT max(run_id) FROM check_outcomes)"

INCOMPLETE = """
SELECT month FROM report_months
WHERE quarantined > (SELECT val FROM seed_windows WHERE name = 'quarantine_max_share') * (cases + quarantined)
ORDER BY month
"""


def loads(db) -> list:
    files = select(
        db,
        """
        SELECT name || CASE WHEN part = '' THEN '' ELSE ', ' || part END, table_name,
            concat_ws(', ', encoding, separator, 'decimal ' || decimal_sign),
            lines, rows_new, rows_unchanged, rows_replaced, rows_quarantined, rows_set_aside
        FROM files ORDER BY file_id
        """,
    )
    notes = select(db, "SELECT name, class, sentence, n, example_1, example_2 FROM load_notes ORDER BY file_id, rule")
    waiting = select(
        db,
        f"""
        SELECT name, row, table_name, column_name, reason, proposal FROM quarantine
        ORDER BY file_id, row, column_name LIMIT {SHOWN}
        """,
    )
    counts = ("Lines", "New", "Unchanged", "Replaced", "Quarantined", "Set aside")
    head, read_as = [Column("File"), Column("Table", "code")], Column("Read as", "nowrap")
    tail = [Column(one, "count") for one in counts]
    eventful = [row for row in files if any(row[6:])]
    smooth = [row for row in files if not any(row[6:])]
    items = [
        "For every file lines = read + set aside, and read = new + unchanged + replaced + quarantined; a load that "
        "did not add up would have been undone.",
    ]
    if eventful:
        items.append(
            Table(
                "files",
                "Files with rows replaced, quarantined or set aside",
                head + tail,
                [row[:2] + row[3:] for row in eventful],
            )
        )
    if notes:
        kinds = {"A": "converted", "N": "by a rule to confirm", "W": "warned"}
        heads = [Column("File"), Column("Kind"), Column("What"), Column("Cells", "count"), Column("Example"),
                 Column("Another")]  # fmt: skip
        said = [(name, kinds.get(kind, kind), *rest) for name, kind, *rest in notes]
        items.append(Table("notes", "What was converted or doubted", heads, said))
    if waiting:
        heads = [Column("File"), Column("Line", "count"), Column("Table", "code"), Column("Column"), Column("Why"),
                 Column("Perhaps")]  # fmt: skip
        table = Table("quarantine", "Quarantined rows", heads, waiting)
        items.append(Fold(f"Quarantined rows (the first {SHOWN}; all of them are in to_fix/)", [table]))
    if smooth:
        table = Table("files-smooth", "Files read without a word", [*head, read_as, *tail], smooth)
        items.append(Fold(f"{len(smooth)} files read without a word", [table]))
    return items


def rules(db) -> list:
    found = select(
        db,
        f"""
        WITH latest AS ({LATEST}),
        before AS (
            SELECT rule_id, failed FROM check_outcomes
            WHERE run_id = (SELECT max(run_id) FROM check_outcomes WHERE run_id < (SELECT max(run_id) FROM latest))
        )
        SELECT latest.outcome, severity, sentence, table_name, judged, latest.failed, in_scope - judged, share,
            tolerated, before.failed, fix, coalesce(reason, why), source
        FROM latest LEFT JOIN before USING (rule_id)
        """,
    )
    order = list(OUTCOMES)
    found.sort(key=lambda row: (order.index(row[0]), WEIGHT[row[1]], -(row[7] or 0), row[2]))
    columns = [Column("Rule"), Column("Table", "code"), Column("Severity", "code"), Column("Judged", "count"),
               Column("Failed", "count"), Column("Could not judge", "count"), Column("Share", "share"),
               Column("Tolerated", "share"), Column("Failed in the run before", "count"), Column("To mend"),
               Column("Why it matters"), Column("Source")]  # fmt: skip
    items = []
    for outcome, title in OUTCOMES.items():
        listed = [(row[2], row[3], row[1], *row[4:]) for row in found if row[0] == outcome]
        if not listed:
            continue
        table = Table(f"rules-{outcome.replace('_', '-')}", f"{len(listed)} {title}", columns, listed)
        items.append(table if outcome in ("failed", "could_not_run") else Fold(f"{len(listed)} {title}", [table]))
    return items


def rows(db, settings) -> list:
    people = settings.privacy.people_on_pages
    found = select(db, f"""SELECT name, row, case_id, column_name, value, sentence, fix{', person' if people else ''}
        FROM check_failures JOIN (SELECT rule_id, severity FROM ({LATEST})) USING (rule_id)
        ORDER BY CASE severity WHEN 'stop' THEN 0 WHEN 'set_aside' THEN 1 WHEN 'flag' THEN 2 ELSE 3 END, name, row
        LIMIT {SHOWN}""")  # fmt: skip
    if not found:
        return ["No row failed a rule."]
    columns = [Column("File"), Column("Line", "count"), Column("Case", "nowrap"), Column("Column"), Column("Found"),
               Column("What is wrong"), Column("To mend")] + [Column("Person")] * people  # fmt: skip
    return [f"The first {SHOWN}, worst first; to_fix/{SHEET} holds all that were kept.",
            Table("failing-rows", "Failing rows", columns, found)]  # fmt: skip


def filled(db) -> list:
    """One table a record table: a field a row, a month a column, share filled in."""
    months = [month for (month,) in select(db, """SELECT DISTINCT month_no FROM check_completeness
        WHERE month_no IS NOT NULL ORDER BY 1 DESC LIMIT 12""")][::-1]  # fmt: skip
    items = []
    for (name,) in select(db, "SELECT DISTINCT table_name FROM check_completeness ORDER BY 1"):
        found = db.execute("""SELECT column_name, month_no, in_scope, filled FROM check_completeness
            WHERE table_name = ? AND month_no IS NOT NULL""", [name]).fetchall()  # fmt: skip
        shares = {(column, month): known / scope for column, month, scope, known in found if scope}
        lines = [(column, *(shares.get((column, month)) for month in months))
                 for column in dict.fromkeys(column for column, *_ in sorted(found))]  # fmt: skip
        lines.sort(key=lambda line: min((share for share in line[1:] if share is not None), default=1))
        columns = [Column("Field"), *(Column(month_text(month), "share") for month in months)]
        table = Table(f"filled-{name.replace('_', '-')}", f"{words(name)}, share filled in", columns, lines)
        items.append(Fold(f"{words(name)}: {len(lines)} fields", [table]))
    return items or ["Nothing is loaded."]


def write_sheet(db, path: Path) -> Path:
    """The failing rows as a sheet for the person who mends them; text that looks like a formula is defused."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as lines:
        sheet = csv.writer(lines)
        sheet.writerow(["file", "line", "case_id", "column", "found", "what is wrong", "to mend"])
        for row in select(db, """SELECT name, row, case_id, column_name, value, sentence, fix FROM check_failures
                ORDER BY name, row, rule_id"""):  # fmt: skip
            sheet.writerow([defused(cell) for cell in row])
    return path
