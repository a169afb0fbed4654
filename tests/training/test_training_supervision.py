"""Who supervised whom, and for how long. Each test is one rule of supervision_overlaps or part_log."""

ONE_CASE = """
    case_id | start_s | end_s
    C1      | 09:00   | 11:00
"""


def supervised(read):
    return read("person, role, supervised, supervised_minutes", "part_log")


def test_supervision_counts_while_both_are_there(training):
    read = training(
        stg_cases="case_id\nC1",
        stg_case_people="""
            case_id | person | role        | from_s | to_s
            C1      | res    | primary     | 09:00  | 11:00
            C1      | boss   | supervising | 10:30  | 12:00
        """,
        case_windows=ONE_CASE,
    )
    assert supervised(read) == [("boss", "supervising", None, None), ("res", "primary", 1, 30)]


def test_two_supervisors_at_once_do_not_double_the_time(training):
    read = training(
        stg_cases="case_id\nC1",
        stg_case_people="""
            case_id | person | role        | from_s | to_s
            C1      | res    | primary     | 09:00  | 11:00
            C1      | boss   | supervising | 09:00  | 10:00
            C1      | chief  | supervising | 09:30  | 10:30
        """,
        case_windows=ONE_CASE,
    )
    assert ("res", "primary", 1, 60 + 30) in supervised(read)
    assert read("supervisor, minutes", "part_minutes", "span = 'supervisor'") == [("boss", 60), ("chief", 60)]


def test_a_supervisor_who_came_after_the_part_did_not_supervise_it(training):
    read = training(
        stg_cases="case_id\nC1",
        stg_case_people="""
            case_id | person | role        | from_s | to_s
            C1      | res    | primary     | 09:00  | 10:00
            C1      | boss   | supervising | 10:00  | 11:00
        """,
        case_windows=ONE_CASE,
    )
    assert ("res", "primary", 0, 0) in supervised(read)


def test_nobody_supervises_themselves(training):
    read = training(
        stg_cases="""
            case_id | supervisor | trainee | trainee_role
            C1      | res        | res     | primary
        """,
        case_windows=ONE_CASE,
    )
    assert supervised(read) == [("res", "primary", 0, 0), ("res", "supervising", None, None)]


def test_a_supervisor_who_is_also_a_trainee_has_both_logs(training):
    read = training(
        stg_cases="""
            case_id | supervisor | trainee | trainee_role
            C1      | senior     | junior  | primary
            C2      | boss       | senior  | primary
        """,
        case_windows="""
            case_id | start_s | end_s
            C1      | 09:00   | 11:00
            C2      | 09:00   | 11:00
        """,
    )
    assert read("person, case_id, role, supervised", "trainee_log") == [
        ("junior", "C1", "primary", 1),
        ("senior", "C1", "supervising", None),
        ("senior", "C2", "primary", 1),
    ]
    assert read("person, level", "trainee_counts", "by_column = 'supervisor'") == [
        ("junior", "senior"),
        ("senior", "boss"),
    ]


def test_supervision_of_a_case_without_an_end_is_known_its_time_is_not(training):
    read = training(
        stg_cases="""
            case_id | supervisor | trainee | trainee_role
            C1      | boss       | res     | primary
        """,
        case_windows="""
            case_id | start_s | end_s
            C1      | 09:00   |
        """,
    )
    assert ("res", "primary", 1, None) in supervised(read)
