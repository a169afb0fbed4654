"""What `rounds map` would write of one kind of file, before it is text."""

from dataclasses import dataclass, field
from decimal import Decimal

from pipeline import schema
from pipeline.intake.mapping import numbers
from pipeline.intake.mapping.clinic_file import Question


@dataclass
class Draft:
    """What would be written: as FileKind, with remarks beside the columns and below."""

    name: str
    files: str
    table: str
    sheet: str = ""
    header_rows: int = 1
    decimal: str = ""
    dates: str = ""
    columns: dict[str, str] = field(default_factory=dict)
    remarks: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    events: dict[str, str] = field(default_factory=dict)
    unknown_words: dict[str, dict[str, str]] = field(default_factory=dict)
    questions: list[Question] = field(default_factory=list)


def is_number(table: str, column: str) -> bool:
    """Whether a column of ours holds numbers."""
    own = {one.name: one.kind for one in schema.TABLES[table].columns}
    return own.get(column) == "number" or (table == "vitals" and column in (*schema.PARAMETERS, "blood_pressure"))


def unit_of(table: str, column: str) -> str:
    """Our unit of a column, '' if it has none."""
    if table == "vitals" and column in (*schema.PARAMETERS, "blood_pressure"):
        return schema.PARAMETERS.get(column, "mmHg")
    return next((one.unit for one in schema.TABLES[table].columns if one.name == column), "")


def middle(cells: list[str], decimal: str) -> Decimal | None:
    """The middle of a column's bare numbers; None where there is none."""
    found = [number.value for cell in cells if (number := numbers.parse(cell, decimal or ".")) and not number.unit]
    return sorted(found)[len(found) // 2] if found else None
