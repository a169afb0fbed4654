"""HL7 FHIR R4: HL7's own examples give the facts their package states; what never counts is set aside and counted."""

import json

import pytest
from fhir_examples import (
    ADMINISTRATION_STATUSES,
    ANIMAL,
    CANCELLED,
    GIVEN,
    HEART_RATE,
    IN_ERROR,
    OBSERVATION_STATUSES,
    ON_HOLD,
    OVER_MINUTES,
    PANEL,
    PRESSURE,
    RASH,
    RESPIRATORY_RATE,
    SATURATION,
    TEMPERATURE,
    concept,
    quantity,
)

from pipeline.intake import readers
from pipeline.intake.mapping.clinic_file import Fhir, Mapping
from pipeline.intake.readers.fhir import case_rows, elements

ANESTHETIC = {
    "resourceType": "Procedure", "id": "n1", "status": "completed", "category": {"text": "Anesthesia"},
    "subject": {"reference": "Patient/animal"}, "encounter": {"reference": "Encounter/e1"},
    "partOf": [{"reference": "Procedure/s1"}], "outcome": {"text": "alive"},
    "performedPeriod": {"start": "2026-03-01T09:05:00+01:00", "end": "2026-03-01T10:00:00+01:00"},
    "performer": [{"function": {"text": "Anesthetist"},
                   "actor": {"reference": "Practitioner/N05", "display": "Jo Muster"}}],
}  # fmt: skip
SURGERY = {"resourceType": "Procedure", "id": "s1", "status": "completed", "code": {"text": "spay"},
           "category": {"text": "soft_tissue"}}  # fmt: skip


@pytest.fixture
def read(tmp_path):
    """read(resources...) -> table -> its grid, from one NDJSON file; others: more files of the same export."""

    def made(*resources, mapping=Mapping(), **others):  # noqa: B008 - an empty mapping holds no state
        for name, more in others.items():
            (tmp_path / f"{name}.ndjson").write_text("\n".join(map(json.dumps, more)) + "\n", encoding="utf-8")
        path = tmp_path / "export.ndjson"
        path.write_text("\n".join(map(json.dumps, resources)) + "\n", encoding="utf-8")
        return dict(readers.read(path, mapping))

    return made


def rows(grid, *columns):
    return list(zip(*(grid.cells.column(name).to_pylist() for name in columns), strict=True))


def test_the_animal():
    """Dog (canislf), golden retriever, neutered, born 2010-03-23."""
    assert case_rows.animal(ANIMAL) == {
        "species": "dog", "breed": "Golden retriever", "sex": "female_neutered", "birth_date": "2010-03-23",
    }  # fmt: skip


def test_a_patient_without_the_extension_is_of_no_species():
    assert case_rows.animal({"resourceType": "Patient", "gender": "male"})["species"] is None


def test_readings_of_the_examples(read):
    """Temperature 36.5 Cel, heart rate 44, respiratory rate 26, saturation 95 %, pressure 107/60 in components."""
    vitals = read(TEMPERATURE, HEART_RATE, RESPIRATORY_RATE, SATURATION, PRESSURE, CANCELLED, PANEL)["vitals"]
    assert rows(vitals, "parameter", "value") == [
        ("temperature", "36.5"), ("heart_rate", "44"), ("respiratory_rate", "26"), ("spo2", "95"), ("sap", "107"),
        ("dap", "60"),
    ]  # fmt: skip
    assert vitals.set_aside == [(6, "Observation that is cancelled"), (7, "no value of a parameter we keep")]
    assert [(note.rule, note.count) for note in vitals.notes] == [("not_counted", 1)]
    assert vitals.cells.column("taken_at").to_pylist()[3] == "2014-12-05 09:30:10+01:00"


def test_two_components_are_of_one_line(read):
    vitals = read(PRESSURE)["vitals"]
    assert vitals.rows.to_pylist() == [1, 1] and vitals.before_rows is not None


def test_doses_of_the_examples(read):
    """500 mg intravenously of a contained Medication; a rate in minutes is none; in error and on hold never count."""
    drugs = read(GIVEN, OVER_MINUTES, IN_ERROR, ON_HOLD)["drugs"]
    assert rows(drugs, "drug", "kind", "amount", "amount_unit", "route") == [
        ("vancomycin hydrochloride (vancomycin hydrochloride)", "bolus", "500", "mg", "iv"),
        ("vancomycin hydrochloride (vancomycin hydrochloride)", "bolus", "1.8", "mg/kg", None),
    ]
    assert [line for line, _ in drugs.set_aside] == [3, 4]
    assert "Duck" not in str(drugs)


def test_a_rate_is_an_infusion(read):
    given = {**GIVEN, "dosage": {"rateQuantity": quantity(5, "mcg/kg/h", "ug/kg/h")}}
    ratio = {
        **GIVEN,
        "dosage": {"rateRatio": {"numerator": quantity(100, "mL", "mL"), "denominator": quantity(1, "h", "h")}},
    }
    assert rows(read(given, ratio)["drugs"], "kind", "amount", "amount_unit") == [
        ("infusion", "5", "mcg/kg/h"), ("infusion", "100", "mL/h")]  # fmt: skip


def test_the_adverse_event(read):
    """Mild, at 12:34:56 UTC; its words are no event of ours and stay for the typing to refuse."""
    events = read(RASH, {**RASH, "actuality": "potential"})["events"]
    assert rows(events, "event", "occurred_at", "severity") == [
        ("This was a mild rash on the left forearm", "2017-01-29 12:34:56+00:00", "minor")]  # fmt: skip
    assert events.set_aside == [(2, "AdverseEvent that is potential")]


@pytest.mark.parametrize(
    ("kind", "statuses", "count"),
    [("Observation", OBSERVATION_STATUSES, 18), ("MedicationAdministration", ADMINISTRATION_STATUSES, 12)],
)
def test_what_counts_of_the_whole_package(kind, statuses, count):
    """18 of 21 Observations are final; 11 administrations are completed and 1 is under way, of 14."""
    resources = [{"resourceType": kind, "status": status} for status, many in statuses.items() for _ in range(many)]
    assert sum(elements.counts(one)[0] for one in resources) == count


def test_a_case_from_its_resources(read):
    weight = {"resourceType": "Observation", "status": "final", "code": concept("http://loinc.org", "29463-7"),
              "encounter": {"reference": "Encounter/e1"}, "valueQuantity": quantity(30, "lb", "[lb_av]")}  # fmt: skip
    found = read(ANESTHETIC, SURGERY, Patient=[ANIMAL], Observation=[weight, {**weight, "status": "entered-in-error"}])
    (row,) = found["cases"].cells.to_pylist()
    assert row["case_id"] == "n1" and row["patient_id"] == "1234123"
    assert (row["species"], row["sex"], row["weight_kg"]) == ("dog", "female_neutered", "13.608")  # 30 x 0.45359237
    assert (row["procedure"], row["procedure_group"], row["anesthetist"]) == ("spay", "soft_tissue", "N05")
    assert (row["induction_at"], row["extubation_at"]) == ("2026-03-01 09:05:00+01:00", "2026-03-01 10:00:00+01:00")
    assert row["age_years"] == "15.94"  # 2010-03-23 to 2026-03-01: 5822 days of 365.25
    assert found["cases"].set_aside == [(2, "a procedure that is no anesthetic")]
    assert "Muster" not in str(row) and "Kenzi" not in str(row)


@pytest.mark.parametrize(
    "link",
    [
        {"partOf": [{"reference": "Procedure/n1"}]},
        {"partOf": [{"reference": "https://server/fhir/Procedure/n1/_history/2"}]},
        {"partOf": [{"reference": "Procedure/s1"}]}, {"encounter": {"reference": "Encounter/e1"}},
        {"subject": {"reference": "Patient/animal"}},
    ],
)  # fmt: skip
def test_a_reading_finds_its_case(read, link):
    reading = {**HEART_RATE, "subject": None, "effectiveDateTime": "2026-03-01T09:10:00+01:00", **link}
    assert rows(read(reading, Procedure=[ANESTHETIC, SURGERY])["vitals"], "case_id") == [("n1",)]


def test_a_reading_in_an_unknown_unit_is_set_apart(read):
    odd = {**TEMPERATURE, "valueQuantity": quantity(310, "K", "K")}
    (fault,) = read(odd)["vitals"].faults
    assert fault.whole_row and "unit 'K'" in fault.reason


def test_the_clinics_own_codes_and_extensions(read):
    mapping = Mapping(
        fhir=Fhir(
            observations={"gas-flow": "o2_flow", "asa": "asa_class"}, extensions={"https://x.example/bag": "bag_ml"}
        )
    )
    flow = {"resourceType": "Observation", "status": "final", "code": concept("https://x.example", "gas-flow"),
            "partOf": [{"reference": "Procedure/n1"}], "effectiveDateTime": "2026-03-01T09:10:00+01:00",
            "valueQuantity": quantity(800, "mL/min", "mL/min")}  # fmt: skip
    grade = {**flow, "code": concept("https://x.example", "asa"), "valueQuantity": None,
             "valueCodeableConcept": concept("http://snomed.info/sct", "413496000")}  # fmt: skip
    bag = {"url": "https://x.example/bag", "valueQuantity": quantity(1, "L", "L")}
    found = read({**ANESTHETIC, "extension": [bag]}, flow, grade, mapping=mapping)
    assert rows(found["vitals"], "parameter", "value") == [("o2_flow", "0.8")]
    assert rows(found["cases"], "bag_ml", "asa_class") == [("1000", "2")]


def test_a_bundle_is_its_entries(read):
    bundle = {
        "resourceType": "Bundle",
        "type": "collection",
        "entry": [{"resource": ANESTHETIC}, {"resource": TEMPERATURE}],
    }
    found = read(bundle)
    assert found["cases"].rows.to_pylist() == [1] and found["vitals"].rows.to_pylist() == [2]


def test_every_line_is_accounted_for(read):
    found = read(
        ANESTHETIC, SURGERY, ANIMAL, TEMPERATURE, CANCELLED, GIVEN, RASH, {"resourceType": "ValueSet", "id": "v"}
    )
    lines = [
        line for grid in found.values() for line in (*grid.rows.to_pylist(), *(line for line, _ in grid.set_aside))
    ]
    assert sorted(lines) == list(range(1, 9))


def test_no_anesthetic_is_said(read):
    assert [note.rule for note in read(SURGERY)["cases"].notes] == ["no_anesthetic"]
    assert rows(read(SURGERY, mapping=Mapping(fhir=Fhir(cases="procedure")))["cases"], "case_id") == [("s1",)]
