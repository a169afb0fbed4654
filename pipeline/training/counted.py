"""Sections of a trainee's page that count: roles, kinds of cases, months, techniques, what is missing."""

from datetime import timedelta

from pipeline.reporting.display import month_text, words
from pipeline.reporting.frame import Column, Figure, Table
from pipeline.training.view import View, level_words, role_words

KINDS = {
    "species": "species",
    "asa_class": "ASA class",
    "emergency": "emergency",
    "procedure_group": "procedure",
    "ventilation": "ventilation",
}


def by_role(view: View, person: str) -> list[dict]:
    """cases, minutes, unknown_minutes, supervised, supervised_minutes of each role, primary first."""
    return view.own(
        person,
        """SELECT person, role, count(*) AS cases, sum(minutes) AS minutes,
                  count(*) - count(minutes) AS unknown_minutes, sum(supervised)::BIGINT AS supervised,
                  sum(supervised_minutes) AS supervised_minutes
           FROM trainee_log WHERE counted = 1
           GROUP BY person, role
           ORDER BY array_position(['primary', 'assisting', 'observing', 'supervising'], role) NULLS LAST""",
    )


def without_start(view: View, person: str) -> list[dict]:
    """Rows of the log that count nowhere, as the case has no start."""
    return view.own(person, "SELECT * FROM trainee_log WHERE counted = 0 ORDER BY case_id, role")


def together(rows: list[dict]) -> tuple[int, float]:
    """Cases and hours with each case once."""
    once = [row for row in rows if row["first_role"]]
    return len(once), sum(row["case_minutes"] or 0.0 for row in once) / 60


def hours(minutes: float | None) -> float:
    return (minutes or 0.0) / 60


def roles(view: View, person: str, numbers: list[dict]) -> list:
    rows = [
        [role_words(one["role"]), one["cases"], hours(one["minutes"]), one["unknown_minutes"] or None,
         one["supervised"], hours(one["supervised_minutes"]) if one["supervised"] is not None else None]
        for one in numbers
    ]  # fmt: skip
    uncounted = len({row["case_id"] for row in without_start(view, person)})
    note = "A case counts once in each role. Hours are of the anesthesia window, induction to extubation."
    items: list = [
        Table("by-role", "Cases and hours by role",
              [Column("role"), Column("cases", "count"), Column("hours", "number"),
               Column("cases of unknown length", "count"), Column("supervised", "count"),
               Column("hours supervised", "number")],
              view.columns(rows, 1, 2, 3, 4, 5), note)
    ]  # fmt: skip
    if uncounted and not view.share:
        items.append(f"{view.amount(uncounted, 'cases')} without any start time: in the log's table, in no count.")
    return items


def kinds(view: View, person: str) -> list:
    found = view.own(person, "SELECT * FROM trainee_counts WHERE role IS NOT NULL")
    table_rows = []
    for by, title in KINDS.items():
        levels: dict = {}
        for one in found:
            if one["by_column"] == by:
                levels.setdefault(one["level"], {})[one["role"]] = one
        rows = []
        for level in sorted(levels, key=lambda level: (level is None, level or "")):
            own = levels[level]
            counted = [own[role]["cases"] if role in own else 0 for role in ("primary", "assisting", "observing")]
            minutes = sum(own[role]["minutes"] or 0 for role in ("primary", "assisting") if role in own)
            rows.append([title, level_words(by, level), *counted, minutes / 60])
        table_rows += view.columns(rows, 2, 3, 4, 5)
    columns = [Column("by"), Column("kind"), Column("primary", "count"), Column("assisting", "count"),
               Column("observing", "count"), Column("hours as primary or assisting", "number")]  # fmt: skip
    return [Table("kinds-table", "Cases by kind and role", columns, table_rows)]


def quarter(month_no: int) -> str:
    """
    >>> quarter(2026 * 12 + 9)
    'Oct to Dec 2026'
    """
    names = ("Jan to Mar", "Apr to Jun", "Jul to Sep", "Oct to Dec")
    return f"{names[month_no % 12 // 3]} {month_no // 12}"


def over_time(view: View, rows: list[dict]) -> list:
    from pipeline.figures.months import sticks

    once = [row for row in rows if row["first_role"]]
    if not once:
        return ["No case yet."]
    spans: dict[str, list[dict]] = {}
    for row in rows:
        spans.setdefault(quarter(row["month_no"]), []).append(row)
    table_rows = []
    for name, own in spans.items():
        working = [row for row in own if row["role"] in ("primary", "assisting")]
        table_rows.append(
            [name, together(own)[0], sum(row["role"] == "primary" for row in own),
             len({row["case_id"] for row in working if (row["asa_class"] or 0) >= 3}),
             len({row["case_id"] for row in working if row["emergency"]}),
             len({row["species"] for row in working if row["species"]}),
             len(set().union(*(row["technique"] for row in working))), together(own)[1]]
        )  # fmt: skip
    table = Table(
        "by-quarter", "By quarter",
        [Column("quarter"), Column("cases", "count"), Column("as primary", "count"), Column("ASA 3 and above", "count"),
         Column("emergencies", "count"), Column("species", "count"), Column("techniques", "count"),
         Column("hours", "number")],
        view.columns(table_rows, *range(1, 8)),
        "ASA 3 and above, emergencies, species and techniques: as primary or assisting.",
    )  # fmt: skip
    if view.share:
        return [table]
    first, last = once[0]["month_no"], view.until.year * 12 + view.until.month - 1
    months = list(range(first, last + 1))
    tally = {month: 0 for month in months}
    for row in once:
        tally[row["month_no"]] += 1
    named = [month_text(month) for month in months]
    partial = (view.until + timedelta(days=1)).month == view.until.month
    whole = [tally[month] for month in months][: -1 if partial and len(months) > 1 else None]
    figure = Figure(
        "cases-by-month", f"Between {min(whole)} and {view.amount(max(whole), 'cases')} a month",
        sticks(named, list(tally.values()), "cases a month", partial=[False] * (len(months) - 1) + [partial]),
        Table("cases-by-month-table", "Cases a month", [Column("month", "month"), Column("cases", "count")],
              [[month_text(month), tally[month]] for month in months]),
        caption=f"{view.amount(len(once), 'cases')}, each once, whatever the role."
                + (" Hollow: the month is not over in the records." if partial else ""),
    )  # fmt: skip
    return [figure, table]


def techniques(view: View, person: str) -> list:
    found = view.own(person, "SELECT * FROM trainee_techniques ORDER BY technique")
    if not found:
        return ["No technique is charted in these cases."]
    by_technique: dict[str, dict] = {}
    for one in found:
        by_technique.setdefault(one["technique"], {})[one["role"]] = one
    rows = []
    for technique, own in by_technique.items():
        hands = [own[role] for role in ("primary", "assisting") if role in own]
        counts = [own[role]["cases"] if role in own else 0 for role in ("primary", "assisting", "observing")]
        first = min((one["first_day"] for one in hands), default=None)
        last = max((one["last_day"] for one in hands), default=None)
        rows.append([words(technique), *counts, first, last])
    columns = [Column("technique"), Column("primary", "count"), Column("assisting", "count"),
               Column("observing", "count"), Column("first", "day"), Column("last", "day")]  # fmt: skip
    note = (
        "First and last as primary or assisting. The record says that a technique was used in a case, not whose hands "
        "did it: agree on that when signing."
    )
    return [Table("techniques-table", "Techniques", columns, view.columns(rows, 1, 2, 3), note)]


def gaps(view: View, person: str) -> list[tuple]:
    """(by, level, cases in the clinic, cases observed) of what the clinic had since the trainee began and the
    trainee had in no case as primary or assisting; most frequent in the clinic first."""
    found = view.own(
        person,
        """WITH clinic AS (
             SELECT cases.case_id, 'species' AS by_column, cases.species AS level FROM stg_cases AS cases
             UNION ALL SELECT case_id, 'procedure_group', procedure_group FROM stg_cases
             UNION ALL SELECT case_id, 'asa_class', CAST(asa_class AS VARCHAR) FROM stg_cases
             UNION ALL SELECT case_id, 'technique', technique FROM stg_case_techniques),
           by_day AS (SELECT start_day, by_column, level, count(*) AS cases FROM clinic
             JOIN case_windows USING (case_id) WHERE level IS NOT NULL GROUP BY ALL),
           had AS (SELECT listed.person, by_column, level, CAST(sum(cases) AS BIGINT) AS cases
             FROM programme_trainees AS listed JOIN by_day ON by_day.start_day >= listed.start_day GROUP BY ALL),
           own AS (SELECT person, by_column, level, sum(cases) FILTER (role IN ('primary', 'assisting')) AS hands,
             sum(cases) FILTER (role = 'observing') AS seen
             FROM trainee_counts GROUP BY ALL)
           SELECT had.person, had.by_column, had.level, had.cases, CAST(coalesce(own.seen, 0) AS BIGINT) AS seen
           FROM had LEFT JOIN own
             ON own.person = had.person AND own.by_column = had.by_column AND own.level = had.level
           WHERE coalesce(own.hands, 0) = 0 ORDER BY had.cases DESC, had.by_column, had.level""",
    )
    return [(one["by_column"], one["level"], one["cases"], one["seen"]) for one in found]


def unmet(view: View, person: str) -> list:
    missing = gaps(view, person)
    if not missing:
        return ["Everything the clinic charted since this training began stands in the log at least once."]
    kind = {"asa_class": "ASA class", "procedure_group": "procedure", "species": "species", "technique": "technique"}
    table_rows = [[kind[by], level_words(by, level), cases, seen] for by, level, cases, seen in missing]
    columns = [Column("kind"), Column("what"), Column("cases in the clinic", "count"), Column("observed", "count")]
    note = "Not once as primary or assisting, although the clinic had it since this training began."
    return [Table("unmet-table", "Not yet met", columns, view.columns(table_rows, 2, 3), note)]
