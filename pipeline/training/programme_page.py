"""The page of the programme: who has a log, where targets stand, where trainees could learn. It ranks nobody."""

from difflib import get_close_matches

from pipeline.reporting.display import listing, words
from pipeline.reporting.frame import Cell, Column, Fold, Page, Section, Table
from pipeline.training import log
from pipeline.training.programme import Trainee
from pipeline.training.targets import anniversary
from pipeline.training.view import HIDDEN, RULES_DECIDE, View, criteria_words, either, file_name, level_words

KINDS = {"species": "species", "asa_class": "ASA class", "procedure_group": "procedure", "technique": "technique"}
STATES = ("met", "on pace", "faster pace needed", "open", "not begun", "ended short", "not covered")
NO_RANK = (
    "People stand in the order of their codes. Numbers of cases say who was on duty when, not who is good; rates of "
    "complications per person are not computed anywhere."
)


def page(view: View, people: dict[str, Trainee | None]) -> Page:
    """people: everybody with a log, None where the programme does not list them."""
    made = [] if view.share else [Section("people", "People", "Who has a log?", people_table(view, people))]
    made += [
        Section("targets", "Targets", "Where do we stand, and what pace is needed?", targets(view)),
        Section("chances", "Chances to learn", "Which cases had a trainee?", chances(view)),
        Section("supervision", "Supervision", "Who supervises, and what was unsupervised?", supervision(view)),
        Section("record", "What the record leaves out", "What should be charted or set?", left_out(view, people)),
    ]
    return Page(
        name="training",
        title=f"Training{f': {view.asked.name}' if view.asked.name else ''}",
        clinic=view.settings.name,
        period=f"up to {view.day(view.until)}",
        sections=made,
        methods=["training"],
        lead=lead(view, people),
        share=view.share,
    )


def lead(view: View, people: dict[str, Trainee | None]) -> list:
    numbers = log.select(
        view.db,
        """SELECT count(*) AS cases, count(*) FILTER (case_id IN (SELECT case_id FROM trainee_log
             WHERE role IN ('primary', 'assisting'))) AS worked FROM case_windows WHERE start_day > $since""",
        since=anniversary(view.until, -1),
    )[0]
    said = []
    if numbers["cases"]:
        share = view.display.share(numbers["worked"] / numbers["cases"], 0)
        said.append(
            (f"In the last 12 months a trainee was primary or assisting in {view.display.count(numbers['worked'])} of "
             f"{view.amount(numbers['cases'], 'cases')} ({share}).", "#chances", "which")
        )  # fmt: skip
    states = log.select(view.db, "SELECT state, count(*) AS n FROM trainee_targets GROUP BY state")
    tally = {one["state"]: one["n"] for one in states}
    if tally and not view.share:
        said_of = {"not covered": "over before the records cover them"}
        parts = [f"{tally[state]} {said_of.get(state, state)}" for state in STATES if state in tally]
        said.append((f"Targets, all trainees together: {listing(parts)}.", "#targets", "them"))
    late = log.select(
        view.db,
        """SELECT target, count(*) FILTER (state IN ('faster pace needed', 'ended short')) AS late, count(*) AS n
           FROM trainee_targets GROUP BY target, position ORDER BY late DESC, position LIMIT 1""",
    )
    if late and late[0]["late"] and not view.share:
        said.append(f"Most often short: {late[0]['target']}, for {late[0]['late']} of {late[0]['n']} trainees.")
    if not view.asked.trainees:
        said.append("The settings list no trainees yet: add [programme.trainees] to clinic.toml to see targets.")
    return said or [f"{len(people)} people have a log."]


def people_table(view: View, people: dict[str, Trainee | None]) -> list:
    numbers = {
        one["person"]: one
        for one in log.select(
            view.db,
            """SELECT person, sum(first_role)::BIGINT AS cases, count(*) FILTER (role = 'primary') AS lead,
                      sum(CASE WHEN first_role = 1 THEN case_minutes END) / 60 AS hours, max(start_day) AS last_day
               FROM trainee_log WHERE counted = 1 GROUP BY person""",
        )
    }
    listed, others = [], []
    for person, trainee in people.items():
        one = numbers.get(person, {"cases": 0, "lead": 0, "hours": 0.0, "last_day": None})
        year = None
        if trainee and view.until >= trainee.start:
            gone = next(n for n in range(100) if anniversary(trainee.start, n + 1) > view.until)
            year = "left" if trainee.leaves and trainee.leaves < view.until else trainee.year + gone
        (listed if trainee else others).append(
            [Cell(person, None, f"training/{file_name(person)}.html"), trainee.start if trainee else None, year,
             one["cases"], one["lead"], one["hours"], one["last_day"]]
        )  # fmt: skip
    columns = [Column("code"), Column("training began", "day"), Column("year", "count"), Column("cases", "count"),
               Column("as primary", "count"), Column("hours", "number"), Column("last case", "day")]  # fmt: skip
    items: list = [Table("people-table", "People of the programme", columns, listed, NO_RANK)] if listed else [NO_RANK]
    if others:
        columns = [column for column in columns if column.title not in ("training began", "year")]
        shorter = [[row[0], *row[3:]] for row in others]
        items.append(Fold(f"{len(others)} more named as trainee in a case, not listed in the settings",
                          [Table("others-table", "Not listed", columns, shorter)]))  # fmt: skip
    return items


def targets(view: View) -> list:
    found = log.select(view.db, "SELECT * FROM trainee_targets ORDER BY position, person")
    if not found:
        return ["No target is set, or nobody is listed to whom one applies.", RULES_DECIDE]
    by_target: dict[int, list[dict]] = {}
    for one in found:
        by_target.setdefault(one["position"], []).append(one)
    used = [state for state in STATES if any(one["state"] == state for one in found)]
    rows = []
    for position, own in by_target.items():
        asked = view.asked.targets[position - 1]
        wanted = f"{view.amount(asked.amount, asked.unit)}; {criteria_words(asked)}"
        rows.append([asked.name, wanted, len(own), *(sum(one["state"] == state for one in own) for state in used)])
    columns = [Column("target"), Column("asks for"), Column("trainees", "count")]
    columns += [Column(state, "count") for state in used]
    items = [
        Table("targets-table", "Targets and where trainees stand", columns,
              view.columns(rows, *range(2, len(columns))),
              f"Numbers of trainees. A target that names no role counts cases as {either(list(view.asked.roles))}. "
              "Not covered: over, and the records begin only after its first day.")
    ]  # fmt: skip
    if not view.share:
        lines = [
            [one["target"], one["person"], one["wanted"], one["done"], one["missing"], one["pace_so_far"],
             one["pace_needed"], one["state"], one["undecided"] or None]
            for one in found if one["state"] not in ("met", "not begun", "not covered")
        ]  # fmt: skip
        names = [Column("target"), Column("trainee"), Column("wanted", "number", digits=0),
                 Column("done", "number", digits=0), Column("missing", "number", digits=0),
                 Column("pace", "number"), Column("needed", "number"),
                 Column("where it stands"), Column("not judged", "count")]  # fmt: skip
        if not any(line[-1] for line in lines):
            names, lines = names[:-1], [line[:-1] for line in lines]
        note = f"By target, then by code. Pace so far and pace needed are cases or hours a month. {NO_RANK}"
        items.append(Table("missing-table", "What is missing, by target", names, lines, note))
    return [*items, RULES_DECIDE]


def chances(view: View) -> list:
    found = log.select(
        view.db,
        """WITH clinic AS (
             SELECT case_id, 'species' AS by_column, species AS level FROM stg_cases
             UNION ALL SELECT case_id, 'asa_class', CAST(asa_class AS VARCHAR) FROM stg_cases
             UNION ALL SELECT case_id, 'procedure_group', procedure_group FROM stg_cases
             UNION ALL SELECT case_id, 'technique', technique FROM stg_case_techniques),
           worked AS (SELECT case_id, max(CASE WHEN role = 'primary' THEN 1 ELSE 0 END) AS lead,
             max(CASE WHEN role IN ('primary', 'assisting') THEN 1 ELSE 0 END) AS hands
             FROM trainee_log WHERE counted = 1 GROUP BY case_id)
           SELECT by_column, level, count(*) AS cases, coalesce(sum(hands), 0)::BIGINT AS hands,
             coalesce(sum(lead), 0)::BIGINT AS lead
           FROM clinic JOIN case_windows USING (case_id) LEFT JOIN worked USING (case_id)
           WHERE start_day > $since GROUP BY ALL ORDER BY by_column, level NULLS LAST""",
        since=anniversary(view.until, -1),
    )
    shown = []
    for by, title in KINDS.items():
        own = [one for one in found if one["by_column"] == by]
        rows = [[title, level_words(by, one["level"]), one["cases"], one["hands"], one["lead"]] for one in own]
        for row, one in zip(view.columns(rows, 2, 3, 4), own, strict=True):
            shown.append([*row, None if row[3] is HIDDEN else one["hands"] / one["cases"]])
    columns = [Column("by"), Column("kind"), Column("cases", "count"), Column("trainee primary or assisting", "count"),
               Column("trainee primary", "count"), Column("with a trainee", "share")]  # fmt: skip
    if not shown:
        return ["No case in the last 12 months."]
    return [Table("chances-table", "Cases of the last 12 months, and those with a trainee", columns, shown)]


def supervision(view: View) -> list:
    rows = log.select(
        view.db,
        """SELECT role, count(*) AS cases, sum(supervised)::BIGINT AS supervised,
                  count(*) FILTER (supervised = 0) AS alone FROM trainee_log
           WHERE counted = 1 AND role IN ('primary', 'assisting', 'observing') GROUP BY role
           ORDER BY array_position(['primary', 'assisting', 'observing'], role)""",
    )
    shown = [[one["role"], one["cases"], one["supervised"], one["alone"]] for one in rows]
    items = [
        Table("supervised-table", "Parts of trainees, with and without a supervisor charted",
              [Column("role"), Column("parts", "count"), Column("supervised", "count"),
               Column("nobody charted", "count")], view.columns(shown, 1, 2, 3),
              "Where nobody is charted, the gap may be in the record or in the supervision.")
    ]  # fmt: skip
    if not view.share:
        found = log.select(
            view.db,
            """SELECT supervisor, count(DISTINCT logged.case_id) AS cases, sum(shared.minutes) / 60 AS hours,
                      count(DISTINCT shared.person) AS people, max(start_day) AS last_day
               FROM part_minutes AS shared JOIN trainee_log AS logged
                 ON logged.case_id = shared.case_id AND logged.person = shared.person
                 AND logged.role IS NOT DISTINCT FROM shared.role
               WHERE shared.span = 'supervisor' AND counted = 1 GROUP BY supervisor ORDER BY supervisor""",
        )
        items.append(
            Table("supervisors-table", "Who supervised trainees",
                  [Column("code"), Column("cases", "count"), Column("hours", "number"),
                   Column("trainees", "count"), Column("last", "day")],
                  [list(one.values()) for one in found],
                  "Hours are of parts supervised: two trainees at once count twice. In the order of codes.")
        )  # fmt: skip
    return items


def left_out(view: View, people: dict[str, Trainee | None]) -> list:
    gaps = log.select(
        view.db,
        """SELECT count(*) FILTER (role IS NULL) AS no_role, count(*) FILTER (counted = 0) AS no_start,
                  count(*) FILTER (counted = 1 AND minutes IS NULL) AS no_minutes,
                  count(*) FILTER (asa_class IS NULL) AS no_asa FROM trainee_log""",
    )[0]
    parts = {
        "no_role": "without a role: in no target that names one, which is nearly all",
        "no_start": "of cases without a start: in no count",
        "no_minutes": "of cases without an end, or with times that contradict each other: counted, without hours",
        "no_asa": "of cases without an ASA class: open in every target that asks for one",
    }
    said = [f"{view.amount(gaps[name], 'parts')} {text}." for name, text in parts.items() if gaps[name]]
    if view.share:
        return ["Gaps are counted in the clinic's own copy." if said else "No gap found."]
    unlisted = sum(trainee is None for trainee in people.values())
    if unlisted:
        said.append(f"{unlisted} codes named as trainee are not under [programme.trainees], so no target is theirs.")
    silent = [person for person in view.asked.trainees if not _named(view, person)]
    if silent:
        said.append(f"Listed, but in no case: {listing(silent)}. Is the code spelled as in the records?")
    return [*([said] if said else ["Nothing found."]), *unknown_words(view)]


def _named(view: View, person: str) -> bool:
    return bool(log.select(view.db, "SELECT 1 AS n FROM trainee_log WHERE person = $p LIMIT 1", p=person))


def unknown_words(view: View) -> list:
    """Words of targets and curves that no case has, with the nearest that one does."""
    sources = {"technique": "stg_case_techniques", "procedure_group": "stg_cases"}
    known = {
        name: [row[0] for row in view.db.execute(f"SELECT DISTINCT {name} FROM {table}").fetchall() if row[0]]
        for name, table in sources.items()
    }
    asked = [(one.name, name, value) for one in (*view.asked.targets, *view.asked.curves)
             for name in known for value in one.criteria.get(name, ())]  # fmt: skip
    asked += [(one.name, "technique", value) for one in view.asked.curves for value in one.failure_techniques]
    said = []
    for where, name, value in asked:
        if value not in known[name]:
            near = get_close_matches(value, known[name], n=1)
            hint = f" Did you mean {near[0]}?" if near else ""
            said.append(f"{where} asks for the {words(name)} {value}, which no case has.{hint}")
    return [said] if said else []
