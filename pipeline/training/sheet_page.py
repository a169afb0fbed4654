"""The sheet that is printed and signed: rows, totals, places to sign, and the code that checks them later."""

from collections import Counter

from pipeline.reporting.frame import Cell, Column, Page, Section, Table
from pipeline.training.sheet import CODE_SAID, COLUMNS, Sheet
from pipeline.training.view import RULES_DECIDE, View, role_words

BLANK = Cell(None, "\u00a0")


def page(view: View, sheet: Sheet, name: str) -> Page:
    """name: the file's name without ending."""
    place = {column: number for number, column in enumerate(COLUMNS)}
    tally = Counter(row[place["role"]] for row in sheet.rows)
    unknown = Counter(row[place["role"]] for row in sheet.rows if not row[place["minutes"]])
    minutes: Counter = Counter()
    for row in sheet.rows:
        minutes[row[place["role"]]] += float(row[place["minutes"]] or 0)
    cases = len({row[place["case_id"]] for row in sheet.rows})
    total = Table(
        "totals", "Totals by role",
        [Column("role"), Column("cases", "count"), Column("hours", "number"), Column("unknown length", "count")],
        [[role_words(role or None), tally[role], minutes[role] / 60, unknown[role]] for role in sorted(tally)],
        f"{view.amount(cases, 'cases')} in all; a case counts once in each role.",
    )  # fmt: skip
    rows = Table(
        "rows", "Rows covered",
        [Column("case", "nowrap"), Column("date", "day"), Column("species"), Column("ASA"), Column("group"),
         Column("procedure"), Column("role"), Column("time", unit="min"), Column("supervised by"),
         Column("techniques")],
        [[cell.replace("_", " ") if column in ("species", "procedure_group", "techniques") else cell
          for column, cell in zip(COLUMNS, row, strict=True)] for row in sheet.rows],
        f"{len(sheet.rows)} rows. An empty place is not recorded. Time is of the anesthesia window.",
    )  # fmt: skip
    supervisors = sorted({one for row in sheet.rows for one in row[place["supervised_by"]].split("; ") if one})
    signing = Table(
        "signing", "Signatures",
        [Column("as"), Column("name in capitals", "sign"), Column("signature", "sign"), Column("date", "sign")],
        [[who, BLANK, BLANK, BLANK]
         for who in ("trainee", *(f"supervisor {one}" for one in supervisors), "head of the programme")],
        "A signature says that the rows describe what was done. Strike out and initial what does not apply.",
    )  # fmt: skip
    check = [
        f"{CODE_SAID} {sheet.code}. `rounds verify {name}.html` says later whether the rows in the record still say "
        "the same, and which do not; with `--code` and the code on the paper it also says whether this is the paper. "
        "The code guards the rows against change. It is no signature.",
        f"SHA-256 in full: {' '.join(sheet.digest[i : i + 8] for i in range(0, 64, 8))}",
        RULES_DECIDE,
    ]
    return Page(
        name=name,
        title=f"Case log of {sheet.trainee}, to sign",
        clinic=view.settings.name,
        period=f"{view.day(sheet.first_day)} to {view.day(sheet.last_day)}",
        running=f"{sheet.trainee}, {sheet.period}, code {sheet.code}",
        sections=[
            Section("covered", "Cases", "", [rows, total]),
            Section("sign", "To sign", "", [signing]),
            Section("check", "To check", "", check),
        ],
    )
