"""Drugs in mg and mL, gases, absorbent, canisters, leak tests. One rule a test; facts of the trade with source."""

import pytest

ITEMS = {"items": {"propofol 20 mL": {"drug": "propofol", "concentration_mg_ml": 10, "pack_ml": 20}}}


def dose(clinic, line, weight="10", more=""):
    record = clinic(
        settings=ITEMS,
        cases=f"case_id | species | weight_kg | induction_at\nC1 | dog | {weight} | 8:00",
        drugs="case_id | drug | kind | given_at | stopped_at | amount | amount_unit | concentration_mg_ml\n"
        + f"C1 | propofol | {line}"
        + more,
    )
    row = record.row("drug_doses", kind=line.split(" |")[0])
    return row["mg"], row["ml"]


# Every unit of the record, for a 10 kg dog, propofol 10 mg/mL, infusions of two hours; arithmetic.
@pytest.mark.parametrize(
    "line, mg, ml",
    [
        ("bolus | 8:00 | | 40 | mg |", 40, 4),
        ("bolus | 8:00 | | 500 | mcg |", 0.5, 0.05),
        ("bolus | 8:00 | | 3 | mL |", 30, 3),
        ("bolus | 8:00 | | 4 | mg/kg |", 40, 4),
        ("bolus | 8:00 | | 5 | mcg/kg |", 0.05, 0.005),
        ("infusion | 8:00 | 10:00 | 6 | mg/kg/h |", 120, 12),
        ("infusion | 8:00 | 10:00 | 100 | mcg/kg/min |", 120, 12),
        ("infusion | 8:00 | 10:00 | 50 | mcg/kg/h |", 1, 0.1),
        ("infusion | 8:00 | 10:00 | 2 | mL/h |", 40, 4),
        ("infusion | 8:00 | 10:00 | 15 | mg/h |", 30, 3),
        ("infusion | 8:00 | 10:00 | 70 | mg |", 70, 7),
        ("infusion | 8:00 | 10:00 | 7 | mL |", 70, 7),
        ("bolus | 8:00 | | 40 | mg | 20", 40, 2),
    ],
)
def test_units(clinic, line, mg, ml):
    assert dose(clinic, line) == pytest.approx((mg, ml))


@pytest.mark.parametrize(
    "line",
    [
        "bolus | 8:00 | | 6 | mg/kg/h |",
        "bolus | 8:00 | 9:00 | 6 | mL/h |",
        "infusion | 8:00 | 10:00 | 4 | mg/kg |",
        "infusion | 8:00 | | 6 | mg/kg/h |",
        "infusion | 8:00 | 7:00 | 6 | mg/kg/h |",
        "bolus | 8:00 | | | mg |",
        "bolus | 8:00 | | 4 | |",
    ],
)
def test_a_mismatch_or_a_missing_part_is_unknown(clinic, line):
    assert dose(clinic, line) == (None, None)


def test_a_dose_per_kg_without_a_believable_weight_is_unknown(clinic):
    assert dose(clinic, "bolus | 8:00 | | 4 | mg/kg |", weight="") == (None, None)
    assert dose(clinic, "bolus | 8:00 | | 4 | mg/kg |", weight="4200") == (None, None)


def test_an_infusion_without_a_stop_ends_at_the_next_row_of_the_drug_either_kind(clinic):
    following = "\nC1 | propofol | bolus | 9:30 | | 1 | mg |"
    assert dose(clinic, "infusion | 8:00 | | 6 | mg/kg/h |", more=following)[0] == pytest.approx(6 * 10 * 1.5)


def test_two_strengths_on_the_shelf_leave_the_concentration_unknown(clinic):
    items = {"items": {"a": {"drug": "morphine", "concentration_mg_ml": 10},
                       "b": {"drug": "morphine", "concentration_mg_ml": 15}}}  # fmt: skip
    record = clinic(
        settings=items,
        cases="case_id | induction_at\nC1 | 8:00",
        drugs="case_id | drug | kind | given_at | amount | amount_unit\nC1 | morphine | bolus | 8:00 | 5 | mg",
    )
    row = record.row("drug_doses")
    assert (row["mg"], row["ml"]) == (5, None)


def gases(clinic, tables, *series, head="agent | induction_at | vaporizer_on_at | vaporizer_off_at | extubation_at",
          line="isoflurane | 8:00 | 8:00 | 9:00 | 9:00"):  # fmt: skip
    record = clinic(cases=f"case_id | {head}\nC1 | {line}", vitals=tables.vitals(*series))
    return record.row("gas_use")


def test_two_percent_isoflurane_at_one_litre_for_an_hour_is_6_15_ml(clinic, tables):
    # Biro 2014 (doi 10.1111/aas.12374): 195 mL vapor a mL; 1000 x 0.02 x 60 / 195 = 6.15.
    found = gases(clinic, tables, tables.series("o2_flow", "0:1"), tables.series("vaporizer_setting", "0:2"))
    assert found["liquid_ml"] == pytest.approx(6.15, abs=0.005)
    assert found["oxygen_l"] == 60
    # IPCC AR6 539, density 1.496: 806 g of CO2 equivalent a mL.
    assert found["co2e_kg"] == pytest.approx(6.1538 * 0.806, rel=1e-3)


def test_two_percent_sevoflurane_at_two_litres_is_about_13_ml_an_hour(clinic, tables):
    # An anesthetic gas calculator's worked example; 184 mL vapor a mL after Biro 2014 gives 13.04.
    found = gases(clinic, tables, tables.series("o2_flow", "0:2"), tables.series("vaporizer_setting", "0:2"),
                  line="sevoflurane | 8:00 | 8:00 | 9:00 | 9:00")  # fmt: skip
    assert found["liquid_ml"] == pytest.approx(13.04, abs=0.005)


def test_a_setting_stands_until_the_next_without_limit_also_from_before_the_start(clinic, tables):
    found = gases(clinic, tables, tables.series("o2_flow", "-30:3 40:1"), tables.series("vaporizer_setting", "0:2"))
    assert found["oxygen_l"] == 3 * 40 + 1 * 20


def test_missing_air_is_none_and_missing_oxygen_is_unknown(clinic, tables):
    dial = tables.series("vaporizer_setting", "0:2")
    with_air = gases(clinic, tables, tables.series("o2_flow", "0:1"), tables.series("air_flow", "30:1"), dial)
    assert with_air["liquid_ml"] == pytest.approx((1 * 30 + 2 * 30) * 20 / 195)
    assert gases(clinic, tables, tables.series("air_flow", "0:1"), dial)["liquid_ml"] is None


def test_minutes_before_the_first_setting_add_nothing(clinic, tables):
    found = gases(clinic, tables, tables.series("o2_flow", "20:1"), tables.series("vaporizer_setting", "30:2"))
    assert found["oxygen_l"] == 40 and found["oxygen_known_s"] == 2400
    assert found["liquid_ml"] == pytest.approx(30 * 20 / 195)


def test_oxygen_runs_from_preoxygenation_to_extubation(clinic, tables):
    head = "agent | preoxygenation_start_at | induction_at | vaporizer_on_at | vaporizer_off_at | extubation_at"
    line = "isoflurane | 7:55 | 8:00 | 8:05 | 9:00 | 9:10"
    found = gases(clinic, tables, tables.series("o2_flow", "-10:2"), head=head, line=line)
    assert found["oxygen_l"] == 2 * 75


def test_without_vaporizer_on_the_first_dial_above_zero_begins(clinic, tables):
    found = gases(clinic, tables, tables.series("o2_flow", "0:1"), tables.series("vaporizer_setting", "0:0 15:2"),
                  line="isoflurane | 8:00 | | 9:00 | 9:00")  # fmt: skip
    assert found["agent_asked_s"] == 45 * 60
    assert found["liquid_ml"] == pytest.approx(45 * 20 / 195)


CASES = "case_id | machine_id | breathing_system | agent | induction_at | extubation_at\n"
CHANGES = "machine_id | at | item | action | value | unit\n"


def test_hours_add_up_since_the_change_and_overlap_counts_once(clinic):
    record = clinic(
        cases=CASES + "C1 | M1 | rebreathing | | 8:00 | 10:00\nC2 | M1 | rebreathing | | 9:00 | 11:00\n"
        "C3 | M1 | rebreathing | | 12:00 | 13:00\nC4 | M1 | non_rebreathing | | 14:00 | 15:00",
        equipment=CHANGES + "M1 | 7:00 | absorbent | changed | 900 | g",
    )
    hours = {row["case_id"]: (row["cycle_hours_at_start"], row["use_hours"]) for row in record.rows("case_absorbent")}
    assert hours == {"C1": (0, 2), "C2": (1, 1), "C3": (3, 1)}
    assert record.row("machine_cycles")["used_s"] == 4 * 3600


def test_a_case_is_split_at_a_change(clinic):
    record = clinic(
        cases=CASES + "C1 | M1 | rebreathing | | 8:00 | 10:00",
        equipment=CHANGES + "M1 | 7:00 | absorbent | changed | |\nM1 | 9:30 | absorbent | changed | |",
    )
    assert [row["used_s"] for row in record.rows("machine_cycles")] == [5400, 1800]
    assert record.row("case_absorbent")["use_hours"] == 2


def test_before_the_first_change_nothing_is_known(clinic):
    record = clinic(
        cases=CASES + "C1 | M1 | rebreathing | | 8:00 | 9:00\nC2 | M1 | rebreathing | | 10:00 | 11:00",
        equipment=CHANGES + "M1 | 9:30 | absorbent | changed | |",
    )
    found = {row["case_id"]: (row["assessable"], row["use_hours"]) for row in record.rows("case_absorbent")}
    assert found == {"C1": (0, None), "C2": (1, 1)}


@pytest.mark.parametrize(
    "change, overdue",
    [
        ("8:00", 0),  # a change at the start counts
        ("2026-02-16 08:00", 0),  # 14 days to the second
        ("2026-02-16 07:59", 1),
    ],
)
def test_absorbent_is_overdue_past_fourteen_days(clinic, change, overdue):
    record = clinic(
        cases=CASES + "C1 | M1 | rebreathing | | 8:00 | 9:00",
        equipment=CHANGES + f"M1 | {change} | absorbent | changed | |",
    )
    assert record.row("case_absorbent")["overdue"] == overdue


@pytest.mark.parametrize("end, overdue", [("15:00", 0), ("15:01", 1)])
def test_absorbent_is_overdue_past_eight_hours(clinic, end, overdue):
    record = clinic(
        cases=CASES + f"C1 | M1 | rebreathing | | 7:00 | {end}\nC2 | M1 | rebreathing | | 16:00 | 17:00",
        equipment=CHANGES + "M1 | 7:00 | absorbent | changed | |",
    )
    assert record.row("case_absorbent", case_id="C2")["overdue"] == overdue


def test_eight_hours_are_sixteen_marks_of_half_an_hour(clinic):
    # Common practice: a mark stands for half an hour; 8 h of use are 16.
    record = clinic(
        settings={"absorbent": {"minutes_per_mark": 30}},
        cases=CASES + "C1 | M1 | rebreathing | | 7:00 | 15:00",
        equipment=CHANGES + "M1 | 7:00 | absorbent | changed | |",
    )
    assert record.row("other_totals", measure="absorbent_marks_expected")["amount"] == 16
    without = clinic(
        cases=CASES + "C1 | M1 | rebreathing | | 7:00 | 15:00",
        equipment=CHANGES + "M1 | 7:00 | absorbent | changed | |",
    )
    assert without.row("other_totals", measure="absorbent_marks_expected")["amount"] is None


@pytest.mark.parametrize("second, overdue", [("549.9", 0), ("550", 1)])
def test_a_canister_is_spent_at_fifty_grams_of_gain(clinic, second, overdue):
    record = clinic(
        cases=CASES + "C1 | M1 | | isoflurane | 8:00 | 9:00",
        equipment=CHANGES
        + "M1 | 6:00 | scavenging_canister | changed | |\nM1 | 6:05 | scavenging_canister | weighed | 500 | g\n"
        + f"M1 | 7:00 | scavenging_canister | weighed | {second} | g\n"
        + "M1 | 8:30 | scavenging_canister | weighed | 700 | g",
    )
    assert record.row("case_canister")["overdue"] == overdue


def test_without_weights_hours_of_inhalant_cases_decide(clinic):
    record = clinic(
        cases=CASES + "C1 | M1 | | isoflurane | 0:00 | 12:01\nC2 | M1 | | none | 13:00 | 14:00\n"
        "C3 | M1 | | sevoflurane | 15:00 | 16:00",
        equipment=CHANGES + "M1 | 0:00 | scavenging_canister | changed | |",
    )
    found = {row["case_id"]: row["overdue"] for row in record.rows("case_canister")}
    assert found == {"C1": 0, "C3": 1}
