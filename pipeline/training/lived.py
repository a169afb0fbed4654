"""Sections of a trainee's page about the cases themselves: supervision, complications, talk, the log."""

from datetime import timedelta

from pipeline.reporting.display import listing, words
from pipeline.reporting.frame import Cell, Column, Fold, Table
from pipeline.training.counted import without_start
from pipeline.training.view import View, role_words

MOST_DISCUSSED = 12
DISCUSSED_DAYS = 365


REASONS = {
    "severe_event": "severe complication: {}",
    "high_risk": "ASA {}",
    "first_technique": "first {} as primary",
    "first_species": "first {} as primary",
}


def supervision(view: View, person: str) -> list:
    found = view.own(
        person,
        """SELECT levels.person, level AS supervisor, count(DISTINCT logged.case_id) AS cases,
                  sum(levels.minutes) / 60 AS hours, max(logged.start_day) AS last_day
           FROM trainee_levels AS levels JOIN trainee_log AS logged
             ON logged.case_id = levels.case_id AND logged.person = levels.person
             AND logged.role IS NOT DISTINCT FROM levels.role
           WHERE levels.by_column = 'supervisor' GROUP BY levels.person, level ORDER BY level""",
    )
    alone = view.own(
        person,
        """SELECT person, count(DISTINCT case_id) AS cases, sum(minutes) / 60 AS hours, max(start_day) AS last_day
           FROM trainee_log WHERE counted = 1 AND supervised = 0 GROUP BY person""",
    )
    named = [one["supervisor"] for one in found]
    if view.share:
        named = [f"supervisor {number}" for number in range(1, len(found) + 1)]
    rows = [[name, one["cases"], one["hours"], one["last_day"]] for name, one in zip(named, found, strict=True)]
    for one in alone:
        rows.append([Cell("", "nobody charted"), one["cases"], one["hours"], one["last_day"]])
    if not rows:
        return ["No case yet."]
    columns = [Column("supervisor"), Column("cases", "count"), Column("hours", "number"), Column("last", "day")]
    note = "Somebody charted as supervising while the part ran. Two supervisors in one case both count."
    return [Table("supervision-table", "Supervised by", columns, view.columns(rows, 1, 2), note)]


def complications(view: View, person: str) -> list:
    found = view.own(person, "SELECT * FROM trainee_events WHERE counted = 1 ORDER BY event, role")
    caution = (
        "For learning, not blame: a complication stands here because it was charted while this person had a part in "
        "the case. Sicker patients bring more of them. No rate is given, and none should be worked out."
    )
    if not found:
        return ["No complication is charted in these cases.", caution]
    by_event: dict[str, list[dict]] = {}
    for one in found:
        by_event.setdefault(one["event"], []).append(one)
    rows = [
        [words(event), *(sum(one["role"] == role for one in own) for role in ("primary", "assisting", "observing")),
         max(one["start_day"] for one in own)]
        for event, own in by_event.items()
    ]  # fmt: skip
    columns = [Column("complication"), Column("primary", "count"), Column("assisting", "count"),
               Column("observing", "count"), Column("last met", "day")]  # fmt: skip
    return [Table("met", "Complications met", columns, view.columns(rows, 1, 2, 3), caution)]


def discuss(view: View, person: str) -> list:
    found = view.own(
        person,
        """SELECT person, case_id, reason, level, start_day FROM trainee_discussion
           WHERE start_day > $since ORDER BY start_day DESC, case_id, reason, level""",
        since=view.until - timedelta(days=DISCUSSED_DAYS),
    )
    if not found:
        return ["No case of the last 12 months was chosen by the rules."]
    by_case: dict[str, list[dict]] = {}
    for one in found:
        by_case.setdefault(one["case_id"], []).append(one)
    order = list(REASONS)
    chosen = sorted(by_case.values(), key=lambda own: min(order.index(one["reason"]) for one in own))[:MOST_DISCUSSED]
    chosen.sort(key=lambda own: own[0]["start_day"], reverse=True)
    rows = []
    for own in chosen:
        reasons = sorted(own, key=lambda one: order.index(one["reason"]))
        why = listing([REASONS[one["reason"]].format(words(one["level"])) for one in reasons])
        rows.append([own[0]["case_id"], own[0]["start_day"], why])
    note = (
        f"At most {MOST_DISCUSSED} of the last 12 months: severe complications first, then ASA 4 and 5, then firsts as "
        "primary. Chosen by these rules, by nobody's judgment. `rounds case CASE` draws one as a chart."
    )
    return [Table("discuss-table", "Cases to talk over",
                  [Column("case", "nowrap"), Column("date", "day"), Column("why")], rows, note)]  # fmt: skip


def whole_log(view: View, person: str, rows: list[dict]) -> list:
    shown = [
        [row["case_id"], row["start_day"], row["species"], asa(row), row["procedure_group"], row["procedure"],
         role_words(row["role"]), row["minutes"], row["supervised_minutes"], ", ".join(row["supervisors"]) or None,
         ", ".join(words(one) for one in sorted(row["technique"])) or None]
        for row in reversed(rows)
    ]  # fmt: skip
    shown += [
        [row["case_id"], None, row["species"], asa(row), row["procedure_group"], row["procedure"],
         role_words(row["role"]), None, None, None, None]
        for row in without_start(view, person)
    ]  # fmt: skip
    columns = [
        Column("case", "nowrap"), Column("date", "day"), Column("species", "code"), Column("ASA"),
        Column("group", "code"), Column("procedure"), Column("role"), Column("time", "minutes", digits=0),
        Column("supervised", "minutes", digits=0), Column("supervised by"), Column("techniques"),
    ]  # fmt: skip
    note = "Newest first; one row a role in a case. The same rows stand in the CSV and XLSX beside this page."
    return [Fold(f"All {len(shown)} rows", [Table("log-table", "Case log", columns, shown, note)])]


def asa(row: dict) -> str | None:
    """'3E', '2', or None where the class is not recorded."""
    if row["asa_class"] is None:
        return "E" if row["emergency"] else None
    return f"{row['asa_class']}{'E' if row['emergency'] else ''}"
