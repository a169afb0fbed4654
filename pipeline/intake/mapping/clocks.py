"""Times of a mapped file: brought to one form, clocks bound to their day or case, wrong clocks shifted."""

import re
from collections.abc import Callable
from datetime import datetime, timedelta

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.errors import RefusedFile
from pipeline.intake.mapping import nights, times, words
from pipeline.intake.mapping.work import Work

DAY = timedelta(days=1)


def time_columns(work: Work) -> list[str]:
    return [name for name in work.cells if (column := work.column(name)) and column.kind in ("time", "day")]


def order_of(work: Work, names: list[str]) -> str:
    """Whether days stand before months: as mapping.toml says, or from all the file's dates. Raises RefusedFile."""
    if work.kind.dates or work.kind.plain:
        return work.kind.dates or "dmy"
    undecided, decided = None, {}
    for name in names:
        found = times.day_order(text for text in work.cells[name].dictionary_encode().dictionary.to_pylist() if text)
        if found.choice is None:
            undecided = undecided or (name, found)
        elif found.why.endswith("first"):
            decided[found.choice] = found.why
    if undecided and len(decided) != 1:
        name, found = undecided
        raise RefusedFile(
            where=f"{work.grid.file.name}, column {work.header.get(name, name)}",
            found="dates whose day and month could be exchanged" if work.is_personal(name) else found.why,
            wanted="to know whether the day or the month comes first",
            fix=f'say dates = "dmy" or "mdy" {work.kind.place}, or export dates as 2025-03-06',
        )
    return next(iter(decided), "dmy")


def read(work: Work, serials: str, starts: Callable[[list[str]], dict[str, datetime]] | None = None) -> None:
    """Every time column in our form. serials: the sheet's day count; starts: case ids -> local start of their
    cases, for clocks in a file without a day."""
    names = time_columns(work)
    helpers = [name for name in ("day", "birth_date") if name in work.cells]
    order = order_of(work, names + helpers)
    for name in names + helpers:
        if not work.kind.plain or work.kind.time_format or not _all_iso(work.cells[name]):
            work.change(name, lambda text, count, name=name: one(work, name, text, order, serials, count))
    clocks = [name for name in names if work.column(name).kind == "time"]
    bound = [name for name in clocks if _bind_to_day(work, name)] if "day" in work.cells else []
    if starts and "case_id" in work.cells and "day" not in work.cells and work.table != "cases":
        for name in clocks:
            _bind_to_case(work, name, starts)
    if work.table == "cases":
        nights.roll_stages(work)
    elif "case_id" in work.cells:
        for name in bound:
            nights.roll_readings(work, name)
    if work.kind.shift_minutes:
        for name in clocks:
            _shift(work, name)


def one(work: Work, name: str, text: str, order: str, serials: str, count: int) -> str:
    """One cell in our form; as it stood where it is no time, for the typing to judge."""
    if PLAIN.fullmatch(text):
        return text
    if work.kind.time_format and (found := times.by_format(text, work.kind.time_format)):
        work.note("time_read", "A", "", "Times were read in the form mapping.toml gives.", count)
        return found
    shape = times.shape(text)
    if shape is None or words.is_missing(text) or (work.kind.plain and shape.name in READ_BY_TYPING):
        return text
    found = times.parse_digits(text) if shape.name == "digits" else times.parse(text, order, serials)
    if found is None:
        return text
    if work.column(name) and work.column(name).kind == "day":
        found = found[:10] if len(found) >= 10 else text
    if shape.name == "serial":
        why = f"{name}: a spreadsheet's day numbers were read as dates ({serials} system)."
        work.note("spreadsheet_serial", "N", name, why, count, f"{text} -> {found}")
    elif shape.name in _SAID:
        why = f"{_SAID[shape.name].format(order={'dmy': 'day', 'mdy': 'month'}[order])}."
        work.note("time_read", "A", "", why, count, "" if name == "birth_date" else f"{text} -> {found}")
    return found


def _all_iso(cells: pa.ChunkedArray) -> bool:
    """Whether every cell that is not blank is a day with its clock in ISO 8601, which the typing reads by itself."""
    return pc.all(pc.match_substring_regex(cells, r"^\d{4}-\d\d-\d\d \d\d:\d\d(:\d\d)?$")).as_py() is not False


# What _is_clock says, for a whole column.
CLOCK = r"(?s)^..:..:..$"
PLAIN = re.compile(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d")
# Shapes that the typing of a file with our columns reads by itself.
READ_BY_TYPING = ("iso", "figures", "serial")
_SAID = {
    "figures": "Dates in figures were read with the {order} first",
    "word": "Month words were read",
    "word first": "Month words were read",
    "digits": "Clocks without a mark were read, hours before minutes",
    "clock half": "Hours with am and pm were read",
}


def _is_clock(text: str | None) -> bool:
    return bool(text) and len(text) == 8 and text[2] == ":" and text[5] == ":"


def _bind_to_day(work: Work, name: str) -> bool:
    """Clocks alone get the day of their row; whether there were any."""
    bound = []

    def read_pair(key, count):
        text, day = key
        if not _is_clock(text) or not day or len(day) < 10 or day[4] != "-":
            return text
        bound.append(count)
        return f"{day[:10]} {text}"

    work.combine(name, ("day",), read_pair)
    if bound:
        why = f"{name}: clock times were put on the day of their row."
        work.note("clock_bound", "A", name, why, sum(bound))
    return bool(bound)


def _bind_to_case(work: Work, name: str, starts) -> None:
    """Clocks alone get the day of their case, or the next where the clock lies well before its start."""
    if not pc.any(pc.match_substring_regex(work.cells[name], CLOCK)).as_py():
        return
    cases = sorted({case for case in work.cells["case_id"].dictionary_encode().dictionary.to_pylist() if case})
    began, back = starts(cases), timedelta(hours=float(words.evidence("clock_step_back_h")))
    bound = []

    def read_pair(key, count):
        text, case = key
        if not _is_clock(text) or case not in began:
            return text
        moment = datetime.combine(began[case].date(), datetime.strptime(text, "%H:%M:%S").time())
        if moment < began[case] - back:
            moment += DAY
        bound.append(count)
        return moment.isoformat(" ")

    work.combine(name, ("case_id",), read_pair)
    if bound:
        why = f"{name}: clock times were put on the day of their case, after midnight on the next."
        work.note("clock_bound", "N", name, why, sum(bound))


def _shift(work: Work, name: str) -> None:
    """The minutes mapping.toml says the clock was wrong by."""
    by = timedelta(minutes=work.kind.shift_minutes)

    def later(text, count):
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            return text
        why = f"{name}: {work.kind.shift_minutes:g} min were added, as mapping.toml says."
        work.note("clock_shifted", "N", name, why, count, f"{text} -> {(moment + by).isoformat(' ')}")
        return (moment + by).isoformat(" ")

    work.change(name, later)
