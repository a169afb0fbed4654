"""Techniques, complications and cases to talk about. Each test is one rule of its model."""

ONE_CASE = """
    case_id | start_s | end_s
    C1      | 09:00   | 11:00
"""


def test_first_and_last_day_of_a_technique_by_role(training):
    read = training(
        stg_cases="""
            case_id | trainee | trainee_role
            C1      | res     | observing
            C2      | res     | primary
            C3      | res     | primary
        """,
        stg_case_techniques="""
            case_id | technique
            C1      | epidural
            C2      | epidural
            C3      | epidural
            C3      | arterial_line
        """,
        case_windows="""
            case_id | start_s  | end_s
            C1      | 09:00    | 11:00
            C2      | +3 09:00 | +3 10:00
            C3      | +5 09:00 | +5 10:00
        """,
    )
    columns = "technique, role, cases, CAST(first_day AS VARCHAR), CAST(last_day AS VARCHAR)"
    assert read(columns, "trainee_techniques") == [
        ("arterial_line", "primary", 1, "2026-03-06", "2026-03-06"),
        ("epidural", "observing", 1, "2026-03-01", "2026-03-01"),
        ("epidural", "primary", 2, "2026-03-04", "2026-03-06"),
    ]


def test_a_complication_is_met_by_the_part_that_was_running(training):
    read = training(
        stg_cases="case_id | trainee\nC1 | res",
        stg_case_people="""
            case_id | person | role      | from_s | to_s
            C1      | res    | observing | 09:00  | 10:00
            C1      | res    | primary   | 10:00  |
        """,
        stg_events="""
            case_id | event           | occurred_s | severity
            C1      | hypotension     | 09:20      | minor
            C1      | hypotension     | 09:40      | moderate
            C1      | hypothermia     |            |
            C1      | regurgitation   | 11:30      |
        """,
        case_windows=ONE_CASE,
    )
    assert read("event, role, times_charted, worst", "trainee_events") == [
        ("hypotension", "observing", 2, 2),
        ("hypothermia", "observing", 1, None),
        ("hypothermia", "primary", 1, None),
        ("regurgitation", "primary", 1, None),
    ]


def test_cases_to_discuss_are_severe_sick_or_the_first_of_their_kind(training):
    read = training(
        stg_cases="""
            case_id | trainee | trainee_role | species | asa_class
            C1      | res     | primary      | dog     | 2
            C2      | res     | primary      | dog     | 4
            C3      | res     | observing    | cat     | 5
            C4      | res     | assisting    | dog     | 1
        """,
        stg_case_techniques="case_id | technique\nC2 | epidural\nC3 | epidural",
        stg_events="""
            case_id | event       | severity
            C1      | hypotension | moderate
            C4      | apnea       | severe
        """,
        case_windows="""
            case_id | start_s  | end_s
            C1      | 09:00    | 10:00
            C2      | +1 09:00 | +1 10:00
            C3      | +2 09:00 | +2 10:00
            C4      | +3 09:00 | +3 10:00
        """,
    )
    assert read("case_id, reason, level", "trainee_discussion") == [
        ("C1", "first_species", "dog"),
        ("C2", "first_technique", "epidural"),
        ("C2", "high_risk", "4"),
        ("C4", "severe_event", "apnea"),
    ]
