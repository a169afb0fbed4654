"""What was charted, where it is charted at all, and against what the readings show. One rule a test."""

HEAD = "case_id | site | species | induction_at | extubation_at\n"
TWO_SITES = HEAD + "C1 | north | dog | 8:00 | 9:00\nC2 | north | dog | 8:00 | 9:00\nC3 | south | dog | 8:00 | 9:00"


def has(record, measure):
    rows = record.rows("case_shares", measure=measure)
    return {row["case_id"]: (row["assessable"], row["has"]) for row in rows}


def test_a_site_without_any_event_row_does_not_record_events(clinic):
    record = clinic(cases=TWO_SITES, events="case_id | event\nC1 | apnea")
    assert has(record, "complication") == {"C1": (1, 1), "C2": (1, 0), "C3": (0, None)}
    assert has(record, "complication_apnea")["C2"] == (1, 0)


def test_the_settings_can_say_that_a_site_records_them(clinic):
    record = clinic(cases=TWO_SITES, settings={"events": {"recorded": ["south"]}})
    assert has(record, "complication") == {"C1": (0, None), "C2": (0, None), "C3": (1, 0)}
    everywhere = clinic(cases=TWO_SITES, settings={"events": {"recorded": True}})
    assert {row[0] for row in has(everywhere, "complication").values()} == {1}


def test_from_a_day_on(clinic):
    record = clinic(
        cases=TWO_SITES.replace("C2 | north | dog | 8:00 | 9:00", "C2 | north | dog | +1 8:00 | +1 9:00"),
        events="case_id | event\nC1 | apnea",
        settings={"events": {"from": "2026-03-03"}},
    )
    assert has(record, "complication") == {"C1": (0, None), "C2": (1, 0), "C3": (0, None)}


def test_other_is_recorded_but_is_no_complication(clinic):
    record = clinic(cases=TWO_SITES, events="case_id | event\nC1 | other")
    assert has(record, "complication")["C1"] == (1, 0)
    assert record.rows("case_shares", measure="complication_other") == []


def test_an_event_counts_at_whatever_time_and_a_case_once(clinic):
    record = clinic(cases=TWO_SITES, events="case_id | event | occurred_at\nC1 | apnea | +3 8:00\nC1 | apnea | 8:10")
    assert has(record, "complication")["C1"] == (1, 1)
    assert len(record.rows("case_shares", measure="complication_apnea", case_id="C1")) == 1


def agreement(clinic, tables, value, events):
    record = clinic(
        cases=HEAD + "C1 | north | dog | 8:00 | 9:00",
        vitals=tables.vitals(tables.series("etco2", " ".join(f"{minute}:{value}" for minute in range(0, 60, 5)))),
        events="case_id | event | occurred_at\n" + events,
    )
    rows = {row["measure"]: row["has"] for row in record.rows("case_shares") if "agreement_hypov" in row["measure"]}
    return [rows[f"agreement_hypoventilation_{part}"] for part in ("both", "detected_only", "charted_only")]


def test_agreement_of_readings_and_chart(clinic, tables):
    assert agreement(clinic, tables, 50, "C1 | hypoventilation | 8:30") == [1, 0, 0]
    assert agreement(clinic, tables, 50, "C1 | apnea | 8:30") == [0, 1, 0]
    assert agreement(clinic, tables, 40, "C1 | hypoventilation | ") == [0, 0, 1]
    assert agreement(clinic, tables, 40, "C1 | apnea | 8:30") == [0, 0, 0]


def test_an_event_charted_outside_the_anesthetic_is_not_about_it(clinic, tables):
    assert agreement(clinic, tables, 50, "C1 | hypoventilation | 9:30") == [0, 1, 0]


def charting(clinic, tables, readings, end="9:00"):
    record = clinic(
        cases=HEAD + f"C1 | north | dog | 8:00 | {end}",
        vitals=tables.vitals(tables.series("heart_rate", readings)) if readings else tables.vitals(),
    )
    row = record.row("case_charting")
    return row["assessable"], row["has"]


def test_a_charting_gap_is_more_than_ten_minutes_between_start_readings_and_end(clinic, tables):
    every_10 = "10:90 20:90 30:90 40:90 50:90"
    assert charting(clinic, tables, every_10) == (1, 0)
    assert charting(clinic, tables, every_10.replace("30:90", "31:90")) == (1, 1)
    assert charting(clinic, tables, "11:90 20:90 30:90 40:90 50:90") == (1, 1)
    assert charting(clinic, tables, every_10.replace("50:90", "49:90")) == (1, 1)
    assert charting(clinic, tables, "") == (1, 1)


def test_a_window_of_ten_minutes_has_no_gap_to_judge(clinic, tables):
    assert charting(clinic, tables, "", end="8:10") == (0, None)
    assert charting(clinic, tables, "", end="8:11") == (1, 1)


def test_start_is_the_first_known_in_order_not_the_earliest(clinic):
    record = clinic(cases="case_id | induction_at | intubation_at | extubation_at\nC1 | 8:10 | 8:05 | 9:00")
    assert record.row("case_windows")["anesthesia_min"] == 50


def test_end_is_estimated_from_the_last_reading_before_the_first_recovery_stage(clinic, tables):
    record = clinic(
        cases="case_id | induction_at | sternal_at | standing_at\nC1 | 8:00 | 8:50 | 9:10",
        vitals=tables.vitals(tables.series("heart_rate", "10:90 50:90 60:90")),
    )
    row = record.row("case_windows")
    assert (row["anesthesia_min"], row["end_estimated"]) == (50, 1)


def test_recovery_never_ends_before_the_anesthetic(clinic):
    record = clinic(cases="case_id | induction_at | extubation_at | recovery_end_at\nC1 | 8:00 | 9:00 | 8:30")
    row = record.row("case_windows")
    assert row["recovery_end_s"] == row["end_s"]
