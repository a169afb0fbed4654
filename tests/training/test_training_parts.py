"""Who had which part and for how long. Each test is one rule of case_parts, part_minutes or part_log.

The rules are the project's own (sql/models/60_training); expected values are written as the sums they are.
"""

ONE_CASE = """
    case_id | start_s | end_s
    C1      | 09:00   | 11:00
"""


def parts(read, where="span = 'part'"):
    return read("person, role, minutes", "part_minutes", where)


def test_without_case_people_the_columns_of_the_case_stand_for_all_of_it(training):
    read = training(
        stg_cases="""
            case_id | anesthetist | supervisor | trainee | trainee_role
            C1      | nurse       | boss       | res     | assisting
        """,
        case_windows=ONE_CASE,
    )
    assert parts(read) == [("boss", "supervising", 120), ("nurse", "primary", 120), ("res", "assisting", 120)]


def test_beside_a_primary_trainee_the_anesthetist_assists(training):
    read = training(
        stg_cases="""
            case_id | anesthetist | trainee | trainee_role
            C1      | nurse       | res     | primary
        """,
        case_windows=ONE_CASE,
    )
    assert parts(read) == [("nurse", "assisting", 120), ("res", "primary", 120)]


def test_anesthetist_and_trainee_in_one_person_is_one_part(training):
    read = training(
        stg_cases="""
            case_id | anesthetist | trainee | trainee_role
            C1      | res         | res     | assisting
            C2      | res         | res     |
        """,
        case_windows="""
            case_id | start_s | end_s
            C1      | 09:00   | 11:00
            C2      | 09:00   | 11:00
        """,
    )
    assert read("case_id, person, role", "part_log") == [("C1", "res", "assisting"), ("C2", "res", "primary")]


def test_a_trainee_without_a_role_is_kept_and_not_guessed(training):
    read = training(stg_cases="case_id | trainee\nC1 | res", case_windows=ONE_CASE)
    assert parts(read) == [("res", None, 120)]


def test_case_people_takes_the_place_of_trainee_and_anesthetist(training):
    read = training(
        stg_cases="""
            case_id | anesthetist | supervisor | trainee | trainee_role
            C1      | nurse       | boss       | res     | primary
        """,
        stg_case_people="""
            case_id | person | role
            C1      | other  | primary
        """,
        case_windows=ONE_CASE,
    )
    assert parts(read) == [("boss", "supervising", 120), ("other", "primary", 120)]


def test_a_supervisor_charted_in_case_people_takes_the_place_of_the_one_in_cases(training):
    read = training(
        stg_cases="""
            case_id | supervisor | trainee | trainee_role
            C1      | boss       | res     | primary
        """,
        stg_case_people="""
            case_id | person | role
            C1      | chief  | supervising
        """,
        case_windows=ONE_CASE,
    )
    assert parts(read) == [("chief", "supervising", 120), ("res", "primary", 120)]


def test_two_trainees_in_one_case_each_have_their_own_part(training):
    read = training(
        stg_cases="case_id | trainee\nC1 | res",
        stg_case_people="""
            case_id | person  | role      | from_s | to_s
            C1      | res     | primary   | 09:00  | 10:30
            C1      | student | observing | 09:30  | 10:00
        """,
        case_windows=ONE_CASE,
    )
    assert parts(read) == [("res", "primary", 90), ("student", "observing", 30)]


def test_a_case_over_midnight_belongs_to_the_day_it_began(training):
    read = training(
        stg_cases="case_id | trainee | trainee_role\nC1 | res | primary",
        case_windows="""
            case_id | start_s  | end_s
            C1      | 23:30    | +1 01:00
        """,
    )
    assert read("CAST(start_day AS VARCHAR), minutes", "part_log") == [("2026-03-01", 30 + 60)]


def test_a_change_of_role_counts_in_both_roles_and_once_in_the_case(training):
    read = training(
        stg_cases="case_id | trainee\nC1 | res",
        stg_case_people="""
            case_id | person | role      | from_s | to_s
            C1      | res    | observing | 09:00  | 10:00
            C1      | res    | primary   | 10:00  | 11:00
        """,
        case_windows=ONE_CASE,
    )
    assert parts(read) == [("res", "observing", 60), ("res", "primary", 60)]
    assert parts(read, "span = 'case'") == [("res", None, 60 + 60)]
    assert read("role, cases", "trainee_counts", "by_column = 'all'") == [("observing", 1), ("primary", 1)]
    assert read("sum(first_role)", "part_log") == [(1,)]


def test_overlapping_parts_of_one_person_count_their_time_once(training):
    read = training(
        stg_cases="case_id\nC1",
        stg_case_people="""
            case_id | person | role      | from_s | to_s
            C1      | res    | primary   | 09:00  | 10:00
            C1      | res    | primary   | 09:30  | 10:30
            C1      | res    | primary   | 09:40  | 09:50
            C1      | res    | observing | 10:00  | 11:00
        """,
        case_windows=ONE_CASE,
    )
    assert parts(read) == [("res", "observing", 60), ("res", "primary", 60 + 30)]
    assert parts(read, "span = 'case'") == [("res", None, 120)]


def test_parts_are_cut_to_the_anesthesia_window_and_open_ends_reach_it(training):
    read = training(
        stg_cases="case_id\nC1",
        stg_case_people="""
            case_id | person | role      | from_s | to_s
            C1      | early  | primary   | 08:00  | 09:45
            C1      | late   | assisting | 10:30  | 12:00
            C1      | joined | observing | 10:00  |
            C1      | left   | observing |        | 09:10
            C1      | gone   | observing | 07:00  | 08:00
        """,
        case_windows=ONE_CASE,
    )
    assert parts(read) == [
        ("early", "primary", 45),
        ("gone", "observing", 0),
        ("joined", "observing", 60),
        ("late", "assisting", 30),
        ("left", "observing", 10),
    ]


def test_unknown_time_stays_unknown_and_is_counted(training):
    read = training(
        stg_cases="""
            case_id | trainee | trainee_role
            C1      | res     | primary
            C2      | res     | primary
            C3      | res     | primary
        """,
        stg_case_people="""
            case_id | person | role    | from_s | to_s
            C3      | res    | primary | 10:00  | 09:30
        """,
        case_windows="""
            case_id | start_s | end_s
            C1      | 09:00   | 11:00
            C2      | 09:00   |
            C3      | 09:00   | 11:00
        """,
    )
    assert read("cases, minutes, unknown_minutes", "trainee_counts", "by_column = 'all'") == [(3, 120, 2)]


def test_a_case_without_a_start_is_listed_and_not_counted(training):
    read = training(
        stg_cases="""
            case_id | trainee | trainee_role
            C1      | res     | primary
            C2      | res     | primary
        """,
        case_windows=ONE_CASE,
    )
    assert read("case_id, counted, minutes", "trainee_log") == [("C1", 1, 120), ("C2", 0, None)]
    assert read("cases", "trainee_counts", "by_column = 'all'") == [(1,)]


def test_only_listed_people_and_trainees_of_a_case_have_a_log(training):
    read = training(
        stg_cases="case_id | anesthetist | trainee | trainee_role\nC1 | nurse | res | primary",
        programme_trainees="person | start_day\nlisted | 2025-01-01",
        case_windows=ONE_CASE,
    )
    assert read("person, listed", "trainees") == [("listed", 1), ("res", 0)]
    assert read("person", "trainee_log") == [("res",)]
