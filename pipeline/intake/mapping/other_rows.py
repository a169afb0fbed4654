"""Rows of events and equipment in a mapped file: ticks, 'none noted', rows that do not count, checks in words."""

import re

import numpy as np
import pyarrow as pa

from pipeline.intake.mapping import numbers, words
from pipeline.intake.mapping.work import Unreadable, Work

TICKED, NOT = "yes", "no"
# The unit a value has by what was done.
UNIT_BY_ACTION = {"leak_tested": "mL/min", "weighed": "g", "changed": "g", "filled": "mL"}
FIGURE = re.compile(r"^(?P<word>[^\d]*?)\s*(?P<figure>\d+(?:[.,]\d+)?\s*[^\d\s][^\d]*|\d+(?:[.,]\d+)?)$")


def set_aside_uncounted(work: Work) -> list[tuple[int, str]]:
    """Rows whose status says cancelled, entered in error or not given: (row, why); they leave the work."""
    aside = []
    if "status" in work.cells:
        status = [words.fold(text) if text else "" for text in work.texts("status")]
        aside = [position for position, word in enumerate(status) if word in words.of_kind("not_counted")]
        work.cells.pop("status")
        if aside:
            why = "Rows whose status says that nothing was done or given were set aside."
            work.note("not_counted", "A", "", why, len(aside))
    return _leave(work, aside, "not given, cancelled or entered in error")


def set_aside_none(work: Work) -> list[tuple[int, str]]:
    """Rows that say no event happened: (row, why)."""
    if "event" not in work.cells:
        return []
    none = words.of_kind("none_event")
    aside = [position for position, text in enumerate(work.texts("event")) if text and words.fold(text) in none]
    if aside:
        why = "Rows that say no complication happened were set aside; they are no events."
        work.note("no_event", "A", "event", why, len(aside))
    return _leave(work, aside, "no complication")


def _leave(work: Work, aside: list[int], why: str) -> list[tuple[int, str]]:
    rows = [(int(work.rows[position]), why) for position in aside]
    if aside:
        work.take(np.setdiff1d(np.arange(len(work)), aside))
    return rows


def ticks(work: Work, columns: dict[str, pa.Array]) -> list[tuple[int, str]]:
    """Rows of events from columns of ticks (event -> its column): a ticked cell is an event, a cell that says no is
    none, a blank one was not charted. Other words stay, for the typing to refuse: text is never searched for
    events. Rows without a tick are set aside: (row, why)."""
    known = words.of_kind("yes_no")
    texts = {event: column.to_pylist() for event, column in columns.items()}
    positions, events = [], []
    for position in range(len(work)):
        for event, cells in texts.items():
            text = cells[position]
            answer = known.get(words.fold(text)) if text else None
            if text and answer != NOT and not words.is_missing(text):
                positions.append(position)
                events.append(event if answer == TICKED else text)
    rows = work.rows
    aside = [(int(rows[position]), "no complication ticked") for position in set(range(len(work))) - set(positions)]
    work.take(np.array(positions, np.int64))
    work.cells["event"] = pa.array(events, pa.string())
    work.header.setdefault("event", "ticks")
    return sorted(aside)


def equipment(work: Work, decimal: str) -> None:
    """Values of equipment with their units: 'leak 250 ml' is 250 mL/min, 'pass' is no number."""
    if "value" not in work.cells:
        return
    others = tuple(name for name in ("unit", "action") if name in work.cells)

    def one(key, count):
        text, more = key[0], dict(zip(others, key[1:], strict=True))
        if text is None or words.is_missing(text):
            return text
        if words.fold(text) in words.of_kind("passed"):
            reason = f"value holds {text!r}: a check with its result in words, without the figure measured"
            raise Unreadable("check_in_words", reason, flagged=True)
        found = FIGURE.match(words.tidy(text))
        number = numbers.parse(found["figure"], decimal) if found else None
        if number is None:
            return text
        ours = UNIT_BY_ACTION.get(words.code_of("action", more.get("action") or "") or "")
        spelling = number.unit or (more.get("unit") or "")
        unit = words.unit_of(ours, spelling) if ours and spelling else None
        value = numbers.convert(number.value, unit) if unit else number.value
        if work.kind.plain and value == number.value and not found["word"] and not number.unit:
            return text
        if found["word"] or number.unit or (unit and not unit.is_ours):
            why = "value: figures were read out of cells with words or units."
            work.note("figure_read", "A", "value", why, count, f"{text} -> {numbers.plain(value)}")
        return numbers.plain(value)

    work.combine("value", others, one)
    if "unit" in work.cells and "action" in work.cells:
        work.combine("unit", ("action",), _unit)


def _unit(key: tuple, count: int) -> str | None:
    """The unit of the value after conversion, in our spelling; as charted where we know none."""
    text, action = key
    ours = UNIT_BY_ACTION.get(words.code_of("action", action or "") or "")
    return ours if ours and text and words.unit_of(ours, text) else text
