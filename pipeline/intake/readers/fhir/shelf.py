"""What the resources of one export tell of each other: a bulk export is a folder, and its files are read together."""

from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from pipeline.errors import RefusedFile
from pipeline.intake import contents
from pipeline.intake.mapping.clinic_file import Fhir
from pipeline.intake.readers import columnar
from pipeline.intake.readers.fhir import elements

# Resources other ones point to; of Observations only those that belong to a case.
KEPT = ("Patient", "Procedure", "Encounter", "Practitioner", "PractitionerRole", "Device", "Medication")


@dataclass
class Shelf:
    """resources: (type, id) -> resource; about: Observations that state something of a case, such as its weight;
    anesthetics: id of a Procedure or Encounter -> case id; by_encounter: Encounter id -> case ids;
    by_surgery: id of the surgery's Procedure -> case id; by_day: (Patient id, day) -> case ids."""

    fhir: Fhir
    resources: dict[tuple[str, str], dict] = field(default_factory=dict)
    about: list[dict] = field(default_factory=list)
    anesthetics: dict[str, str] = field(default_factory=dict)
    by_encounter: dict[str, list[str]] = field(default_factory=dict)
    by_surgery: dict[str, str] = field(default_factory=dict)
    by_day: dict[tuple[str, str], list[str]] = field(default_factory=dict)

    def add(self, resource: dict) -> None:
        kind, number = resource.get("resourceType", ""), resource.get("id", "")
        if kind == "Bundle":
            for entry in resource.get("entry", []):
                self.add(entry.get("resource") or {})
        elif kind in KEPT:
            self.resources[kind, number] = resource
        elif kind == "Observation" and case_column(resource, self.fhir):
            self.about.append(resource)

    def settle(self) -> None:
        """Which resources are anesthetics, once all are here."""
        for (kind, number), resource in self.resources.items():
            if not self.is_anesthetic(resource):
                continue
            case = elements.identifier(resource) or number
            self.anesthetics[number] = case
            encounter = number if kind == "Encounter" else elements.reference(resource.get("encounter"))
            if encounter:
                self.by_encounter.setdefault(encounter, []).append(case)
            for _, surgery in elements.references(resource, "partOf"):
                self.by_surgery[surgery] = case
            start = (resource.get("period") or {}).get("start") or elements.times(resource, "performed")[0]
            patient = elements.reference(resource.get("subject"))
            if start and patient:
                self.by_day.setdefault((patient, start[:10]), []).append(case)

    def is_anesthetic(self, resource: dict) -> bool:
        """Whether a Procedure or Encounter is one case, by [fhir] cases in mapping.toml."""
        kind = resource.get("resourceType")
        if self.fhir.cases == "encounter":
            return kind == "Encounter" and elements.counts(resource)[0]
        if kind != "Procedure" or not elements.counts(resource)[0]:
            return False
        return self.fhir.cases == "procedure" or _says_anesthesia(resource)

    def case_of(self, resource: dict) -> str | None:
        """The case a resource belongs to: by the Procedure it is part of, else by its Encounter, else the only
        anesthetic of its patient on that day."""
        for kind, number in elements.references(resource, "partOf"):
            if number in self.anesthetics or number in self.by_surgery:
                return self.anesthetics.get(number) or self.by_surgery[number]
            if kind == "Procedure":
                return number
        for _, number in elements.references(resource, "encounter", "context"):
            cases = self.by_encounter.get(number, [])
            return cases[0] if len(cases) == 1 else self.anesthetics.get(number, number)
        when = elements.times(resource, "effective")[0] or resource.get("date") or ""
        cases = self.by_day.get((elements.reference(resource.get("subject")) or "", when[:10]), [])
        return cases[0] if len(cases) == 1 else None

    def get(self, kind: str, element: dict | None) -> dict | None:
        """The resource of a type that a Reference points to, if the export holds it."""
        number = elements.reference(element)
        return self.resources.get((kind, number)) if number else None

    def person(self, element: dict | None) -> str | None:
        """A person's code: the identifier of the Practitioner, else the id pointed to; never a name."""
        return elements.identifier(self.get("Practitioner", element)) or elements.reference(element)


def _says_anesthesia(procedure: dict) -> bool:
    for concept in (procedure.get("category"), procedure.get("code")):
        said = " ".join([elements.text(concept) or "", *elements.codes(concept)]).casefold()
        if elements.meaning("anesthetic", concept) or "anesth" in said or "anaesth" in said or "narkose" in said:
            return True
    return False


def case_column(observation: dict, fhir: Fhir) -> str | None:
    """The column of cases an Observation states, by mapping.toml, else by its LOINC code."""
    from pipeline import schema

    for code in elements.codes(observation.get("code")):
        column = fhir.observations.get(code)
        if column:
            return None if column in schema.PARAMETERS else column
    return elements.meaning("case", observation.get("code"))


def shelf_of(path: Path, found: list[tuple[int, dict]], fhir: Fhir) -> Shelf:
    """The shelf of a file and of the FHIR files beside it."""
    shelf = Shelf(fhir)
    for sibling in sorted(path.parent.iterdir()):
        if sibling != path and sibling.is_file() and _may_be_fhir(sibling):
            for resource in _kept(sibling, sibling.stat().st_mtime_ns):
                shelf.add(resource)
    for _, resource in found:
        shelf.add(resource)
    shelf.settle()
    return shelf


def _may_be_fhir(path: Path) -> bool:
    names = [ending.casefold() for ending in path.suffixes]
    if not {".json", ".ndjson", ".jsonl"} & set(names):
        return False
    try:
        return contents.kind_of(contents.head_of(path)) in ("json", "gzip", "zstandard")
    except RefusedFile:
        return False


@lru_cache(maxsize=64)
def _kept(path: Path, changed: int) -> tuple[dict, ...]:
    """The resources of a file that others may point to, and Observations that are no readings of a monitor."""
    try:
        found, _ = columnar.json_lines(path)
    except RefusedFile:
        return ()
    kept = []
    for _, resource in found:
        kind = resource.get("resourceType", "")
        if kind in (*KEPT, "Bundle") or (
            kind == "Observation" and not elements.meaning("observation", resource.get("code"))
        ):
            kept.append(resource)
    return tuple(kept)
