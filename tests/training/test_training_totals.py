"""Whatever the record: each case counts once a role, and a slow count in plain Python gives the same."""

from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline import database

MIDNIGHT_S = 1772323200  # 2026-03-01 00:00 UTC
PEOPLE = ("ash", "elm", "oak")
ROLES = ("primary", "assisting", "observing", "supervising")
SPECIES = ("dog", "cat", None)
ends = st.one_of(st.none(), st.integers(-3, 12))
part = st.tuples(st.sampled_from(PEOPLE), st.sampled_from(ROLES), ends, ends)
case = st.fixed_dictionaries(
    {
        "species": st.sampled_from(SPECIES),
        "trainee": st.sampled_from((*PEOPLE, None)),
        "trainee_role": st.sampled_from((*ROLES[:3], None)),
        "anesthetist": st.sampled_from((*PEOPLE, None)),
        "supervisor": st.sampled_from((*PEOPLE, None)),
        "minutes": st.one_of(st.none(), st.integers(1, 10)),
        "parts": st.lists(part, max_size=4),
    }
)


def tables(cases: list[dict]) -> dict[str, list[dict]]:
    """Inputs of the layer; each case starts at minute 0 of its own day."""
    people, windows, rows = [], [], []
    for number, one in enumerate(cases):
        name, start = f"C{number}", MIDNIGHT_S + number * 86400
        rows.append({"case_id": name, **{key: one[key] for key in ("species", "trainee", "trainee_role",
                                                                   "anesthetist", "supervisor")}})  # fmt: skip
        end = None if one["minutes"] is None else start + one["minutes"] * 60
        windows.append({"case_id": name, "start_s": start, "end_s": end})
        for person, role, begins, stops in one["parts"]:
            people.append({"case_id": name, "person": person, "role": role,
                           "from_s": None if begins is None else start + begins * 60,
                           "to_s": None if stops is None else start + stops * 60})  # fmt: skip
    return {"stg_cases": rows, "case_windows": windows, "stg_case_people": people,
            "programme_trainees": [{"person": person} for person in PEOPLE]}  # fmt: skip


def parts_by_hand(one: dict) -> list[tuple]:
    """(person, role, from, to) of a case, as data_model.md words it: case_people, else the columns of cases."""
    parts = list(one["parts"])
    if not any(role != "supervising" for _, role, _, _ in one["parts"]):
        trainee, role, anesthetist = one["trainee"], one["trainee_role"], one["anesthetist"]
        if trainee:
            parts.append((trainee, role or ("primary" if anesthetist == trainee else None), None, None))
        if anesthetist and anesthetist != trainee:
            parts.append((anesthetist, "assisting" if trainee and role == "primary" else "primary", None, None))
    if one["supervisor"] and not any(role == "supervising" for _, role, _, _ in one["parts"]):
        parts.append((one["supervisor"], "supervising", None, None))
    return parts


def minutes_by_hand(stretches: list[tuple], length: int | None):
    """Minutes of a case somebody was there, counted one by one; None where a stretch cannot be placed."""
    there: set[int] = set()
    for begins, stops in stretches:
        begins = 0 if begins is None else begins
        stops = length if stops is None else stops
        if length is None or begins > stops:
            return None
        there |= set(range(max(begins, 0), min(stops, length)))
    return len(there)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(case, min_size=1, max_size=5))
def test_the_models_count_what_a_slow_count_does(build_training, cases):
    counted, minutes, together = Counter(), {}, {}
    for number, one in enumerate(cases):
        parts = parts_by_hand(one)
        for person, role in {(person, role) for person, role, _, _ in parts}:
            counted[person, role] += 1
            own = [(begins, stops) for who, what, begins, stops in parts if (who, what) == (person, role)]
            minutes[f"C{number}", person, role] = minutes_by_hand(own, one["minutes"])
            all_roles = [(begins, stops) for who, _, begins, stops in parts if who == person]
            together[f"C{number}", person] = minutes_by_hand(all_roles, one["minutes"])
    with database.connect() as db:
        build_training(db, **tables(cases))
        counts = db.execute("SELECT person, role, cases FROM trainee_counts WHERE by_column = 'all'").fetchall()
        log = db.execute("SELECT case_id, person, role, minutes, case_minutes, first_role FROM trainee_log").fetchall()
        by_species = db.execute(
            "SELECT person, role, sum(cases) FROM trainee_counts WHERE by_column = 'species' GROUP BY ALL"
        ).fetchall()
    assert {(person, role): n for person, role, n in counts} == counted
    assert {(person, role): n for person, role, n in by_species} == counted
    assert {(case_id, person, role): value for case_id, person, role, value, _, _ in log} == minutes
    assert {(case_id, person): value for case_id, person, _, _, value, _ in log} == together
    assert Counter((case_id, person) for case_id, person, *_, first in log if first) == Counter(together.keys())
    # sum over trainees = (case, trainee) pairs that have the role
    assert sum(n for _, role, n in counts if role == "primary") == sum(key[2] == "primary" for key in minutes)


@pytest.mark.parametrize("role", ROLES[:3])
def test_with_one_trainee_a_case_the_sum_over_trainees_is_the_number_of_cases_with_that_role(training, role):
    cases = [{"case_id": f"C{i}", "trainee": PEOPLE[i % 3], "trainee_role": role} for i in range(7)]
    windows = [{"case_id": f"C{i}", "start_s": MIDNIGHT_S, "end_s": MIDNIGHT_S + 60} for i in range(7)]
    read = training(stg_cases=[*cases, {"case_id": "C9"}], case_windows=windows)
    assert read("sum(cases)", "trainee_counts", f"by_column = 'all' AND role = '{role}'") == [(7,)]
