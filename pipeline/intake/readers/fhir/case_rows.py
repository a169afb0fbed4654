"""Procedure (or Encounter), Patient and the Observations about a case, as rows of cases."""

from pipeline.intake.mapping import named, words
from pipeline.intake.readers.fhir import elements
from pipeline.intake.readers.fhir.shelf import Shelf, case_column

ANIMAL = "http://hl7.org/fhir/StructureDefinition/patient-animal"


def case_row(resource: dict, shelf: Shelf) -> dict[str, str | None]:
    """One anesthetic as texts by our columns."""
    patient = shelf.get("Patient", resource.get("subject"))
    start, end = _period(resource)
    surgery = next((shelf.resources.get(one) for one in elements.references(resource, "partOf")), None)
    row = {
        "case_id": elements.identifier(resource),
        "patient_id": elements.identifier(patient) or elements.reference(resource.get("subject")),
        "procedure": elements.text((surgery or resource).get("code")),
        "procedure_group": elements.text((surgery or {}).get("category")),
        "site": elements.reference(resource.get("location")) if isinstance(resource.get("location"), dict) else None,
        "machine_id": next((number for kind, number in elements.references(resource, "usedReference")), None),
        "outcome": elements.text(resource.get("outcome")),
        shelf.fhir.period_start: start,
        shelf.fhir.period_end: end,
    }
    row |= animal(patient)
    row |= _people(resource, shelf)
    for observation in shelf.about:
        if shelf.case_of(observation) == row["case_id"] and elements.counts(observation)[0]:
            content, unit = elements.value(observation)
            if content is not None:
                row[case_column(observation, shelf.fhir)] = f"{content} {unit}".strip()
    for column, (content, unit) in elements.extensions(resource, shelf.fhir.extensions).items():
        row[column] = f"{content} {unit}".strip() if content else None
    return row


def _period(resource: dict) -> tuple[str | None, str | None]:
    if resource["resourceType"] == "Encounter":
        period = resource.get("period") or {}
        return period.get("start"), period.get("end")
    return elements.times(resource, "performed")


def animal(patient: dict | None) -> dict[str, str | None]:
    """species, breed, sex and birth_date of a Patient; without the animal extension the species is unknown.

    Source: HL7 FHIR R4 patient-animal extension: species 1..1, breed 0..1, genderStatus 0..1.
    """
    if patient is None:
        return {}
    parts = {}
    for extension in patient.get("extension", []):
        if extension.get("url") == ANIMAL:
            parts = {one.get("url"): one.get("valueCodeableConcept") for one in extension.get("extension", [])}
    sex = patient.get("gender") if patient.get("gender") in ("male", "female") else None
    status = [word.casefold() for word in elements.codes(parts.get("genderStatus"))]
    if sex and "neutered" in status:
        sex = f"{sex}_neutered"
    species = elements.meaning("species", parts.get("species"))
    said = [elements.text(parts.get("species")), *elements.codes(parts.get("species"))]
    species = species or next((code for word in said if word and (code := words.code_of("species", word))), said[0])
    return {
        "species": species,
        "breed": elements.text(parts.get("breed")),
        "sex": sex,
        "birth_date": patient.get("birthDate"),
    }


def _people(resource: dict, shelf: Shelf) -> dict[str, str | None]:
    """Performers by their function: mapping.toml's words first, then the words for our columns."""
    people: dict[str, str | None] = {}
    for performer in resource.get("performer", []):
        function = performer.get("function")
        column = next(
            (shelf.fhir.performers[code] for code in elements.codes(function) if code in shelf.fhir.performers), None
        )
        if column is None:
            meant = {one for table, one in named.meanings(elements.text(function) or "") if table == "cases"}
            column = meant.pop() if len(meant) == 1 else None
        if column:
            people.setdefault(column, shelf.person(performer.get("actor")))
    return people
