"""Absorbent, canisters, cylinders, inhalants: facts of the trade with their source, one rule a test."""

import pytest

CASES = "case_id | species | weight_kg | machine_id | breathing_system | agent | induction_at | extubation_at\n"
DONE = "machine_id | at | item | action | value | unit\n"
MARKS = {"absorbent": {"minutes_per_mark": 30}}


def charge(store, cases, equipment, settings=MARKS):
    (row,) = store(settings=settings, cases=CASES + cases, equipment=DONE + equipment).rows("absorbent_charges")
    return row


@pytest.mark.parametrize("minutes, marks", [(30, 16), (15, 32)])
def test_eight_hours_are_16_marks_of_half_an_hour_or_32_of_a_quarter(store, minutes, marks):
    # one box a half hour is common practice; one a quarter hour: Zeltzman, veterinary anesthesia machine article
    row = charge(
        store,
        "C1 | dog | 20 | M1 | rebreathing | | 2026-03-02 08:00 | 2026-03-02 16:00",
        "M1 | 2026-03-02 07:00 | absorbent | changed | |",
        settings={"absorbent": {"minutes_per_mark": minutes}},
    )
    assert (row["used_hours"], row["marks_expected"]) == (8, marks)
    assert row["overdue"] == 0  # at 8 h, not past them


def test_without_minutes_a_mark_no_mark_is_expected(store):
    row = charge(
        store,
        "C1 | dog | 20 | M1 | rebreathing | | 2026-03-02 08:00 | 2026-03-02 16:00",
        "M1 | 2026-03-02 07:00 | absorbent | changed | |",
        settings={},
    )
    assert row["marks_expected"] is None


def test_charted_marks_belong_to_the_charge_they_were_made_on(store):
    rows = store(
        settings=MARKS,
        cases=CASES + "C1 | dog | 20 | M1 | rebreathing | | 2026-03-02 08:00 | 2026-03-02 09:45",
        equipment=DONE
        + "M1 | 2026-03-02 07:00 | absorbent | changed | |\n"
        + "M1 | 2026-03-02 08:30 | absorbent | marked | |\n"
        + "M1 | 2026-03-02 09:00 | absorbent | marked | |\n"
        + "M1 | 2026-03-02 10:00 | absorbent | changed | |\n"
        + "M1 | 2026-03-02 10:30 | absorbent | marked | |",
    ).rows("absorbent_charges")
    assert [(row["marks"], row["marks_expected"]) for row in rows] == [(2, 3), (1, 0)]


@pytest.mark.parametrize("kg, hours", [(10, 44), (40, 16)])
def test_carbon_dioxide_fills_a_kilogram_of_absorbent_in_the_hours_of_the_table(store, kg, hours):
    # 8 x kg^0.75 mL/min (0.8 x Kleiber's oxygen use) against 12 L a 100 g, Jorgensen and Jorgensen 1977: one
    # kilogram lasts 44 h at 10 kg, 16 h at 40 kg
    row = charge(
        store,
        f"C1 | dog | {kg} | M1 | rebreathing | | 2026-03-02 08:00 | 2026-03-02 09:00",
        "M1 | 2026-03-02 07:00 | absorbent | changed | 1000 | g",
    )
    assert row["bound_l"] == 120
    assert row["bound_l"] / row["co2_l"] == pytest.approx(hours, abs=0.5)


def test_a_case_of_unknown_weight_is_not_in_the_load_and_is_said(store):
    row = charge(
        store,
        "C1 | dog | 20 | M1 | rebreathing | | 2026-03-02 08:00 | 2026-03-02 09:00\n"
        "C2 | dog | | M1 | rebreathing | | 2026-03-02 10:00 | 2026-03-02 13:00",
        "M1 | 2026-03-02 07:00 | absorbent | changed | 1000 | g",
    )
    assert row["co2_l"] == pytest.approx(8 * 20**0.75 * 60 / 1000)
    assert (row["known_hours"], row["used_hours"], row["cases"]) == (1, 4, 2)


def test_no_grams_no_bound(store):
    row = charge(
        store,
        "C1 | dog | 20 | M1 | rebreathing | | 2026-03-02 08:00 | 2026-03-02 09:00",
        "M1 | 2026-03-02 07:00 | absorbent | changed | 1 | kg",
    )
    assert row["bound_l"] is None


def test_inspired_carbon_dioxide_is_evidence(store):
    readings = "\n".join(f"C1 | 2026-03-02 08:{minute:02d} | fico2 | 8" for minute in range(0, 60, 5))
    shelf = store(
        settings=MARKS,
        cases=CASES
        + "C1 | dog | 20 | M1 | rebreathing | | 2026-03-02 08:00 | 2026-03-02 09:00\n"
        + "C2 | dog | 20 | M1 | rebreathing | | 2026-03-02 10:00 | 2026-03-02 11:00",
        equipment=DONE + "M1 | 2026-03-02 07:00 | absorbent | changed | |",
        vitals="case_id | taken_at | parameter | value\n" + readings,
    )
    (row,) = shelf.rows("absorbent_charges")
    assert (row["co2_seen"], row["co2_judged"], row["cases"]) == (1, 1, 2)


def canister(store, *weights):
    equipment = DONE + "M1 | 2026-03-02 07:00 | scavenging_canister | changed | |\n" + "\n".join(weights)
    cases = CASES + "C1 | dog | 20 | M1 | rebreathing | isoflurane | 2026-03-02 08:00 | 2026-03-02 10:00"
    (row,) = store(cases=cases, equipment=equipment).rows("canister_charges")
    return row["gain_g"], row["spent"]


def test_a_canister_is_spent_at_fifty_grams_more(store):
    # Smith and Bolon 2003, Contemp Top Lab Anim Sci 42:10-5: replace at +50 g
    first = "M1 | 2026-03-02 07:05 | scavenging_canister | weighed | 1200 | g"
    assert canister(store, first) == (None, 0)
    assert canister(store, first, "M1 | 2026-03-02 11:00 | scavenging_canister | weighed | 1249.9 | g")[1] == 0
    assert canister(store, first, "M1 | 2026-03-02 11:00 | scavenging_canister | weighed | 1250 | g") == (50, 1)


@pytest.mark.parametrize("agent, ml", [("isoflurane", 33.4), ("sevoflurane", 32.9)])
def test_fifty_grams_of_charcoal_gain_are_this_much_liquid(store, agent, ml):
    # densities 1.496 (isoflurane, USP label) and 1.520 g/mL (sevoflurane, dog label)
    density = store().db.execute("SELECT density_g_ml FROM seed_agents WHERE agent = ?", [agent]).fetchone()[0]
    assert 50 / density == pytest.approx(ml, rel=0.01)


def cylinder(store, *lines):
    (row,) = store(equipment=DONE + "\n".join(lines)).rows("cylinder_levels")
    return row["left_l"]


def test_a_full_e_cylinder_is_660_litres_at_1900_psi_and_half_of_it_330(store):
    # oxygen-remaining page after Nagelhout 2001; linear: Shouman, Anesth Analg 2004;99:307-8
    assert cylinder(store, "M1 | 2026-03-02 07:00 | oxygen_cylinder | changed | 1900 | psi") == 660
    half = cylinder(store, "M1 | 2026-03-02 07:00 | oxygen_cylinder | changed | 950 | psi")
    assert half == 330
    assert half / 1.0 / 60 == 5.5  # hours at 1 L/min


def test_bar_is_read_too_and_a_reading_before_the_change_is_not(store):
    bar = cylinder(store, "M1 | 2026-03-02 07:00 | oxygen_cylinder | marked | 131 | bar")
    assert bar == pytest.approx(660, rel=0.001)  # 131.0 bar = 1900 psi
    assert cylinder(
        store,
        "M1 | 2026-03-02 07:00 | oxygen_cylinder | marked | 300 | psi",
        "M1 | 2026-03-02 08:00 | oxygen_cylinder | changed | |",
    ) is None  # fmt: skip


def months(store, agents, fills):
    cases = "\n".join(
        f"C{place} | dog | 20 | {machine} | rebreathing | {agent}"
        f" | 2026-03-0{place + 2} 08:00 | 2026-03-0{place + 2} 09:00"
        for place, (machine, agent) in enumerate(agents)
    )
    flows = "\n".join(
        f"C{place} | 2026-03-0{place + 2} 08:00 | {parameter} | {value}"
        for place in range(len(agents))
        for parameter, value in (("o2_flow", 1), ("vaporizer_setting", 2))
    )
    equipment = DONE + "\n".join(
        f"{machine} | 2026-03-09 08:00 | vaporizer | filled | {cell}" for machine, cell in fills
    )
    vitals = f"case_id | taken_at | parameter | value\n{flows}"
    rows = store(cases=CASES + cases, equipment=equipment, vitals=vitals).rows("inhalant_months")
    return {row["agent"]: (row["modelled_ml"], row["filled_ml"], row["fills"]) for row in rows}


def test_fills_stand_beside_the_agent_of_the_machine(store):
    found = months(store, [("M1", "isoflurane"), ("M2", "sevoflurane")], [("M1", "100 | mL"), ("M2", "50 | mL")])
    assert found == {
        "isoflurane": (pytest.approx(1 * 1000 * 0.02 * 60 / 195), 100, 1),
        "sevoflurane": (pytest.approx(1 * 1000 * 0.02 * 60 / 184), 50, 1),
    }


def test_a_fill_on_a_machine_with_two_agents_is_not_guessed(store):
    found = months(store, [("M1", "isoflurane"), ("M1", "sevoflurane")], [("M1", "100 | mL"), ("M1", "2 | oz")])
    assert found["not known"] == (None, 100, 2)
    assert found["isoflurane"][1] is None
