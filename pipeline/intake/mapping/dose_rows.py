"""Rows of drugs in a mapped file: names, several drugs in a cell, amounts with the unit they were charted in.

An amount without a unit stays without one; nothing here changes a dose by a factor but a declared unit of the
same kind (g to mg, mg/kg/min to mg/kg/h).
"""

import re
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from pipeline import schema
from pipeline.intake.mapping import numbers, vocabulary, words
from pipeline.intake.mapping.distinct import distinct
from pipeline.intake.mapping.work import Unreadable, Work

PART = re.compile(r"^(?P<drug>[^\d+]+?)\s+(?P<amount>\d+(?:[.,]\d+)?)\s*(?P<unit>[^\d\s+][^+]*)?$")


class Dose(NamedTuple):
    drug: str
    amount: str
    unit: str


def read(work: Work, decimal: str) -> None:
    """Drugs by our names, amounts as plain numbers in one of our amount units."""
    if "drug" in work.cells:
        split_drugs(work)
        work.change("drug", lambda text, count: vocabulary.drug(work, text, count))
    if "amount" in work.cells:
        _amounts(work, decimal)


def split_drugs(work: Work) -> None:
    """'methadone 0.2 + acepromazine 0.02' as two rows if every part has its amount; else it stays, flagged."""
    said = work.cells["drug"].dictionary_encode().dictionary.to_pylist()
    parts = {text: doses(text) for text in said if text and "+" in text}
    if not parts:
        return
    amounts = work.texts("amount") if "amount" in work.cells else [None] * len(work)
    positions, given = [], []
    for position, (text, amount) in enumerate(zip(work.texts("drug"), amounts, strict=True)):
        found = parts.get(text) if amount is None else None
        if text in parts and not found:
            reason = f"drug holds {text!r}, several drugs in one cell whose amounts cannot be told apart"
            work.fault(position, "drug", text, Unreadable("several_drugs", reason, flagged=True))
        for dose in found or [Dose(text, amount, "")]:
            positions.append(position)
            given.append(dose)
        if found:
            why = "drug: several drugs in one cell were made a row each."
            work.note("drugs_split", "N", "drug", why, 1, f"{text} -> {len(found)} rows")
    work.take(np.array(positions, np.int64))
    work.cells["drug"] = pa.array([dose.drug for dose in given], pa.string())
    if any(dose.amount for dose in given):
        texts = [f"{dose.amount} {dose.unit}".strip() if dose.amount else None for dose in given]
        work.cells["amount"] = pa.array(texts, pa.string())
        work.header.setdefault("amount", work.header["drug"])


def doses(text: str) -> list[Dose]:
    """The drugs of a cell with their amounts; none if a part has no amount.

    >>> [dose.drug for dose in doses("methadone 0.2 mg/kg + acepromazine 0.02 mg/kg")]
    ['methadone', 'acepromazine']
    >>> doses("methadone + acepromazine")
    []
    """
    found = [PART.match(words.tidy(part)) for part in text.split("+")]
    return [Dose(one["drug"], one["amount"], one["unit"] or "") for one in found] if all(found) else []


def amount_unit(spelling: str) -> words.Unit | None:
    """The unit of amounts spelled so.

    >>> amount_unit("µg/kg").ours, amount_unit("mg/kg/min").ours, amount_unit("IU")
    ('mcg/kg', 'mg/kg/h', None)
    """
    return next((unit for ours in schema.AMOUNT_UNITS if (unit := words.unit_of(ours, spelling))), None)


def _amounts(work: Work, decimal: str) -> None:
    """amount and amount_unit together: the cell's own unit first, then the unit column's, then the header's."""
    if "amount_unit" not in work.cells:
        work.cells["amount_unit"] = pa.nulls(len(work), pa.string())
    found = distinct(work.cells["amount"], work.cells["amount_unit"])
    amounts, units = [], []
    for number, ((text, unit), count) in enumerate(zip(found.keys, found.counts, strict=True)):
        try:
            amount, unit = _amount(work, text, unit, decimal, count)
        except Unreadable as fault:
            amount = unit = None
            for position in np.flatnonzero(found.codes == number):
                work.fault(int(position), "amount", text, fault)
        amounts.append(amount)
        units.append(unit)
    work.cells["amount"], work.cells["amount_unit"] = found.spread(amounts), found.spread(units)


def _amount(work: Work, text: str | None, unit: str | None, decimal: str, count: int) -> tuple[str | None, str | None]:
    if work.kind.plain and unit in schema.AMOUNT_UNITS and text is not None and numbers.BARE.fullmatch(text):
        return text, unit
    own = None if unit is None or words.is_missing(unit) else unit
    if text is None or words.is_missing(text):
        known = amount_unit(own) if own else None
        return text, known.ours if known else unit
    number = numbers.parse(text, decimal)
    if number is None:
        return text, unit
    if work.kind.plain and own in schema.AMOUNT_UNITS and not number.unit:
        return text, unit
    spelling = number.unit or own or work.declared.get("amount", "")
    if not spelling:
        why = "amount: no unit was given; the amount is kept, but no dose is reckoned from it."
        work.note(
            "amount_without_unit", "W", "amount", why, count, f"{text} -> {numbers.plain(number.value)}, unit unknown"
        )
        return number.sign + numbers.plain(number.value), None
    known = amount_unit(spelling)
    if known is None:
        known_units = ", ".join(schema.AMOUNT_UNITS)
        reason = f"amount holds {text!r} in {spelling!r}, a unit we do not know for doses (we know {known_units})"
        raise Unreadable("unit_unknown", reason)
    value = numbers.convert(number.value, known)
    result = number.sign + numbers.plain(value)
    if work.kind.plain and decimal == ",":
        result = result.replace(".", ",")
    if known.spelling != known.ours:
        why = "amount: units of doses were brought to one spelling."
        work.note("dose_unit", "A", "amount_unit", why, count, f"{text} {spelling} -> {result} {known.ours}")
    return result, known.ours
