"""One invented clinic's canonical exports written as HL7 FHIR R4 bulk NDJSON.

Standard elements where R4 has one (Patient with the animal extension, Procedure, Observation with LOINC and UCUM,
MedicationAdministration, AdverseEvent); the clinic's own codes and extensions for the rest, named in FHIR_MAPPING.
Stock, equipment and the parts of people have no resource we read: they stay CSV.
"""

import datetime as dt
import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

from exporters import NUMBERS, TIMES, long_vitals, rows_of

from pipeline import schema

OURS = "https://clinic.example/fhir/"
# LOINC and UCUM of the readings that have a LOINC code (HL7 FHIR R4 vital signs profile; clinical table of the trade).
LOINC = {
    "heart_rate": ("8867-4", "/min"), "respiratory_rate": ("9279-1", "/min"), "temperature": ("8310-5", "Cel"),
    "spo2": ("59408-5", "%"), "etco2": ("19889-5", "mm[Hg]"),
    "sap": ("8480-6", "mm[Hg]"), "dap": ("8462-4", "mm[Hg]"), "map": ("8478-0", "mm[Hg]"),
}  # fmt: skip
PRESSURES = ("sap", "dap", "map")
UCUM = {"mmHg": "mm[Hg]", "cmH2O": "cm[H2O]", "°C": "Cel"}
STANDARD = ("case_id", "site", "patient_id", "species", "breed", "sex", "procedure", "procedure_group", "anesthetist",
            "supervisor", "trainee", "machine_id", "outcome", "induction_at", "extubation_at", "weight_kg",
            "asa_class")  # fmt: skip
ASA = {"1": "413495001", "2": "413496000", "3": "413497009", "4": "413498004", "5": "413499007"}


def fhir_mapping() -> str:
    """The [fhir] part of the clinic's mapping.toml: its own codes and extensions."""
    observations = {"asa": "asa_class"} | {name: name for name in schema.PARAMETERS if name not in LOINC}
    cases = [one.name for one in schema.CASES.columns if one.name not in STANDARD]
    others = ["phase", "concentration_mg_ml", "drawn_ml", "wasted_ml", "resolved_at", "action"]
    lines = ["schema = 1", "[fhir.observations]", *(f'"{code}" = "{column}"' for code, column in observations.items())]
    lines += [
        "[fhir.extensions]",
        *(f'"{OURS}{name}" = "{name}"' for name in [*cases, "induction_at", "extubation_at", *others]),
    ]
    return "\n".join(lines) + "\n"


def fhir_ndjson(folder: Path, out: Path, zone: str) -> None:
    """Bulk NDJSON, a file a resource type."""
    out.mkdir(parents=True, exist_ok=True)
    cases = rows_of(folder, "cases")
    files = {
        "Patient": (patient(row) for row in {row["patient_id"]: row for row in cases}.values()),
        "Encounter": (encounter(row) for row in cases),
        "Procedure": (one for row in cases for one in procedures(row, zone)),
        "Observation": observations(folder, cases, zone),
        "MedicationAdministration": (dose(row, zone) for row in rows_of(folder, "drugs")),
        "AdverseEvent": (event(row, zone) for row in rows_of(folder, "events")),
    }
    for name, resources in files.items():
        with (out / f"{name}.ndjson").open("w", encoding="utf-8", newline="\n") as stream:
            for number, resource in enumerate(resources, 1):
                body = {"resourceType": name, "id": f"{name.lower()}{number}", **resource}
                stream.write(json.dumps(body, ensure_ascii=False) + "\n")
    for table in ("case_people", "equipment", "stock"):
        for path in folder.glob(f"{table}*.csv"):
            shutil.copy(path, out / path.name)


def stamp(text: str, zone: str) -> str:
    """A local time with its offset, the first of two where the clocks go back."""
    return dt.datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone)).isoformat()


def patient(row: dict) -> dict:
    status = "neutered" if row["sex"].endswith("_neutered") else "intact"
    parts = [{"url": "species", "valueCodeableConcept": {"coding": [{"display": row["species"].capitalize()}]}}]
    if row["breed"]:
        parts.append({"url": "breed", "valueCodeableConcept": {"text": row["breed"]}})
    if row["sex"]:
        parts.append({"url": "genderStatus", "valueCodeableConcept": {"coding": [{"code": status}]}})
    animal = {"url": "http://hl7.org/fhir/StructureDefinition/patient-animal", "extension": parts}
    resource = {"id": row["patient_id"], "extension": [animal]}
    if row["sex"]:
        resource["gender"] = row["sex"].removesuffix("_neutered")
    return resource


def encounter(row: dict) -> dict:
    return {"id": f"E-{row['case_id']}", "status": "finished", "subject": {"reference": f"Patient/{row['patient_id']}"}}


def procedures(row: dict, zone: str) -> Iterator[dict]:
    """The surgery, and the anesthetic that is part of it."""
    subject = {"reference": f"Patient/{row['patient_id']}"}
    surgery = f"S-{row['case_id']}"
    yield {"id": surgery, "status": "completed", "subject": subject, "code": {"text": row["procedure"]},
           "category": {"text": row["procedure_group"]}}  # fmt: skip
    people = [
        {"function": {"text": column}, "actor": {"reference": f"Practitioner/{row[column]}"}}
        for column in ("anesthetist", "supervisor", "trainee")
        if row.get(column)
    ]
    anesthetic = {
        "id": row["case_id"], "status": "completed", "category": {"text": "Anesthesia"}, "subject": subject,
        "partOf": [{"reference": f"Procedure/{surgery}"}], "encounter": {"reference": f"Encounter/E-{row['case_id']}"},
        "performer": people, "location": {"reference": f"Location/{row['site']}"},
        "performedPeriod": {},
    }  # fmt: skip
    if row.get("machine_id"):
        anesthetic["usedReference"] = [{"reference": f"Device/{row['machine_id']}"}]
    if row.get("outcome"):
        anesthetic["outcome"] = {"text": row["outcome"]}
    for end, column in (("start", "induction_at"), ("end", "extubation_at")):
        if row.get(column):
            anesthetic["performedPeriod"][end] = stamp(row[column], zone)
    own = [one.name for one in schema.CASES.columns if one.name not in STANDARD and row.get(one.name)]
    anesthetic["extension"] = [extension(column, row[column], zone) for column in own]
    yield anesthetic


def extension(column: str, text: str, zone: str) -> dict:
    if column in TIMES:
        return {"url": OURS + column, "valueDateTime": stamp(text, zone)}
    if column in NUMBERS:
        return quantity_extension(column, text)
    if column == "emergency":
        return {"url": OURS + column, "valueBoolean": text == "yes"}
    return {"url": OURS + column, "valueString": text}


def quantity_extension(column: str, text: str) -> dict:
    unit = next(
        one.unit
        for table in schema.TABLES.values()
        for one in table.columns
        if one.name == column and one.kind == "number"
    )
    return {"url": OURS + column, "valueQuantity": {"value": float(text), "code": {"years": "a"}.get(unit, unit)}}


def observations(folder: Path, cases: list[dict], zone: str) -> Iterator[dict]:
    for row in cases:
        about = {"status": "final", "encounter": {"reference": f"Encounter/E-{row['case_id']}"}}
        if row.get("weight_kg"):
            weight = {"value": float(row["weight_kg"]), "unit": "kg", "code": "kg"}
            yield {
                **about,
                "code": {"coding": [{"system": "http://loinc.org", "code": "29463-7"}]},
                "valueQuantity": weight,
            }
        if row.get("asa_class"):
            grade = {"coding": [{"system": "http://snomed.info/sct", "code": ASA[row["asa_class"]]}]}
            yield {**about, "code": {"coding": [{"code": "asa"}]}, "valueCodeableConcept": grade}
    panels: dict[tuple[str, str], list[dict]] = {}
    for reading in long_vitals(folder):
        part = {"code": {"coding": [code_of(reading["parameter"])]}, "valueQuantity": measured(reading)}
        at = stamp(reading["taken_at"], zone)
        if reading["parameter"] in PRESSURES:
            panels.setdefault((reading["case_id"], at), []).append(part)
            continue
        yield {
            "status": "final",
            "partOf": [{"reference": f"Procedure/{reading['case_id']}"}],
            "effectiveDateTime": at,
            **part,
        }
    for (case, at), parts in panels.items():
        panel = {"coding": [{"system": "http://loinc.org", "code": "85354-9"}]}
        yield {"status": "final", "partOf": part_of(case), "effectiveDateTime": at, "code": panel, "component": parts}
    yield {"status": "entered-in-error", "code": {"coding": [code_of("heart_rate")]}, "valueQuantity": {"value": 999}}


def part_of(case: str) -> list[dict]:
    return [{"reference": f"Procedure/{case}"}]


def code_of(parameter: str) -> dict:
    if parameter in LOINC:
        return {"system": "http://loinc.org", "code": LOINC[parameter][0]}
    return {"system": OURS, "code": parameter}


def measured(reading: dict) -> dict:
    unit = schema.PARAMETERS[reading["parameter"]]
    return {"value": float(reading["value"]), "system": "http://unitsofmeasure.org", "code": UCUM.get(unit, unit)}


def dose(row: dict, zone: str) -> dict:
    unit = row["amount_unit"].replace("mcg", "ug")
    amount = {"value": float(row["amount"]), "code": unit} if row["amount"] else None
    dosage = {"route": {"text": row["route"]}}
    if amount:
        dosage["rateQuantity" if row["kind"] == "infusion" else "dose"] = amount
    resource = {
        "status": "completed", "partOf": part_of(row["case_id"]), "dosage": dosage,
        "medicationCodeableConcept": {"text": row["drug"]}, "performer": [],
    }  # fmt: skip
    if row["stopped_at"]:
        resource["effectivePeriod"] = {"start": stamp(row["given_at"], zone), "end": stamp(row["stopped_at"], zone)}
    else:
        resource["effectiveDateTime"] = stamp(row["given_at"], zone)
    for column, function in (("given_by", "administered"), ("witnessed_by", "witness")):
        if row.get(column):
            person = {"function": {"text": function}, "actor": {"reference": f"Practitioner/{row[column]}"}}
            resource["performer"].append(person)
    own = [name for name in ("phase", "concentration_mg_ml", "drawn_ml", "wasted_ml") if row.get(name)]
    resource["extension"] = [extension(name, row[name], zone) for name in own]
    return resource


def event(row: dict, zone: str) -> dict:
    severity = {"minor": "mild"}.get(row["severity"], row["severity"])
    resource = {
        "actuality": "actual", "event": {"text": row["event"]},
        "encounter": {"reference": f"Encounter/E-{row['case_id']}"},
        "severity": {"coding": [{"code": severity,
                                 "system": "http://terminology.hl7.org/CodeSystem/adverse-event-severity"}]},
    }  # fmt: skip
    if row["occurred_at"]:
        resource["date"] = stamp(row["occurred_at"], zone)
    own = [name for name in ("phase", "resolved_at", "action") if row.get(name)]
    resource["extension"] = [extension(name, row[name], zone) for name in own]
    return resource
