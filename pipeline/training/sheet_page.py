"""The sheet that is printed and signed: rows, totals, places to sign, and the code that checks them later."""

from collections import Counter

from pipeline.reporting.frame import Cell, Column, Page, Section, Table
from pipeline.training.sheet import COLUMNS, Sheet
from pipeline.training.view import RULES_DECIDE, View, role_words

BLANK = Cell(None, "\u00a0")
SIGNERS = ("trainee", "supervisor", "head of the programme")


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
        [Column("role"), Column("cases", "count"), Column("hours", "number", "h"), Column("unknown length", "count")],
        [[role_words(role or None), tally[role], minutes[role] / 60, unknown[role]] for role in sorted(tally)],
        f"{view.amount(cases, 'cases')} in all; a case counts once in each role.",
    )  # fmt: skip
    rows = Table(
        "rows", "Rows covered",
        [Column("case"), Column("date"), Column("species"), Column("ASA"), Column("group"), Column("procedure"),
         Column("role"), Column("time", unit="min"), Column("supervised by"), Column("techniques")],
        [[cell.replace("_", " ") if column in ("species", "procedure_group", "techniques") else cell
          for column, cell in zip(COLUMNS, row, strict=True)] for row in sheet.rows],
        f"{len(sheet.rows)} rows. An empty place is not recorded. Time is of the anesthesia window.",
    )  # fmt: skip
    signing = Table(
        "signing", "Signatures",
        [Column("as"), Column("name in capitals", "sign"), Column("signature", "sign"), Column("date", "sign")],
        [[who, BLANK, BLANK, BLANK] for who in SIGNERS],
        "A signature says that these rows describe what was done. Strike out what does not apply and initial it.",
    )  # fmt: skip
    check = [
        f"Code of these rows: {sheet.code}",
        f"To check later: `rounds verify {name}.html`, or with the code on the paper: "
        f"`rounds verify {name}.html --code {sheet.code}`. It says whether the rows in the record still say the same, "
        "and which do not. The code guards the rows against change, not the signatures.",
        f"SHA-256 in full: {sheet.digest}",
        RULES_DECIDE,
    ]
    return Page(
        name=name,
        title=f"Case log of {sheet.trainee}, to sign",
        clinic=view.settings.name,
        period=f"{view.day(sheet.first_day)} to {view.day(sheet.last_day)}",
        sections=[
            Section("covered", "Cases", "", [rows, total]),
            Section("sign", "To sign", "", [signing]),
            Section("check", "To check", "", check),
        ],
    )
