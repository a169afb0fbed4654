"""Which readings are no measurement of the animal. One rule a test."""

CASE = "case_id | species | agent | induction_at | extubation_at\nC1 | {species} | isoflurane | 8:00 | 9:00"


def reasons(clinic, tables, *series, species="dog"):
    record = clinic(cases=CASE.format(species=species), vitals=tables.vitals(*series))
    rows = record.rows("vital_readings")
    return {(row["parameter"], row["val"]): row["reason"] for row in rows}


def test_bounds_are_inside(clinic, tables):
    found = reasons(clinic, tables, tables.series("heart_rate", "0:350 5:351 10:10 15:9.9"))
    assert [found["heart_rate", value] for value in (350, 10)] == [None, None]
    assert [found["heart_rate", value] for value in (351, 9.9)] == ["outside_bounds"] * 2


def test_a_rabbits_heart_may_beat_faster_and_a_bird_has_no_bounds(clinic, tables):
    rate = tables.series("heart_rate", "0:390")
    assert reasons(clinic, tables, rate, species="rabbit")["heart_rate", 390] is None
    assert reasons(clinic, tables, tables.series("heart_rate", "0:600"), species="bird")["heart_rate", 600] is None


def test_bounds_of_the_dial_go_by_agent_for_every_species(clinic, tables):
    dial = tables.series("vaporizer_setting", "0:5 5:5.5")
    found = reasons(clinic, tables, dial, species="bird")
    assert found["vaporizer_setting", 5] is None and found["vaporizer_setting", 5.5] == "outside_bounds"


STEADY = "5:98 10:98 15:98 20:98"


def disconnected(clinic, tables, co2, pulse="5:100 10:100 15:100 20:100", spo2=STEADY):
    record = clinic(
        cases=CASE.format(species="dog"),
        vitals=tables.vitals(
            tables.series("etco2", co2), tables.series("heart_rate", pulse), tables.series("spo2", spo2)
        ),
    )
    return len(record.rows("vital_readings", reason="disconnected"))


def test_one_or_two_zeros_with_a_living_animal_are_a_disconnection(clinic, tables):
    assert disconnected(clinic, tables, "0:40 5:0 10:40") == 1
    assert disconnected(clinic, tables, "0:40 5:0 10:5 15:40") == 2


def test_three_zeros_stay(clinic, tables):
    assert disconnected(clinic, tables, "0:40 5:0 10:0 15:0 20:40") == 0


def test_a_zero_at_either_end_of_the_case_is_a_run_too(clinic, tables):
    assert disconnected(clinic, tables, "5:0 10:40") == 1
    assert disconnected(clinic, tables, "0:40 5:0") == 1


def test_a_zero_without_pulse_or_saturation_beside_it_stays(clinic, tables):
    assert disconnected(clinic, tables, "0:40 5:0 10:40", spo2="10:98") == 0
    assert disconnected(clinic, tables, "0:40 5:0 10:40", pulse="10:100") == 0
    assert disconnected(clinic, tables, "0:40 5:0 10:40", pulse="5:5") == 0


def test_the_companions_need_only_share_the_clock_minute(clinic, tables):
    assert disconnected(clinic, tables, "0:40 5:0 10:40", pulse="5.9:100") == 1
    assert disconnected(clinic, tables, "0:40 5:0 10:40", pulse="6:100") == 0


def test_a_run_of_two_of_which_one_lacks_companions_stays_whole(clinic, tables):
    assert disconnected(clinic, tables, "0:40 5:0 10:0 15:40", spo2="5:98") == 0


def test_saturation_leaves_with_a_heart_rate_of_zero_and_not_without_any(clinic, tables):
    found = reasons(clinic, tables, tables.series("spo2", "0:71 5:72 10:73"),
                    tables.series("heart_rate", "0:0 5:0"), tables.series("heart_rate", "5.5:90"))  # fmt: skip
    assert found["spo2", 71] == "no_pulse_signal"
    assert found["spo2", 72] is None and found["spo2", 73] is None
