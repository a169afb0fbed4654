"""Observation, MedicationAdministration and AdverseEvent as rows of vitals, drugs and events."""

from pipeline.intake.mapping.dose_rows import amount_unit
from pipeline.intake.readers.fhir import elements
from pipeline.intake.readers.fhir.shelf import Shelf

Rows = list[dict[str, str | None]]


def readings(observation: dict, shelf: Shelf) -> Rows:
    """The readings of an Observation, its own value and those of its components; none without a parameter of ours."""
    taken, _ = elements.times(observation, "effective")
    base = {"case_id": shelf.case_of(observation), "taken_at": taken}
    rows = []
    for part in (observation, *observation.get("component", [])):
        parameter = parameter_of(part, shelf)
        content, unit = elements.value(part)
        if parameter and content is not None:
            rows.append({**base, "parameter": parameter, "value": content, "unit": unit})
    return rows


def parameter_of(part: dict, shelf: Shelf) -> str | None:
    """The parameter an Observation or component reads, by mapping.toml, else by LOINC or IEEE 11073."""
    for code in elements.codes(part.get("code")):
        if code in shelf.fhir.observations:
            return shelf.fhir.observations[code]
    return elements.meaning("observation", part.get("code"))


def doses(given: dict, shelf: Shelf) -> Rows:
    """A MedicationAdministration as one row: a rate is an infusion, a dose a bolus."""
    start, end = elements.times(given, "effective")
    dosage = given.get("dosage") or {}
    rate = elements.quantity(dosage.get("rateQuantity"))
    rate = rate if rate[0] else elements.ratio(dosage.get("rateRatio"))
    dose = elements.quantity(dosage.get("dose"))
    # Some give the minutes a dose ran over as its rate; those are no rate.
    is_rate = rate[0] is not None and (dose[0] is None or amount_unit(rate[1]) is not None)
    amount, unit = rate if is_rate else dose
    kind = "infusion" if is_rate else "bolus"
    medication = _medication(given, shelf)
    row = {
        "case_id": shelf.case_of(given),
        "drug": elements.text(given.get("medicationCodeableConcept") or (medication or {}).get("code")),
        "kind": kind,
        "route": elements.meaning("route", dosage.get("route")) or elements.text(dosage.get("route")),
        "given_at": start,
        "stopped_at": end if end != start else None,
        "amount": amount,
        "amount_unit": unit or None,
        "lot": ((medication or {}).get("batch") or {}).get("lotNumber"),
    }
    for performer in given.get("performer", []):
        said = (elements.text(performer.get("function")) or "").casefold()
        row.setdefault("witnessed_by" if "witness" in said else "given_by", shelf.person(performer.get("actor")))
    return [row | _more(given, shelf)]


def _medication(given: dict, shelf: Shelf) -> dict | None:
    """The Medication a dose points to, inside the resource ('#med1') or in the export."""
    pointed = given.get("medicationReference") or {}
    if pointed.get("reference", "").startswith("#"):
        number = pointed["reference"][1:]
        return next((one for one in given.get("contained", []) if one.get("id") == number), None)
    return shelf.get("Medication", pointed)


def events(event: dict, shelf: Shelf) -> Rows:
    """An AdverseEvent as one row."""
    row = {
        "case_id": shelf.case_of(event),
        "event": elements.text(event.get("event")),
        "occurred_at": event.get("date") or event.get("detected"),
        "severity": elements.meaning("severity", event.get("severity")) or elements.text(event.get("severity")),
    }
    return [row | _more(event, shelf)]


def complications(procedure: dict, case: str, shelf: Shelf) -> Rows:
    """The complications a Procedure states, without a time."""
    return [{"case_id": case, "event": elements.text(one)} for one in procedure.get("complication", [])]


def _more(resource: dict, shelf: Shelf) -> dict[str, str | None]:
    found = elements.extensions(resource, shelf.fhir.extensions)
    return {column: f"{content} {unit}".strip() if content else None for column, (content, unit) in found.items()}
