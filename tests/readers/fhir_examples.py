"""A handful of HL7's own FHIR R4 example resources, shortened to what is read.

Source: hl7.fhir.r4.examples 4.0.1, CC0.
"""

LOINC, UCUM = "http://loinc.org", "http://unitsofmeasure.org"


def concept(system: str, *codes: str) -> dict:
    return {"coding": [{"system": system, "code": code} for code in codes]}


def quantity(value, unit: str, code: str) -> dict:
    return {"value": value, "unit": unit, "system": UCUM, "code": code}


ANIMAL = {
    "resourceType": "Patient",
    "id": "animal",
    "extension": [
        {
            "url": "http://hl7.org/fhir/StructureDefinition/patient-animal",
            "extension": [
                {"url": "species", "valueCodeableConcept": {"coding": [
                    {"system": "http://hl7.org/fhir/animal-species", "code": "canislf", "display": "Dog"}]}},
                {"url": "breed", "valueCodeableConcept": {"coding": [
                    {"system": "http://snomed.info/sct", "code": "58108001", "display": "Golden retriever"}]}},
                {"url": "genderStatus", "valueCodeableConcept": {"coding": [
                    {"system": "http://hl7.org/fhir/animal-genderstatus", "code": "neutered"}]}},
            ],
        }
    ],
    "identifier": [{"system": "http://www.maroondah.vic.gov.au/AnimalRegFees.aspx", "value": "1234123"}],
    "name": [{"use": "usual", "given": ["Kenzi"]}],
    "gender": "female",
    "birthDate": "2010-03-23",
    "contact": [{"name": {"family": "Chalmers", "given": ["Peter", "James"]}}],
}  # fmt: skip

TEMPERATURE = {
    "resourceType": "Observation", "id": "body-temperature", "status": "final", "code": concept(LOINC, "8310-5"),
    "subject": {"reference": "Patient/example"}, "effectiveDateTime": "1999-07-02",
    "valueQuantity": quantity(36.5, "C", "Cel"),
}  # fmt: skip
HEART_RATE = {**TEMPERATURE, "id": "heart-rate", "code": concept(LOINC, "8867-4"),
              "valueQuantity": quantity(44, "beats/minute", "/min")}  # fmt: skip
RESPIRATORY_RATE = {**TEMPERATURE, "id": "respiratory-rate", "code": concept(LOINC, "9279-1"),
                    "valueQuantity": quantity(26, "breaths/minute", "/min")}  # fmt: skip
SATURATION = {
    "resourceType": "Observation", "id": "satO2", "status": "final", "partOf": [{"reference": "Procedure/ob"}],
    "code": concept(LOINC, "2708-6", "59408-5"), "subject": {"reference": "Patient/example"},
    "effectiveDateTime": "2014-12-05T09:30:10+01:00", "valueQuantity": quantity(95, "%", "%"),
}  # fmt: skip
PRESSURE = {
    "resourceType": "Observation", "id": "blood-pressure", "status": "final", "code": concept(LOINC, "85354-9"),
    "subject": {"reference": "Patient/example"}, "effectiveDateTime": "2012-09-17",
    "component": [
        {"code": concept(LOINC, "8480-6"), "valueQuantity": quantity(107, "mmHg", "mm[Hg]")},
        {"code": concept(LOINC, "8462-4"), "valueQuantity": quantity(60, "mmHg", "mm[Hg]")},
    ],
}  # fmt: skip
CANCELLED = {**PRESSURE, "id": "blood-pressure-cancel", "status": "cancelled"}
PANEL = {"resourceType": "Observation", "id": "vitals-panel", "status": "final", "code": concept(LOINC, "85353-1"),
         "effectiveDateTime": "1999-07-02", "hasMember": [{"reference": "Observation/heart-rate"}]}  # fmt: skip
GIVEN = {
    "resourceType": "MedicationAdministration", "id": "medadmin0301", "status": "in-progress",
    "contained": [{"resourceType": "Medication", "id": "med0301", "code": {"coding": [
        {"system": "http://hl7.org/fhir/sid/ndc", "code": "0409-6531-02",
         "display": "Vancomycin Hydrochloride (VANCOMYCIN HYDROCHLORIDE)"}]}}],
    "medicationReference": {"reference": "#med0301"},
    "subject": {"reference": "Patient/pat1", "display": "Donald Duck"}, "context": {"reference": "Encounter/f001"},
    "effectivePeriod": {"start": "2015-01-15T14:30:00+01:00", "end": "2015-01-15T14:30:00+01:00"},
    "dosage": {"route": concept("http://snomed.info/sct", "47625008"), "dose": quantity(500, "mg", "mg")},
}  # fmt: skip
OVER_MINUTES = {
    **GIVEN, "id": "medadmin0305", "status": "completed",
    "dosage": {"dose": quantity(1.8, "mg/kg", "mg/kg"), "rateQuantity": quantity(20, "min", "min")},
}  # fmt: skip
IN_ERROR = {**GIVEN, "id": "medadmin0303", "status": "entered-in-error"}
ON_HOLD = {**GIVEN, "id": "medadminexample03", "status": "on-hold"}
RASH = {
    "resourceType": "AdverseEvent", "id": "example", "actuality": "actual", "subject": {"reference": "Patient/example"},
    "event": {"coding": [{"system": "http://snomed.info/sct", "code": "304386008", "display": "O/E - itchy rash"}],
              "text": "This was a mild rash on the left forearm"},
    "date": "2017-01-29T12:34:56+00:00",
    "severity": concept("http://terminology.hl7.org/CodeSystem/adverse-event-severity", "mild"),
}  # fmt: skip
# Counts of statuses in the whole package.
OBSERVATION_STATUSES = {"final": 18, "cancelled": 2, "entered-in-error": 1}
ADMINISTRATION_STATUSES = {"completed": 11, "in-progress": 1, "entered-in-error": 1, "on-hold": 1}
