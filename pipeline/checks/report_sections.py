"""The sections of the records report, from the rows that the checks and the loads left."""

from pipeline.checks import report_rows as rows
from pipeline.checks.verdicts import ROWS
from pipeline.reporting.display import month_name
from pipeline.reporting.frame import Cell, Column, Fold, Section, Table

SHOWN = 10  # rows of a rule on the page; the sheet to fix holds them all
SHOWN_PASSED = 3  # of a rule that passed all the same
SHOWN_WAITING = 50
MONTHS = 12
FEWEST = 5  # smaller counts stay out of a shared page

KINDS = {"stop": "Stop", "set_aside": "Set aside", "flag": "Flag", "note": "Note"}


def sentence(text: str) -> str:
    """With a capital and an end."""
    return text[:1].upper() + text[1:] + ("" if text[-1:] in ".?" else ".")


def failed(outcomes: list[dict], share: bool) -> Section:
    """Every rule, those that failed in the open, worst first."""
    compared = not share and any(one["outcome_before"] for one in outcomes)
    broken = [one for one in outcomes if one["outcome"] in ("failed", "could_not_run")]
    some = [one for one in outcomes if one["outcome"] == "passed" and one["failed"]]
    sound = [one for one in outcomes if one["outcome"] == "passed" and not one["failed"]]
    idle = [one for one in outcomes if one["outcome"] == "not_applicable"]
    items: list = ["No rule failed."]
    if broken:
        items = [counted("failed", "Rules that failed, worst first", broken, share, compared)]
    if some:
        title = "Passed, with no more wrong than they tolerate"
        items.append(fold(counted("tolerated", title, some, share, compared)))
    if sound:
        columns = [Column("Looked for, and not found"), Column("In"), Column("Judged", "count"),
                   Column("Not judged", "count")]  # fmt: skip
        found = [[sentence(one["sentence"]), ROWS[one["table_name"]], one["judged"], one["in_scope"] - one["judged"]]
                 for one in sound]  # fmt: skip
        items.append(fold(Table("sound", "Nothing wrong", columns, found)))
    if idle:
        columns = [Column("Looked for"), Column("In")]
        found = [[sentence(one["sentence"]), ROWS[one["table_name"]]] for one in idle]
        items.append(fold(Table("idle", "Nothing to judge", columns, found)))
    return Section("failed", "What failed", "Which rules do the records break, and how often?", items)


def fold(table: Table) -> Fold:
    return Fold(f"{len(table.rows)} rules: {table.title[:1].lower()}{table.title[1:]}", [table])


def counted(name: str, title: str, outcomes: list[dict], share: bool, compared: bool) -> Table:
    """Rules with how often they were broken, and how often the run before, where there was one."""
    columns = [Column("What is wrong"), Column("In"), Column("Kind"), Column("Failed", "count"),
               Column("Judged", "count"), Column("Share", "share"), Column("Not judged", "count")]  # fmt: skip
    if compared:
        columns.append(Column("Run before", "count"))

    def row(one: dict) -> list:
        wrong = sentence(one["sentence"])
        if one["outcome"] == "could_not_run":
            wrong += f" Could not be run: {one['reason']}."
        few = share and 0 < one["failed"] < FEWEST
        failing = Cell(None, f"under {FEWEST}") if few else one["failed"] if one["judged"] else None
        part = None if few else one["share"]
        before = [one["failed_before"]] if compared else []
        kind = KINDS[one["severity"]]
        return [wrong, ROWS[one["table_name"]], kind, failing, one["judged"], part, one["in_scope"] - one["judged"],
                *before]  # fmt: skip

    return Table(name, title, columns, [row(one) for one in outcomes])


def mend(listed: dict[str, list[dict]], outcomes: list[dict]) -> Section:
    """Rows to mend: of failed rules in the open, of the others folded away; the sheet to fix holds all."""
    columns = [Column("File", "nowrap"), Column("Line", "count"), Column("Case", "nowrap"), Column("What stands there")]

    def table(one: dict, most: int) -> Table:
        found = listed[one["rule_id"]]
        note = sentence(one["fix"])
        if one["failed"] > most:
            note += f" {min(most, len(found))} of {one['failed']:,} shown; records_to_fix.xlsx lists {len(found):,}."
        return Table(
            f"fix-{one['rule_id'].replace('_', '-')}",
            f"{sentence(one['sentence'])[:-1]}: {one['failed']:,}",
            columns,
            [[found_row["name"], found_row["row"], found_row["case_id"], found_row["value"]]
             for found_row in found[:most]],
            note,
        )  # fmt: skip

    wrong = [one for one in outcomes if one["failed"] and one["rule_id"] in listed]
    worst = [table(one, SHOWN) for one in wrong if one["outcome"] == "failed"]
    others = [table(one, SHOWN_PASSED) for one in wrong if one["outcome"] != "failed"]
    items: list = [
        "Line is the line of the CSV file or the row of the sheet. Mend it there or in the record system, export "
        "again and load: what was mended leaves this list."
    ]
    items += worst or ["No rule failed."]
    if others:
        items.append(Fold(f"Rows to mend of {len(others)} rules that passed all the same", others))
    return Section("mend", "Where to mend it", "In which file and line does it stand, and what is to be done?", items)


def complete(db) -> Section | None:
    """The grid of field by month; fields that are never blank are named under it."""
    months, grid = rows.completeness(db, MONTHS)
    if not grid:
        return None
    whole = [name for name, *shares in grid if all(share in (None, 100) for share in shares)]
    blank = [row for row in grid if row[0] not in whole]
    items: list = []
    if blank:
        columns = [
            Column("Field", "nowrap"),
            *(Column(month_name(month, short=True), "number", digits=0) for month in months),
        ]
        note = "In percent of the rows in which the field belongs: a time of extubation, where there was a tube."
        items.append(Table("complete", f"Filled in, % by month, last {len(months)} months", columns, blank, note))
    if whole:
        items.append(f"Never blank in these months: {'; '.join(whole)}.")
    return Section("complete", "What is written down", "Which fields are left blank, and is it getting better?", items)


def people(db, settings) -> Section | None:
    """By person code, where the clinic's settings ask for it."""
    fields, grid = rows.completeness_by_person(db)
    columns = [Column("Field", "nowrap"), *(Column(person, "number", digits=0) for person in fields)]
    note = "A code stands for a person. Cases differ; this is for talking, not for ranking."
    table = Table("people", "Filled in, % by anesthetist", columns, grid, note)
    return Section("people", "By person", "Whose sheets could use a reminder?", [table]) if grid else None


def loads(db, waiting: list[list], share: bool) -> Section | None:
    """What the loads did: the account of each file, rows that wait, notes."""
    files = rows.files(db)
    if not files:
        return None
    total = {name: sum(one[name] or 0 for one in files) for name in rows.COUNTS}
    said = (
        f"{len(files)} files, {total['rows_read']:,} rows read: {total['rows_new']:,} new, "
        f"{total['rows_unchanged']:,} unchanged, {total['rows_replaced']:,} replaced, "
        f"{total['rows_quarantined']:,} put into quarantine; {total['rows_set_aside']:,} lines set aside."
    )
    if share:
        return Section("loads", "What the loads did", "Is every row accounted for?", [said])
    items: list = [said]
    if waiting:
        columns = [Column("File", "nowrap"), Column("Line", "count"), Column("Column"), Column("Reason"),
                   Column("Perhaps"), Column("Rows", "count")]  # fmt: skip
        note = "Rows that only wait for their case stand last; they load by themselves once it is mended."
        if len(waiting) > SHOWN_WAITING:
            note += f" {SHOWN_WAITING} of {len(waiting):,} shown; the sheets in to_fix hold all."
        table = Table("waiting", "Rows that wait in to_fix", columns, waiting[:SHOWN_WAITING], note)
        items.append(Fold(f"{len(waiting):,} reasons why rows wait", [table]))
    columns = [Column("File", "nowrap"), *(Column(heading, "count") for heading in rows.COUNTS.values())]
    account = [[one["name"], *(one[name] for name in rows.COUNTS)] for one in files]
    items.append(Fold("File by file", [Table("files", "Files, latest first", columns, account)]))
    notes = rows.notes(db)
    if notes:
        columns = [Column("File", "nowrap"), Column("Column"), Column("Note"), Column("Rows", "count")]
        items.append(Fold("What the loads converted or could not read", [Table("notes", "Notes", columns, notes)]))
    return Section("loads", "What the loads did", "Is every row accounted for?", items)


def runs(db) -> Section:
    """The latest runs side by side."""
    headings = ["Rules failed", "Passed", "Nothing to judge", "Could not be run", "Rows wrong: stop", "Set aside",
                "Flag", "Note"]  # fmt: skip
    columns = [Column("Run", "moment"), *(Column(heading, "count") for heading in headings)]
    table = Table("runs", "Runs of the checks, latest first", columns, rows.runs(db))
    return Section("runs", "Run by run", "Do the records get better?", [table])
