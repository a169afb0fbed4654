"""Units once, at the door: every number of a mapped file in our unit, with a decimal point.

Factors are applied to declared units only: a dose, a weight or a bare number is never repaired by one. What is
no number is left as it stood, for the typing to judge.
"""

from decimal import Decimal

import pyarrow as pa
import pyarrow.compute as pc

from pipeline import schema
from pipeline.errors import RefusedFile
from pipeline.intake import words as cell_words
from pipeline.intake.grid import Grid
from pipeline.intake.mapping import numbers, words
from pipeline.intake.mapping.clinic_file import FILE, FileKind
from pipeline.intake.mapping.work import Unreadable, Work


def number_columns(work: Work) -> dict[str, str]:
    """Column of the file that holds numbers -> our unit of it."""
    found = {}
    for name in work.cells:
        column = work.column(name)
        if column and column.kind == "number" and not (work.table == "vitals" and name == "value"):
            found[name] = column.unit
        elif work.table == "vitals" and name in schema.PARAMETERS and column is None:
            found[name] = schema.PARAMETERS[name]
    return found


def decimal_of(work: Work, names: list[str]) -> str:
    """The decimal sign of the file's numbers: mapping.toml's, or what all its number cells say. Raises RefusedFile."""
    if work.kind.decimal:
        return work.kind.decimal
    if work.kind.plain and all(_bare(work.cells[name]) for name in names):
        return "."
    every = {text for name in names for text in work.cells[name].dictionary_encode().dictionary.to_pylist()}
    found = numbers.decimal_sign(sorted(every))
    if work.kind.plain:
        return found.choice or "."
    if found.choice is None:
        raise RefusedFile(
            where=f"{work.grid.file.name}, numbers",
            found=found.why,
            wanted="to know whether the comma is a decimal sign",
            fix=f'say decimal = "," or decimal = "." {work.kind.place}',
        )
    if found.choice == ",":
        work.note("decimal_comma", "A", "", f"Numbers were read with a decimal comma: {found.why}.", len(every))
    return found.choice


def _bare(cells: pa.Array) -> bool:
    """Whether every cell that is not blank is figures with or without a point, so that nothing speaks for a comma."""
    return pc.all(pc.match_substring_regex(cells, f"^({numbers.BARE.pattern})$")).as_py() is not False


def unit_said(grid: Grid, kind: FileKind, header: str, column: str, in_file: str) -> str:
    """The unit mapping.toml names for a column, else the file (in_file). Raises RefusedFile where they differ."""
    said = kind.units.get(header) or kind.units.get(column) or ""
    if said and in_file and said != in_file:
        pairs = [(known.get(said), known.get(in_file)) for known in words.units().values()]
        if not any(one and other and one.factor == other.factor for one, other in pairs):
            raise RefusedFile(
                where=f"{grid.file.name}, column {header}",
                found=f"the unit {in_file!r} in the file, and {said!r} in {FILE}",
                wanted="one of them",
                fix=f"correct the unit {kind.place}, or export the column in {said}",
            )
    return said or in_file


def unit_declared(work: Work, name: str, ours: str) -> words.Unit | None:
    """The unit the header, the unit line or mapping.toml names for a column; None for none. Raises RefusedFile."""
    spelling = work.declared.get(name, "")
    if not spelling:
        return None
    unit = words.unit_of(ours, spelling)
    if unit is None:
        known = sorted({one.ucum for one in words.units().get(ours, {}).values()})
        raise RefusedFile(
            where=f"{work.grid.file.name}, column {work.header.get(name, name)}",
            found=f"the unit {spelling!r}, which we cannot bring to {ours or 'a plain number'}",
            wanted=f"one of {', '.join(known)}" if known else "no unit",
            fix=f"correct the header, or name the unit as units {work.kind.place}",
        )
    return unit


def read_column(work: Work, name: str, ours: str, decimal: str) -> None:
    """Every number of a column in our unit."""
    unit = unit_declared(work, name, ours)
    work.change(name, lambda text, count: read(work, text, name, ours, unit, decimal, count))


def read(work: Work, text: str, name: str, ours: str, unit: words.Unit | None, decimal: str, count: int) -> str:
    """One number in our unit as plain text; the text itself where it is no number. Raises Unreadable."""
    if work.kind.plain and name != "temperature" and (unit is None or unit.is_ours) and numbers.BARE.fullmatch(text):
        return text
    if words.is_missing(text) or numbers.is_error(text) or numbers.pressures(text):
        return text
    found = numbers.parse(text, decimal)
    if found is None or float(found.value) in cell_words.missing_numbers().get(name, ()):
        return text if found is None or work.kind.plain else numbers.plain(found.value)
    own = unit
    if found.unit and not ours:
        return text
    if found.unit:
        own = words.unit_of(ours, found.unit)
        if own is None and (len(found.unit) == 1 or work.kind.plain and found.unit not in words.spellings()):
            return text  # a letter among figures, such as 12O, is no unit
        if own is None:
            known = ", ".join(sorted({one.ucum for one in words.units().get(ours, {}).values()})) or "none"
            reason = f"{name} holds {work.shown(name, text)}; its unit is none we know for it ({known})"
            raise Unreadable("unit_unknown", reason)
    value = found.value
    if work.kind.plain and (own is None or own.is_ours) and name != "temperature":
        return text
    if own is not None and not own.is_ours:
        value = numbers.convert(value, own)
        why = f"{name}: {own.ucum} was converted to {ours}."
        work.note("unit_converted", "A", name, why, count, f"{text} -> {numbers.plain(value)}")
    elif own is None and name == "temperature":
        value = _temperature(work, value, text, name, count)
    elif found.unit:
        work.note("unit_in_cell", "A", name, f"{name}: units written in cells were read.", count)
    if work.kind.plain and value == found.value:
        return text
    result = found.sign + numbers.plain(value)
    return result.replace(".", ",") if work.kind.plain and decimal == "," else result


def _temperature(work: Work, value: Decimal, text: str, name: str, count: int) -> Decimal:
    """A temperature without a unit, by its value. Raises Unreadable where neither scale is possible."""
    low, high = words.evidence("fahrenheit_from"), words.evidence("fahrenheit_to")
    if low <= value <= high:
        converted = numbers.convert(value, words.unit_of("°C", "[degF]"))
        why = "temperature: without a unit, 77 to 113 can only be Fahrenheit; converted to °C."
        work.note("fahrenheit_by_value", "A", name, why, count, f"{text} -> {numbers.plain(converted)}")
        return converted
    if words.evidence("no_temperature_from") <= value < low:
        reason = f"{name} holds {text!r}, no body temperature in Celsius nor in Fahrenheit"
        raise Unreadable("temperature_unclear", reason, flagged=True)
    return value


def fractions(work: Work, name: str, values: list[Decimal]) -> bool:
    """Whether a saturation column holds fractions of one: all of its values do, more than one of them."""
    return name == "spo2" and len(values) > 1 and all(0 < value <= 1 for value in values)


def must_not_be_kpa(work: Work, values: list[Decimal]) -> None:
    """Raises RefusedFile where end-tidal CO2 has no declared unit and can hardly be mmHg (median below 12)."""
    real = sorted(value for value in values if value > 0)
    if real:
        middle_must_not_be_kpa(work, len(real), real[len(real) // 2])


def middle_must_not_be_kpa(work: Work, count: int, middle: Decimal) -> None:
    """The same by how many values are above 0, and the middle one of them."""
    if count < words.evidence("kpa_readings") or work.declared.get("etco2"):
        return
    if middle < words.evidence("kpa_below"):
        raise RefusedFile(
            where=f"{work.grid.file.name}, etco2",
            found=f"end-tidal CO2 with a middle value of {numbers.plain(middle)} and no unit",
            wanted="to know whether that is kPa or mmHg",
            fix=f'say etco2 = "kPa" or "mmHg" as units {work.kind.place}',
        )
