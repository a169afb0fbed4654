"""Temperature bands, when they are judged, and the times to cooling and rewarming. One rule a test."""

import pytest

CASE = """case_id | species | induction_at | extubation_at | standing_at
C1 | {species} | 8:00 | 9:00 | 9:40"""


def record_of(clinic, tables, readings, species="dog", **settings):
    return clinic(
        cases=CASE.format(species=species),
        vitals=tables.vitals(tables.series("temperature", readings)),
        settings=settings,
    )


def has(record, measure):
    return record.row("case_shares", case_id="C1", measure=measure)["has"]


# Bands of Redondo et al. 2012 (Vet Rec 171:374; 170:206), half-open, at their edges.
@pytest.mark.parametrize(
    "celsius, band",
    [
        (33.99, "hypothermia_severe"),
        (34.00, "hypothermia_moderate"),
        (36.49, "hypothermia_moderate"),
        (36.50, "hypothermia_slight"),
        (38.49, "hypothermia_slight"),
        (38.50, "normothermia"),
        (39.50, "normothermia"),
        (39.51, "hyperthermia"),
    ],
)
def test_bands_at_their_edges(clinic, tables, celsius, band):
    record = record_of(clinic, tables, f"30:{celsius}")
    bands = ("hypothermia_severe", "hypothermia_moderate", "hypothermia_slight", "normothermia", "hyperthermia")
    assert [name for name in bands if has(record, name)] == [band]
    assert [name for name in bands if has(record, f"{name}_at_end")] == [band]
    assert has(record, "hypothermia") == (celsius < 36.5)
    assert has(record, "hypothermia_any") == (celsius < 38.5)


def test_the_lowest_until_the_end_of_recovery_decides_the_last_under_anesthesia_at_the_end(clinic, tables):
    record = record_of(clinic, tables, "10:38.6 30:37.0 60:36.6 80:36.4 101:35.0")
    row = record.row("case_temperatures")
    assert (row["lowest"], row["last_in_anesthesia"]) == (36.4, 36.6)
    assert has(record, "hypothermia") == 1 and has(record, "hypothermia_at_end") == 0


def test_a_reading_before_the_start_is_not_of_this_anesthetic(clinic, tables):
    record = record_of(clinic, tables, "-1:36.0 10:38.0")
    assert record.row("case_temperatures")["lowest"] == 38.0


def test_a_species_without_a_scheme_is_not_judged(clinic, tables):
    record = record_of(clinic, tables, "30:36.0", species="rabbit")
    assert record.rows("case_temperature_bands") == []


def test_minutes_to_hypothermia_from_start_censored_at_the_last_value(clinic, tables):
    cooled = record_of(clinic, tables, "5:37 20:36.4 30:36.0").row("case_stages", measure="minutes_to_hypothermia")
    assert (cooled["minutes"], cooled["seen"]) == (20, 1)
    warm = record_of(clinic, tables, "5:37 90:36.6").row("case_stages", measure="minutes_to_hypothermia")
    assert (warm["minutes"], warm["seen"]) == (90, 0)


def test_minutes_to_rewarm_from_end_to_the_first_warm_value_strictly_after(clinic, tables):
    warmed = record_of(clinic, tables, "60:36.0 75:36.4 90:36.5").row("case_stages", measure="minutes_to_rewarm")
    assert (warmed["minutes"], warmed["seen"]) == (30, 1)
    cold = record_of(clinic, tables, "60:36.0 75:36.1").row("case_stages", measure="minutes_to_rewarm")
    assert (cold["minutes"], cold["seen"]) == (15, 0)
    assert record_of(clinic, tables, "60:36.0").rows("case_stages", measure="minutes_to_rewarm") == []
    assert record_of(clinic, tables, "60:36.5 75:36.0").rows("case_stages", measure="minutes_to_rewarm") == []


def test_temperatures_before_the_probe_was_placed_are_no_temperatures(clinic, tables):
    record = record_of(clinic, tables, "0:21.4 5:25.5 10:37.6 30:37.0")
    assert record.row("case_temperatures")["lowest"] == 37.0
    assert record.rows("vital_readings", reason="not_placed") != []
    never = record_of(clinic, tables, "0:21.4 5:29.9")
    assert has(never, "hypothermia") is None


def test_a_scheme_of_the_clinics_own(clinic, tables):
    record = record_of(clinic, tables, "30:36.8", temperature={"hypothermia": {"below": 37.0}})
    assert has(record, "hypothermia") == 1
