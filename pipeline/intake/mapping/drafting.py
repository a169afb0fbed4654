"""A first [[file]] for mapping.toml from a table's column names and cells; what they leave open is asked."""

import re
from difflib import get_close_matches
from pathlib import Path

from pipeline import schema
from pipeline.intake.grid import Grid
from pipeline.intake.mapping import dose_rows, layout, named, numbers, readings, times, unit_questions, words
from pipeline.intake.mapping.clinic_file import HELPERS, NOT_LOADED, Question
from pipeline.intake.mapping.draft import Draft, is_number, unit_of

MOST_WORDS = 20


def drafts(grid: Grid, units: dict[str, str], header_rows: int) -> list[Draft]:
    """The kinds of file one table of cells is: usually one, and a second where it has columns of ticks for events.

    units: header -> unit of a line of units. No draft where no column name is known.
    """
    known = {header: named.meanings(header) for header in grid.header}
    ticks = {header: event for header in grid.header if not known[header] and (event := named.event_of(header))}
    table = table_of(known, grid.file)
    if table is None:
        return []
    cells = {header: _cells(grid, header) for header in grid.header}
    draft = Draft(_name(grid, table), _pattern(grid.file), table, grid.part, header_rows)
    choose_columns(draft, known, cells)
    for header in ticks:
        draft.columns[header] = NOT_LOADED
        draft.remarks[header] = "a column of ticks, read as events below"
    _decide_numbers(draft, cells)
    _decide_dates(draft, cells)
    unit_questions.ask(draft, cells, units)
    _unknown_words(draft, cells)
    found = [draft]
    case = next((header for header, column in draft.columns.items() if column == "case_id"), None)
    if ticks and case:
        second = Draft(f"{draft.name}, ticked events", draft.files, "events", grid.part, header_rows)
        second.columns, second.events = {case: "case_id"}, ticks
        found.append(second)
    return found


def table_of(known: dict[str, set[tuple[str, str]]], path: Path) -> str | None:
    """The table most of the names belong to; where two are level the one the file is named for, then the first."""
    columns = {table: {column for one in known.values() for t, column in one if t == table} for table in schema.TABLES}
    columns["vitals"] |= {column for one in known.values() for table, column in one if table == "reading"}
    weight = {table: (len(found), table in path.name.casefold()) for table, found in columns.items()}
    best = max(schema.TABLES, key=lambda table: weight[table])
    return best if weight[best][0] else None


def choose_columns(draft: Draft, known: dict[str, set[tuple[str, str]]], cells: dict[str, list[str]]) -> None:
    """Our column for each name: the one meaning it has in this table, or a question where it has several."""
    wide = {"reading"} if draft.table == "vitals" else set()
    for header, found in known.items():
        own = sorted({column for table, column in found if table in {draft.table} | wide})
        if len(own) > 1:
            own = _by_cells(draft.table, own, header, cells[header])
        if len(own) == 1:
            draft.columns[header] = own[0]
        elif own:
            _ask_column(draft, header, own)
        else:
            draft.columns[header] = NOT_LOADED
            personal = any(table == "personal" for table, _ in found)
            draft.remarks[header] = "may name a person: not loaded" if personal else _unknown(draft.table, header)
    _day_and_clock(draft, cells)
    _doubles(draft, cells)
    for column in schema.TABLES[draft.table].required:
        if column not in draft.columns.values() and not (column == "parameter" and _is_wide(draft)):
            left = [header for header, one in draft.columns.items() if one == NOT_LOADED]
            asked = f"Which column is {column} ({schema.TABLES[draft.table].column(column).meaning})?"
            draft.questions.append(Question(question=asked, sets=["columns", "*", column], choices=left))


def _unknown(table: str, header: str) -> str:
    """What is said of a name we do not know: the column it most resembles, if any."""
    near = get_close_matches(words.fold_header(layout.unit_in(header)[0]), words.headers(), 1, 0.8)
    own = {"reading", table} if table == "vitals" else {table}
    columns = [column for place, column in words.headers()[near[0]] if place in own] if near else []
    return f"not known to us: not loaded; {columns[0]}?" if columns else "not known to us: not loaded"


def _is_wide(draft: Draft) -> bool:
    """Whether a table of vitals has columns of readings, or columns that may be some."""
    asked = [choice for one in draft.questions for choice in one.choices]
    return any(column in (*schema.PARAMETERS, "blood_pressure") for column in (*draft.columns.values(), *asked))


def _by_cells(table: str, columns: list[str], header: str, cells: list[str]) -> list[str]:
    """The meanings of a name that its unit and its cells leave open."""
    if "blood_pressure" in columns and any(numbers.pressures(cell) for cell in cells):
        return ["blood_pressure"]
    unit = layout.unit_in(header)[1]
    if unit:
        fitting = [column for column in columns if words.unit_of(unit_of(table, column), unit)]
        columns = fitting or columns
    figures = _mostly(cells, lambda cell: numbers.parse(cell) is not None or numbers.parse(cell, ",") is not None)
    fitting = [column for column in columns if is_number(table, column) == figures]
    return fitting or columns


def _ask_column(draft: Draft, header: str, choices: list[str]) -> None:
    asked = f"What is the column {header!r}: {' or '.join(choices)}?"
    draft.questions.append(Question(question=asked, sets=["columns", header], choices=[*choices, NOT_LOADED]))


def _day_and_clock(draft: Draft, cells: dict[str, list[str]]) -> None:
    """A column of days and one of clocks are one time; a 'date' with its clock inside is a time by itself."""
    clocks = {
        header for header, one in draft.columns.items() if one != NOT_LOADED and _mostly(cells[header], _is_clock)
    }
    by_target: dict[str, list[str]] = {}
    for header, column in draft.columns.items():
        by_target.setdefault(column, []).append(header)
    moment = {"vitals": "taken_at", "drugs": "given_at", "events": "occurred_at"}.get(draft.table)
    for header in by_target.get("day", []):
        if moment and moment not in by_target and _mostly(cells[header], _has_clock):
            draft.columns[header] = moment
    for column, headers in by_target.items():
        if "day" in HELPERS.get(draft.table, ()) and len(headers) == 2 and clocks & set(headers):
            day = next((header for header in headers if header not in clocks), None)
            if day and _is_time(draft.table, column):
                draft.columns[day] = "day"


def _is_time(table: str, name: str) -> bool:
    return any(column.name == name and column.kind == "time" for column in schema.TABLES[table].columns)


def _is_clock(cell: str) -> bool:
    found = times.shape(cell)
    return bool(found) and found.name in ("clock", "clock half", "digits")


def _has_clock(cell: str) -> bool:
    found = times.shape(cell)
    return bool(found) and (found.name == "serial" and "." in cell or bool(found.parts.get("h")) and "y" in found.parts)


def _mostly(cells: list[str], test) -> bool:
    some = [cell for cell in cells[:500] if not words.is_missing(cell)]
    return bool(some) and sum(map(test, some)) > len(some) / 2


def _doubles(draft: Draft, cells: dict[str, list[str]]) -> None:
    """Two names for one column: the same cells, the second is left out; other cells, both are asked about."""
    first: dict[str, str] = {}
    for header, column in list(draft.columns.items()):
        if column == NOT_LOADED:
            continue
        if column not in first:
            first[column] = header
        elif cells[header] == cells[first[column]]:
            draft.columns[header] = NOT_LOADED
            draft.remarks[header] = f"holds the same as {first[column]}"
        else:
            for one in (first[column], header):
                if draft.columns.pop(one, None):
                    _ask_column(draft, one, [column])


def _cells(grid: Grid, header: str) -> list[str]:
    """The distinct texts of a column, in the order they first stand."""
    return [cell for cell in grid.cells.column(header).cast("string").unique().to_pylist() if cell]


def _decide_numbers(draft: Draft, cells: dict[str, list[str]]) -> None:
    every = [
        cell for header, column in draft.columns.items() if is_number(draft.table, column) for cell in cells[header]
    ]
    found = numbers.decimal_sign(every)
    if found.choice is None:
        asked = f"Are decimals written with a point or a comma? {found.why}."
        draft.questions.append(Question(question=asked, sets=["decimal"], choices=[".", ","]))
    elif "can only" in found.why:
        draft.decimal = found.choice


def _decide_dates(draft: Draft, cells: dict[str, list[str]]) -> None:
    own = {one.name: one for one in schema.TABLES[draft.table].columns}
    undecided, decided = None, set()
    for header, column in draft.columns.items():
        if column in ("day", "birth_date") or (column in own and own[column].kind in ("time", "day")):
            found = times.day_order(cells[header])
            if found.choice is None:
                undecided = undecided or (header, column, found)
            elif found.why.endswith("first"):
                decided.add(found.choice)
    if len(decided) == 1:
        draft.dates = decided.pop()
    elif undecided:
        header, column, found = undecided
        why = "" if column == "birth_date" else f" {found.why}."
        asked = f"In dates of the column {header!r}, does the day (dmy) or the month (mdy) stand first?{why}"
        draft.questions.append(Question(question=asked, sets=["dates"], choices=["dmy", "mdy"]))


def _unknown_words(draft: Draft, cells: dict[str, list[str]]) -> None:
    """Words of code columns that no list of ours has, with the nearest we know; written as remarks, never applied."""
    own = {one.name: one for one in schema.TABLES[draft.table].columns}
    for header, column in draft.columns.items():
        if column not in own or own[column].kind != "code" or own[column].personal:
            continue
        unknown = [cell for cell in cells[header] if not _is_known(column, cell)]
        if 0 < len(unknown) <= MOST_WORDS:
            draft.unknown_words[column] = {cell: words.nearest(column, cell) for cell in unknown}


def _is_known(column: str, cell: str) -> bool:
    if column == "species" and words.code_of("breed_species", cell):
        return True
    if column == "amount_unit" and dose_rows.amount_unit(cell):
        return True
    if column == "parameter" and readings.parameter_of(cell)[0]:
        return True
    if column == "event" and words.code_of("none_event", cell):
        return True
    return words.is_missing(cell) or words.code_of(column, cell) is not None


def _name(grid: Grid, table: str) -> str:
    stem = re.sub(r"[\d_\-. ()]+", " ", grid.file.name.partition(".")[0]).strip() or table
    return f"{stem} {grid.part}".strip()


def _pattern(path: Path) -> str:
    """The file's name with its figures left open: next month's export is the same kind.

    >>> _pattern(Path("log_2026-09.csv"))
    'log_*.csv'
    """
    stem, dot, ending = path.name.partition(".")
    return re.sub(r"\d+(?:[-_. ]\d+)*", "*", stem) + dot + ending
