"""The controlled-drug book: two balances, every line that is off or unknown, what local rules ask."""

from datetime import date
from functools import cache

from pipeline.reporting.frame import Column, Section, Table
from pipeline.reporting.results import FEWEST_SHOWN
from pipeline.stock.report.view import View, item_words

STATES = ("balanced", "off", "unknown", "first count", "not counted")
HINTS = {"hint_decimal": "a decimal place", "hint_unit": "a unit", "hint_waste": "waste not charted"}
START = (Column("Day", "day"), Column("Book", "nowrap"), Column("Drug or item"), Column("Case", "nowrap"), Column("By"))
VOLUMES = (
    Column("Opening", "number", "mL", 2),
    Column("In", "number", "mL", 2),
    Column("Out", "number", "mL", 2),
    Column("Wasted or lost", "number", "mL", 2),
    Column("Counted", "number", "mL", 2),
    Column("Missing", "number", "mL", 2),
)
WHOLE_BOOK = "tables/stock_details_book-lines.csv"
LAW = (
    "The law and the rules where you work decide what a controlled-drug book must hold, who signs and how long it is "
    "kept; this page only adds up what was loaded. A hint names an arithmetic slip that would explain a difference. It "
    "is never a finding about a person."
)


def section(view: View) -> Section:
    if not any(item.control for item in view.settings.items.values()):
        return Section("book", "Controlled-drug book", "Does the book balance?",
                       ["No item in clinic.toml has a control class, so there is no book to balance."])  # fmt: skip
    items = [LAW, summary(view)]
    if not view.share:
        items += [off(view), unknown(view), rules(view), elsewhere(view)]
    return Section("book", "Controlled-drug book", "Does the book balance, and where does it not?",
                   [item for item in items if item])  # fmt: skip


def summary(view: View) -> Table:
    """Lines by book, drug and state."""
    found: dict[tuple, dict[str, int]] = {}
    for row in view.rows("SELECT book, what, state, count(*) AS n FROM drug_book_lines GROUP BY ALL ORDER BY ALL"):
        found.setdefault((row["book"], row["what"]), {})[row["state"]] = row["n"]
    rows = []
    for (book, what), counts in found.items():
        shown = [counts.get(state, 0) for state in STATES]
        rows.append([book, item_words(what), *(hidden(view, count) for count in shown)])
    columns = [
        Column("Book", "nowrap"),
        Column("Drug or item"),
        *(Column(state.capitalize(), "count") for state in STATES),
    ]
    note = (
        "Syringe: drawn - given - wasted, a line a case, drug, person and day. Cupboard: opening + received + returned "
        "- supplied - discarded - expired against the count, a line a day and count. Off: by more than the tolerance."
    )
    return Table("book-summary", "Lines of the book", columns, rows, note)


def hidden(view: View, count: int) -> int | None:
    """A count; on a shared page none under 5."""
    return None if view.share and 0 < count < FEWEST_SHOWN else count


def off(view: View) -> Table | str:
    rows = view.rows(
        "SELECT * FROM drug_book_lines WHERE state = 'off' ORDER BY book_day DESC, book, what, case_id, person"
    )
    if not rows:
        return "Every line that could be judged balances."
    columns = [*START, Column("Sum"), Column("Missing", "number", "mL", 2), Column("Would explain it"), Column("Where")]
    note = (
        "Missing above 0: less is there, or accounted for, than should be; below 0: more. Cupboard: opening + received "
        "and returned \u2212 supplied \u2212 discarded and expired. Where: the line's first dose, or its count."
    )
    return Table("book-off", f"{len(rows)} lines that do not balance", columns, [line(view, row) for row in rows], note)


def line(view: View, row: dict) -> list:
    return [row["book_day"], row["book"], item_words(row["what"]), row["case_id"], row["person"], added(view, row),
            row["difference_ml"], likely(row), place(view, row)]  # fmt: skip


def added(view: View, row: dict) -> str:
    """The sum that does not come out, in mL."""
    ml = {name: view.display.number(row[f"{name}_ml"], 2) for name in ("opening", "in", "out", "lost", "counted")}
    if row["book"] == "syringe":
        wasted = "nothing charted as wasted" if row["lost_ml"] is None else f"wasted {ml['lost']}"
        return f"drawn {ml['in']}, given {ml['out']}, {wasted}"
    return f"{ml['opening']} + {ml['in']} \u2212 {ml['out']} \u2212 {ml['lost']}, counted {ml['counted']}"


def place(view: View, row: dict) -> str:
    """File and row where the line (its first dose, or its count) stands."""
    return stands(view, row["source_file"], row["source_row"])


def stands(view: View, file: int, line: int) -> str:
    return f"{view.files.get(file, 'unknown file')}, row {line}"


def unknown(view: View) -> Table | None:
    """What cannot be judged, by drug and reason."""
    rows = view.rows("""
        SELECT * FROM drug_book_lines WHERE state = 'unknown' ORDER BY book, what
    """)
    if not rows:
        return None
    found: dict[tuple, list[dict]] = {}
    for row in rows:
        found.setdefault((row["book"], item_words(row["what"]), missing(row)), []).append(row)
    columns = [Column("Book", "nowrap"), Column("Drug or item"), Column("What is unknown"), Column("Lines", "count"),
               Column("Last on", "day")]  # fmt: skip
    cells = [
        [*key, len(lines), max((row["book_day"] for row in lines if row["book_day"]), default=None)]
        for key, lines in found.items()
    ]
    title = f"{view.display.count(len(rows))} lines that cannot be judged"
    return Table("book-unknown", title, columns, cells)


def missing(row: dict) -> str:
    if row["book"] == "cupboard":
        return "a movement since the last count, or its unit"
    if row["in_ml"] is None and row["out_ml"] is None:
        return "the volume drawn and a volume given"
    return (
        "the volume drawn"
        if row["in_ml"] is None
        else "a volume given: its amount, unit, concentration, weight or time"
    )


def rules(view: View) -> list[str]:
    """What the clinic's own rules ask, and how the book meets them."""
    asked = view.settings.controlled
    said = []
    if asked.witness_waste is None:
        said.append("Witness: clinic.toml states no rule ([controlled] witness_waste), so nothing is judged.")
    elif asked.witness_waste:
        row = view.rows("""
            SELECT sum(unwitnessed)::BIGINT AS alone, count(*) FILTER (lost_ml > 0) AS wasted
            FROM drug_book_lines WHERE book = 'syringe'
        """)[0]
        said.append(
            f"Witness: {row['alone'] or 0} doses have waste without a second person's code; {row['wasted']} lines have "
            "waste."
        )
    if asked.count_days is not None:
        late = view.rows(
            """
            WITH counts AS (
                SELECT item, moved_day,
                    lead(moved_day, 1, $today) OVER (PARTITION BY item ORDER BY moved_day) - moved_day AS days
                FROM cupboard_moves WHERE movement = 'counted' AND ml IS NOT NULL
            )
            SELECT item, max(days) AS days, count(*) FILTER (days > $most) AS gaps FROM counts GROUP BY item
            HAVING max(days) > $most ORDER BY item
            """,
            today=view.today,
            most=asked.count_days,
        )
        gaps = "; ".join(f"{item_words(row['item'])} {row['gaps']} times, up to {days(row['days'])}" for row in late)
        said.append(f"Counts: longer than {days(asked.count_days)} apart: {gaps or 'never'}.")
    if asked.keep_years is not None:
        first = view.rows("SELECT min(book_day) AS day FROM drug_book_lines")[0]["day"]
        said.append(
            f"Keeping: the book must be kept {asked.keep_years:g} years by clinic.toml; the records loaded here begin "
            f"on {view.display.day(first)}. This database is no archive: keep the exports."
        )
    else:
        said.append("Keeping: clinic.toml states no time ([controlled] keep_years); local law does.")
    return said


def days(number: float) -> str:
    return f"{number:g} {'day' if number == 1 else 'days'}"


def lines(view: View) -> Table:
    """Every line of the book."""
    found = view.db.execute("""
        SELECT book_day, book, what, case_id, person, second_person,
            opening_ml, in_ml, out_ml, lost_ml, counted_ml, difference_ml, state,
            hint_decimal, hint_unit, hint_waste, source_file, source_row
        FROM drug_book_lines ORDER BY book_day DESC, book, what, case_id, person
    """).fetchall()
    columns = [
        *START,
        Column("Witness"),
        *VOLUMES,
        Column("State", "nowrap"),
        Column("Would explain it"),
        Column("Where"),
    ]
    said = cache(item_words)
    cells = [
        (day, book, said(what), *as_they_are, slips((decimal, unit, waste)), stands(view, file, line))
        for day, book, what, *as_they_are, decimal, unit, waste, file, line in found
    ]
    return Table("book-lines", "Every line of the book", columns, cells)


def recent(view: View, rows: list) -> list:
    """The lines a workbook holds: those since the 12 months began, and those of no known day. A book grows without
    end, a sheet cannot."""
    first = first_day(view)
    return [row for row in rows if row[0] is None or row[0] >= first]


def first_day(view: View) -> date:
    """The first of the 12 months; where no case is loaded, the first day there is."""
    return date.fromisoformat(f"{view.results.year[:7]}-01") if view.results.year else date.min


def elsewhere(view: View) -> str:
    since = f" since {view.display.day(first_day(view))}" if view.results.year else ""
    return (
        f"Every line{since}, balanced or not, stands in stock_details.xlsx, sheet book-lines; the whole book, from its "
        f"first line, in {WHOLE_BOOK}."
    )


def likely(row: dict) -> str:
    """The slips that would explain a difference."""
    return slips(row[name] for name in HINTS)


def slips(hints) -> str:
    """The slips in words. hints: 0 or 1 for each of HINTS."""
    return " or ".join(said for said, hint in zip(HINTS.values(), hints, strict=True) if hint)
