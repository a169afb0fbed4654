"""What counts as time past a limit, and what does not. Each test is one rule of measures' sample and hold."""

CASE = """
    case_id | species | weight_kg | induction_at | extubation_at
    C1      | dog     | 20        | 8:00         | 9:00
"""


def exposure(clinic, tables, measure, *series, cases=CASE, **settings):
    record = clinic(cases=cases, vitals=tables.vitals(*series), settings=settings)
    return record.row("case_exposures", case_id="C1", measure=measure)


def every_5_min(tables, parameter, values, start=0):
    return tables.series(parameter, " ".join(f"{start + 5 * i}:{value}" for i, value in enumerate(values)))


def test_a_reading_stands_until_the_next_and_the_last_until_the_end(clinic, tables):
    found = exposure(clinic, tables, "hypoventilation", every_5_min(tables, "etco2", [50] * 3 + [40] * 8 + [46, 46]))
    assert found["beyond_min"] == 5 * 3 + 5
    assert found["observed_min"] == 60
    assert found["area"] == (50 - 45) * 15 + (46 - 45) * 5


def test_a_reading_at_the_end_holds_nothing(clinic, tables):
    found = exposure(clinic, tables, "hypoventilation", every_5_min(tables, "etco2", [40] * 12 + [80]))
    assert found["beyond_min"] == 0 and found["observed_min"] == 60


def test_no_reading_stands_longer_than_ten_minutes(clinic, tables):
    found = exposure(clinic, tables, "hypoventilation", tables.series("etco2", "0:50 5:50 30:40 35:40 40:40 45:40"))
    assert found["observed_min"] == 5 + 10 + 5 + 5 + 5 + 10
    assert found["beyond_min"] == 5 + 10


def test_nothing_is_carried_in_from_before_the_start(clinic, tables):
    found = exposure(clinic, tables, "hypoventilation", tables.series("etco2", "-5:90"),
                     every_5_min(tables, "etco2", [40] * 10, start=10))  # fmt: skip
    assert found["observed_min"] == 50 and found["beyond_min"] == 0


def test_readings_that_tell_nothing_have_no_row_but_count(clinic, tables):
    record = clinic(cases=CASE, vitals=tables.vitals(
        tables.series("etco2", "0:40 5:40 10:50 15:40 20:40 40:40 45:40 50:40")
    ))  # fmt: skip
    rows = record.rows("parameter_holds", parameter="etco2")
    found = sorted((row["reading_no"], row["hold_s"] / 60, row["stretch_no"]) for row in rows)
    assert found == [(1, 5, 1), (3, 5, 1), (5, 10, 1), (6, 5, 2), (8, 10, 2)]
    covered = record.row("parameter_coverage", parameter="etco2")
    assert covered["readings"] == 8
    assert covered["observed_s"] == 60 * (4 * 5 + 10 + 2 * 5 + 10)


def test_the_limit_itself_is_not_past_it(clinic, tables):
    assert exposure(clinic, tables, "hypoventilation", every_5_min(tables, "etco2", [45] * 12))["has"] == 0
    assert exposure(clinic, tables, "hypoventilation", every_5_min(tables, "etco2", [45.1] * 12))["has"] == 1


def test_hyperventilation_lies_between_five_and_thirty_five(clinic, tables):
    low = every_5_min(tables, "etco2", [40] * 4 + [5, 5, 5] + [20, 20] + [40] * 3)
    found = exposure(clinic, tables, "hyperventilation", low)
    assert found["beyond_min"] == 10
    assert found["area"] == (35 - 20) * 10


def test_one_low_reading_of_ten_minutes_is_no_episode(clinic, tables):
    one = tables.series("etco2", "0:40 5:40 10:60 20:40 25:40 30:40 35:40 40:40 45:40 50:40")
    found = exposure(clinic, tables, "hypoventilation", one)
    assert found["beyond_min"] == 10 and found["has"] == 0


def test_two_readings_that_last_less_than_five_minutes_are_no_episode(clinic, tables):
    short = (
        every_5_min(tables, "etco2", [40] * 6)
        + "\n"
        + tables.series("etco2", "26:50 28:50 30:40 35:40 40:40 45:40 50:40")
    )
    assert exposure(clinic, tables, "hypoventilation", short)["has"] == 0


def test_the_reading_at_the_end_does_not_make_a_second(clinic, tables):
    found = exposure(clinic, tables, "hypoventilation", every_5_min(tables, "etco2", [40] * 11 + [50, 50]))
    assert found["beyond_min"] == 5 and found["has"] == 0


def test_unobserved_time_ends_an_episode(clinic, tables):
    apart = tables.series("etco2", "0:40 5:40 10:50 25:50 35:40 40:40 45:40 50:40 55:40")
    found = exposure(clinic, tables, "hypoventilation", apart)
    assert found["beyond_min"] == 20 and found["has"] == 0


def test_ten_minutes_between_readings_are_observed(clinic, tables):
    touching = tables.series("etco2", "0:40 10:50 20:50 30:40 40:40 50:40")
    found = exposure(clinic, tables, "hypoventilation", touching)
    assert found["observed_min"] == 60 and found["has"] == 1


def test_half_of_the_window_must_be_covered(clinic, tables):
    half = every_5_min(tables, "etco2", [40] * 5)  # 20 minutes and the last one's 10
    assert exposure(clinic, tables, "hypoventilation", half)["assessable"] == 1
    less = every_5_min(tables, "etco2", [40] * 4)
    assert exposure(clinic, tables, "hypoventilation", less)["assessable"] == 0


def test_a_stretch_of_one_reading_covers_nothing_but_is_observed(clinic, tables):
    lonely = every_5_min(tables, "etco2", [40] * 5) + "\n" + tables.series("etco2", "45:40")
    found = exposure(clinic, tables, "hypoventilation", lonely)
    assert found["assessable"] == 1 and found["observed_min"] == 20 + 10 + 10
    short = every_5_min(tables, "etco2", [40] * 4) + "\n" + tables.series("etco2", "45:40")
    assert exposure(clinic, tables, "hypoventilation", short)["assessable"] == 0


def test_hypotension_goes_by_mean_pressure_where_it_covers_enough(clinic, tables):
    mean, systolic = every_5_min(tables, "map", [70] * 12), every_5_min(tables, "sap", [80] * 12)
    found = exposure(clinic, tables, "hypotension", mean, systolic)
    assert (found["parameter"], found["has"]) == ("map", 0)


def test_hypotension_goes_by_systolic_pressure_where_mean_does_not(clinic, tables):
    mean, systolic = every_5_min(tables, "map", [40] * 3), every_5_min(tables, "sap", [89] * 12)
    found = exposure(clinic, tables, "hypotension", mean, systolic)
    assert (found["parameter"], found["has"], found["area"]) == ("sap", 1, 60)


def test_a_dog_without_weight_has_no_heart_rate_limit(clinic, tables):
    unweighed = CASE.replace("20 ", "   ")
    record = clinic(cases=unweighed, vitals=tables.vitals(every_5_min(tables, "heart_rate", [40] * 12)))
    assert record.rows("case_exposures", measure="bradycardia") == []


def test_size_decides_a_dogs_heart_rate_limit_with_the_edge_in_the_smaller_band(clinic, tables):
    rate = every_5_min(tables, "heart_rate", [65] * 12)
    for weight, has in (("10 ", 1), ("10.1", 0), ("25 ", 0)):
        found = exposure(clinic, tables, "bradycardia", rate, cases=CASE.replace("20 ", weight))
        assert found["has"] == has, weight


def test_a_limit_of_the_clinics_own_takes_the_place_of_ours(clinic, tables):
    rate = every_5_min(tables, "etco2", [50] * 12)
    own = {"limits": {"hypoventilation": {"dog": [{"above": 55}]}}}
    assert exposure(clinic, tables, "hypoventilation", rate, **own)["has"] == 0


def test_a_window_that_ends_before_it_begins_is_not_assessable(clinic, tables):
    backward = CASE.replace("9:00", "7:00")
    found = exposure(clinic, tables, "hypoventilation", every_5_min(tables, "etco2", [50] * 12), cases=backward)
    assert found["assessable"] == 0 and found["has"] is None
