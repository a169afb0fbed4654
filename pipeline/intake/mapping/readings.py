"""Vitals of a mapped file, wide or long: parameter words, pressures in one cell, fractions, units."""

from decimal import Decimal

import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.intake import words as cell_words
from pipeline.intake.mapping import figures, layout, numbers, words
from pipeline.intake.mapping.distinct import distinct
from pipeline.intake.mapping.vocabulary import own_words
from pipeline.intake.mapping.work import Unreadable, Work


def read(work: Work, decimal: str) -> None:
    """Every reading in its parameter's unit, with a decimal point."""
    if "blood_pressure" in work.cells:
        split_pressures(work)
    if "parameter" in work.cells and "value" in work.cells:
        name_parameters(work)
        _read_long(work, decimal)
        return
    for name in schema.PARAMETERS:
        if name in work.cells:
            values = _values(work, name, decimal)
            _read_wide(work, name, decimal, values)


def parameter_of(text: str) -> tuple[str | None, str]:
    """(our parameter, unit it names or '') of a word for a reading.

    >>> parameter_of("HR"), parameter_of("Temp (°F)"), parameter_of("mood")
    (('heart_rate', ''), ('temperature', '°F'), (None, ''))
    """
    name, unit = layout.unit_in(words.tidy(text))
    meanings = {column for table, column in words.headers().get(words.fold_header(name), ()) if table == "reading"}
    return (meanings.pop() if len(meanings) == 1 else None), unit


def name_parameters(work: Work) -> None:
    """Words for readings as our parameters; a unit in such a word counts for its rows."""
    own = own_words(work, "parameter")
    stood = distinct(work.cells["parameter"])
    named, units = [], []
    for (text,), count in zip(stood.keys, stood.counts, strict=True):
        found, unit = parameter_of(text) if text else (None, "")
        found = own.get(words.fold(text), found) if text else None
        named.append(found or text)
        units.append(unit or None if found else None)
        if found and found != text:
            why = "parameter: words for a reading were read."
            work.note("parameter_word", "A", "parameter", why, count, f"{text} -> {found}")
    work.cells["parameter"] = stood.spread(named)
    if any(units):
        by_word = stood.spread(units)
        work.cells["unit"] = pc.coalesce(work.cells["unit"], by_word) if "unit" in work.cells else by_word


def _read_long(work: Work, decimal: str) -> None:
    others = ("parameter", "unit") if "unit" in work.cells else ("parameter",)
    found = distinct(work.cells["value"], work.cells["parameter"])
    by_parameter: dict[str, list[Decimal]] = {}
    for (text, parameter), count in zip(found.keys, found.counts, strict=True):
        value = _value(text, decimal)
        if value is not None:
            by_parameter.setdefault(parameter, [])
            if parameter in ("etco2", "spo2"):
                by_parameter[parameter] += [value] * min(int(count), 1000)
    if "unit" not in work.cells:
        figures.must_not_be_kpa(work, by_parameter.get("etco2", []))
    percent = figures.fractions(work, "spo2", by_parameter.get("spo2", []))
    declared = {
        name: figures.unit_declared(work, name, schema.PARAMETERS[name])
        for name in by_parameter
        if name in schema.PARAMETERS
    }

    def value(key, count):
        text, parameter, *unit = key
        ours = schema.PARAMETERS.get(parameter)
        if text is None or ours is None:
            return text
        own = declared.get(parameter)
        # Most readings are bare numbers that mean what they say.
        bare = own is None and not any(unit) and decimal == "." and numbers.BARE.fullmatch(text)
        stand_ins = cell_words.missing_numbers().get(parameter, ())
        if bare and work.kind.plain and parameter not in ("temperature", "spo2") and float(text) not in stand_ins:
            return text
        if unit and unit[0] and not words.is_missing(unit[0]):
            own = words.unit_of(ours, unit[0])
            if own is None:
                reason = f"{parameter} has the unit {unit[0]!r}, which we cannot bring to {ours}"
                raise Unreadable("unit_unknown", reason)
        return _bare(work, text, parameter, ours, own, decimal, percent, count)

    work.combine("value", others, value)


def _value(text: str | None, decimal: str) -> Decimal | None:
    """A number without a unit."""
    if text and decimal == "." and numbers.BARE.fullmatch(text):
        return Decimal(text)
    number = numbers.parse(text, decimal) if text else None
    return number.value if number and not number.unit else None


def _bare(work: Work, text: str, name: str, ours: str, unit, decimal: str, percent: bool, count: int) -> str | None:
    """A long reading, of which the typing knows no parameter: without its own unit, stand-ins for missing unknown."""
    number = numbers.parse(text, decimal)
    if number and not number.unit and float(number.value) in cell_words.missing_numbers().get(name, ()):
        why = f"{name}: numbers that stand for 'not measured' were taken as unknown."
        work.note("missing_number", "N", "value", why, count, f"{text} -> unknown")
        return None
    if number and number.unit and (own := words.unit_of(ours, number.unit)) and own.is_ours:
        work.note("unit_in_cell", "A", "value", f"{name}: units written in cells were read.", count)
        text = number.sign + numbers.plain(number.value).replace(".", decimal)
    return one(work, text, name, ours, unit, decimal, percent, count)


def _values(work: Work, name: str, decimal: str) -> list[Decimal]:
    """The numbers of a wide column, with repeats."""
    found = distinct(work.cells[name])
    values = []
    for (text,), count in zip(found.keys, found.counts, strict=True):
        value = _value(text, decimal)
        if value is not None:
            values += [value] * min(int(count), 1000)
    return values


def _read_wide(work: Work, name: str, decimal: str, values: list[Decimal]) -> None:
    ours = schema.PARAMETERS[name]
    unit = figures.unit_declared(work, name, ours)
    if name == "etco2":
        figures.must_not_be_kpa(work, values)
    percent = figures.fractions(work, name, values)
    work.change(name, lambda text, count: one(work, text, name, ours, unit, decimal, percent, count))


def one(work: Work, text: str, name: str, ours: str, unit, decimal: str, percent: bool, count: int) -> str | None:
    number = numbers.parse(text, decimal) if name == "spo2" and unit is None else None
    if number and not number.unit and 0 < number.value <= 1:
        if not percent:
            reason = f"spo2 holds {text!r}, a fraction among percentages"
            raise Unreadable("fraction_among_percent", reason, flagged=True)
        why = "spo2: every value is at most 1, so fractions were read as percent."
        result = numbers.plain(number.value * 100)
        work.note("fraction", "A", "spo2", why, count, f"{text} -> {result}")
        return result
    return figures.read(work, text, name, ours, unit, decimal, count)


def split_pressures(work: Work) -> None:
    """Cells such as 120/80 (93) as systolic, diastolic and mean; one number alone is of no known kind."""
    parts: dict[str, list[str | None]] = {"sap": [], "dap": [], "map": []}
    split = 0
    for position, text in enumerate(work.texts("blood_pressure")):
        found = numbers.pressures(text) if text else None
        in_order = found and _in_order(found)
        split += bool(in_order)
        if text and not in_order and not words.is_missing(text):
            why = (
                "is out of order (systolic >= mean >= diastolic)"
                if found
                else "is one number; which pressure is not known"
            )
            reason = f"blood pressure {text!r} {why}"
            work.fault(position, "blood_pressure", text, Unreadable("pressure_unclear", reason, flagged=True))
        for name, part in zip(("sap", "dap", "map"), found[:3] if in_order else (None,) * 3, strict=True):
            parts[name].append(part)
    unit = work.declared.get("blood_pressure", "")
    for name, texts in parts.items():
        column = pa.array(texts, pa.string())
        work.cells[name] = pc.coalesce(work.cells[name], column) if name in work.cells else column
        work.header.setdefault(name, work.header["blood_pressure"])
        if unit:
            work.declared.setdefault(name, unit)
    work.cells.pop("blood_pressure")
    if split:
        why = "Two or three pressures in one cell were told apart."
        work.note("pressures_split", "A", "sap", why, split)


def _in_order(found: tuple) -> bool:
    high, low, middle = int(found[0]), int(found[1]), found[2]
    return high >= low and (middle is None or high >= int(middle) >= low)
