"""Cases to discuss, chosen by stated rules, each with its chart."""

from pipeline.reporting.cases.chart import chart
from pipeline.reporting.cases.record import Record, read_all
from pipeline.reporting.cases.words import charted, describe, detected, file_part, readings_table
from pipeline.reporting.display import first_upper, month_number
from pipeline.reporting.frame import Cell, Column, Figure, Fold, Grid, Section, Table
from pipeline.reporting.queries import rows
from pipeline.reporting.results import FEWEST_SHOWN
from pipeline.reporting.review import Review

MOST_CASES = 8


def section(review: Review) -> Section:
    found = put_forward(review)
    chosen = foremost(found)
    stated = rules(review, found, chosen)
    items: list = [stated if review.share or not chosen else Fold("The rules, and how many cases met each", [stated])]
    if chosen and not review.share:
        records = read_all(review.db, review.settings, list(chosen))
        figures = [drawn(review, case_id, why, records[case_id]) for case_id, why in chosen.items()]
        items = [listed(review, chosen, records), Grid(figures), *items]
    return Section("discuss", "Cases to discuss", "Which patients do we talk about, and by which rule?", items)


def put_forward(review: Review) -> list[dict]:
    """Every (case, rule) of the month, the foremost first."""
    found = rows(review.db, "discussion_cases", month=month_number(review.results.month))
    return sorted(found, key=lambda row: (row["place"], row["measure"], row["within"], row["case_id"]))


def foremost(found: list[dict]) -> dict[str, list[str]]:
    """At most MOST_CASES cases and the rules that name them: by the first rule, then by the number of rules."""
    why: dict[str, list[dict]] = {}
    for row in found:
        if row["within"] <= row["most"]:
            why.setdefault(row["case_id"], []).append(row)
    order = sorted(why, key=lambda case_id: (why[case_id][0]["place"], -len(why[case_id]), case_id))
    return {case_id: [row["sentence"] for row in why[case_id]] for case_id in order[:MOST_CASES]}


def rules(review: Review, found: list[dict], chosen: dict) -> Table:
    """Every rule with the cases that meet it and those shown."""
    stated = review.db.execute(
        "SELECT sentence, rule, coalesce(measure, ''), place, most FROM seed_discussion ORDER BY place::INT, sentence"
    ).fetchall()
    cells = []
    for sentence, rule, measure, _, most in stated:
        meet = sum(row["rule"] == rule and row["measure"] == measure for row in found)
        shown = sum(sentence in why for why in chosen.values())
        few = review.share and 0 < meet < FEWEST_SHOWN
        cells.append(
            [
                first_upper(sentence),
                Cell(None, "fewer than 5") if few else meet,
                int(most),
                None if review.share else shown,
            ]
        )
    note = f"The foremost of each rule are put forward, at most {MOST_CASES} cases in all, deaths first."
    return Table(
        "rules",
        "The rules",
        [
            Column("Rule"),
            Column("Cases that meet it", "count"),
            Column("Put forward at most", "count"),
            Column("Shown", "count"),
        ],
        cells,
        note,
    )


def listed(review: Review, chosen: dict[str, list[str]], records: dict[str, Record]) -> Table:
    cells = []
    for case_id, why in chosen.items():
        record = records[case_id]
        cells.append([Cell(case_id, case_id, f"cases.html#case-{file_part(case_id)}"), record.window.get("start_day"),
                      describe(record, review.display), "; ".join(why)])  # fmt: skip
    return Table(
        "discuss-table",
        "Put forward",
        [Column("Case", "nowrap"), Column("Day", "day"), Column("Patient and anesthetic"), Column("Because")],
        cells,
    )


def drawn(review: Review, case_id: str, why: list[str], record: Record) -> Figure:
    """The case as a small chart; the page of cases draws it whole."""
    number = file_part(case_id)
    table = readings_table(record, f"discuss-{number}-table", review.display)
    return Figure(
        f"discuss-{number}",
        f"Case {case_id}: {why[0]}",
        chart(record, review.display, compact=True),
        table,
        f"{describe(record, review.display)} {detected(record)} {charted(record)}",
        "discuss",
        "half",
    )
