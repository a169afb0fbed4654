"""HL7 FHIR R4 as bulk NDJSON or Bundles: resources to the rows of our tables.

Patient with the animal extension, Procedure or Encounter -> cases; Observation -> vitals, or a fact about its case;
MedicationAdministration -> drugs; AdverseEvent and Procedure.complication -> events. Resources that are cancelled,
entered in error, not done or only potential are set aside and counted. Numbers keep their text, units their UCUM code.
"""

from pathlib import Path

import pyarrow as pa

from pipeline import schema
from pipeline.intake.grid import Grid, Note
from pipeline.intake.mapping.apply import apply
from pipeline.intake.mapping.clinic_file import FileKind, targets_of
from pipeline.intake.readers import FHIR_TABLES
from pipeline.intake.readers.fhir import case_rows, elements, other_rows
from pipeline.intake.readers.fhir.shelf import Shelf, case_column, shelf_of

NAME = "HL7 FHIR R4"
WHY = {
    "Patient": "a patient, read into its cases", "Practitioner": "a person, known by code alone",
    "Device": "a device, known by its id", "Medication": "a medication, read into its doses",
    "Encounter": "a visit, read into its cases",
}  # fmt: skip


class Part:
    """The rows one table gets from a file, and the lines that gave none."""

    def __init__(self):
        self.rows: list[dict[str, str | None]] = []
        self.lines: list[int] = []
        self.aside: list[tuple[int, str]] = []
        self.notes: list[Note] = []
        self.uncounted: list[str] = []

    def add(self, line: int, rows: list[dict[str, str | None]], why: str) -> None:
        self.rows += rows
        self.lines += [line] * len(rows)
        if not rows:
            self.aside.append((line, why))


def read(path: Path, found: list[tuple[int, dict]], odd: list, mapping) -> list[tuple[str, Grid]]:
    """(table, grid) of the resources of a file, or of the entries of its one Bundle."""
    found = _opened(found)
    shelf = shelf_of(path, found, mapping.fhir)
    parts: dict[str, Part] = {}
    for line, resource in found:
        kind = resource.get("resourceType", "")
        table = FHIR_TABLES.get(kind, "cases")
        part = parts.setdefault(table, Part())
        if why := _uncounted(resource):
            part.uncounted.append(why)
            part.add(line, [], why)
            continue
        part.add(line, *_rows(resource, shelf))
        if kind == "Procedure" and resource.get("complication") and shelf.is_anesthetic(resource):
            more = other_rows.complications(resource, elements.identifier(resource), shelf)
            parts.setdefault("events", Part()).add(line, more, "")
    first = next(iter(parts))
    if "cases" in parts and not shelf.anesthetics and any(one.get("resourceType") == "Procedure" for _, one in found):
        why = "No Procedure says that it is an anesthetic; say which are, as cases under [fhir] in mapping.toml."
        parts["cases"].notes.append(Note("no_anesthetic", "W", "", 1, why))
    return [(table, _grid(path, table, part, mapping, odd if table == first else [])) for table, part in parts.items()]


def _opened(found: list[tuple[int, dict]]) -> list[tuple[int, dict]]:
    """A Bundle as its entries, numbered from 1; other lines as they are."""
    if len(found) == 1 and found[0][1].get("resourceType") == "Bundle":
        return [(number, entry.get("resource") or {}) for number, entry in enumerate(found[0][1].get("entry", []), 1)]
    return found


def _uncounted(resource: dict) -> str:
    """Why a resource never counts, by its status; '' for one that does."""
    kind = resource.get("resourceType", "")
    if kind not in ("Observation", "MedicationAdministration", "AdverseEvent", "Procedure"):
        return ""
    real, status = elements.counts(resource)
    return "" if real else f"{kind} that is {status}"


def _rows(resource: dict, shelf: Shelf) -> tuple[list[dict[str, str | None]], str]:
    """(rows, why there are none) of one resource."""
    kind = resource.get("resourceType", "")
    if kind == "Observation":
        if case_column(resource, shelf.fhir):
            return [], "a fact about a case, read into it"
        return other_rows.readings(resource, shelf), "no value of a parameter we keep"
    if kind == "MedicationAdministration":
        return other_rows.doses(resource, shelf), ""
    if kind == "AdverseEvent":
        return other_rows.events(resource, shelf), ""
    if shelf.is_anesthetic(resource):
        return [case_rows.case_row(resource, shelf)], ""
    if kind == "Procedure":
        return [], "a procedure that is no anesthetic"
    return [], WHY.get(kind, f"{kind or 'a resource without a type'}, no part of the record")


def _grid(path: Path, table: str, part: Part, mapping, odd: list) -> Grid:
    """The rows as one grid of our columns, words and units read like those of any other file."""
    needed = schema.TABLES[table].required
    names = [
        name for name in targets_of(table) if name in needed or any(row.get(name) is not None for row in part.rows)
    ]
    cells = pa.table({name: pa.array([row.get(name) for row in part.rows], pa.string()) for name in names})
    rows = pa.array(part.lines, pa.int64())
    notes = [*part.notes, *_not_counted(part)]
    grid = Grid(path, table, cells, rows, part.aside, odd, notes, {"encoding": NAME})
    kind = FileKind(
        name=NAME,
        files=["*"],
        table=table,
        decimal=".",
        dates="dmy",
        columns={name: name for name in cells.column_names},
    )
    made = apply(grid, kind, mapping)
    if len(set(part.lines)) < len(part.lines):
        made.before_rows = made.rows
    return made


def _not_counted(part: Part) -> list[Note]:
    """Resources that never count, by their status."""
    if not part.uncounted:
        return []
    why = "Resources that are cancelled, entered in error, not done or not certain were set aside."
    return [Note("not_counted", "A", "", len(part.uncounted), why, tuple(sorted(set(part.uncounted))[:2]))]
