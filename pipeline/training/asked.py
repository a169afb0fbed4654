"""Sections of a trainee's page about what was asked for: targets, learning curves, sheets to sign."""

from pipeline.reporting.frame import Cell, Column, Figure, Section, Table
from pipeline.training.learning_curve import lines
from pipeline.training.programme import Trainee
from pipeline.training.view import RULES_DECIDE, View, criteria_words, either


def target_rows(view: View, person: str) -> list[dict]:
    return view.own(person, "SELECT * FROM trainee_targets ORDER BY position")


def targets(view: View, person: str, trainee: Trainee | None) -> list:
    standing = target_rows(view, person)
    if not standing:
        missing = (
            "The settings name no targets."
            if trainee
            else "This code is not under [programme.trainees] of clinic.toml, so no target is theirs. "
            "Add a line with the first day of training to see them here."
        )
        return [missing, RULES_DECIDE]
    rows = []
    for one in standing:
        asked = view.asked.targets[one["position"] - 1]
        wanted = Cell(one["wanted"], view.display.number(one["wanted"], 1 if one["wanted"] % 1 else 0))
        rows.append(
            [one["target"], f"{one['unit']}: {criteria_words(asked)}", wanted, one["done"], one["missing"],
             one["state"], one["pace_so_far"], one["pace_needed"], one["to_day"]]
        )  # fmt: skip
    columns = [
        Column("target"), Column("counts"), Column("goal", "number"), Column("done", "number", digits=0),
        Column("left", "number", digits=0), Column("state"), Column("pace", "number"), Column("needed", "number"),
        Column("until", "day"),
    ]  # fmt: skip
    note = (
        f"As of {view.day(view.until)}, the last case loaded. Pace so far and pace needed are cases or hours a month. "
        f"A target that names no role counts cases as {either(list(view.asked.roles))}."
    )
    unjudged = [f"{one['target']}: {view.amount(one['undecided'], 'cases')}" for one in standing if one["undecided"]]
    if unjudged and not view.share:
        note += f" Not counted, as something the target asks for is not in the record: {'; '.join(unjudged)}."
    if any(one["from_day"] < view.begins for one in standing):
        note += f" The records begin on {view.day(view.begins)}: what was done before that day is in no number here."
    shown = view.columns(rows, 3, 4, 6, 7)
    return [Table("targets-table", "Targets", columns, shown, note), RULES_DECIDE]


def curves(view: View, person: str) -> list[Section]:
    """A section with a figure a curve, where the programme defines one and this trainee asked for it."""
    from pipeline.figures.learning_curve import learning_curve

    items: list = []
    for position, curve in enumerate(view.asked.curves, 1):
        if person not in curve.trainees:
            continue
        drawn = view.own(person, "SELECT * FROM trainee_curves ORDER BY position, attempt")
        found = [one for one in drawn if one["position"] == position]
        if not found:
            items.append(f"{curve.name}: no attempt in the record yet.")
            continue
        at = lines(curve.acceptable, curve.unacceptable, curve.alpha, curve.beta)
        marks = [{**one, "said": f"attempt {one['attempt']}, {'failed' if one['failed'] else 'done'}"} for one in found]
        reached = [one for one in found if one["crossed"]]
        state = "neither line reached yet: the record is too short to tell"
        if reached:
            which = "acceptable" if reached[-1]["crossed"] == "lower" else "unacceptable"
            state = f"failures agree with the {which} share, last shown at attempt {reached[-1]['attempt']}"
        failed = sum(one["failed"] for one in found)
        table = Table(
            f"curve-{position}-table", curve.name,
            [Column("attempt", "count"), Column("case", "nowrap"), Column("date", "day"), Column("outcome"),
             Column("sum", "number", "failures", 2), Column("line reached")],
            [[one["attempt"], one["case_id"], one["start_day"], "failed" if one["failed"] else "done", one["total"],
              one["crossed"] or ""] for one in found],
        )  # fmt: skip
        share = view.display.share
        caption = (
            f"{len(found)} attempts, {failed} failed (crosses). Failures: acceptable {share(curve.acceptable)}, "
            f"unacceptable {share(curve.unacceptable)}; chances of error {share(curve.alpha)} and {share(curve.beta)}. "
            f"After a line is reached the sum starts again. Rates: {curve.source}. Asked for by this trainee."
        )
        items.append(
            Figure(f"curve-{position}", f"{curve.name}: {state}", learning_curve(marks, at.lower, at.upper), table,
                   caption=caption, method="learning_curve")
        )  # fmt: skip
    return [Section("curves", "Learning curves", "Is a skill settling?", items)] if items else []


def to_sign(sheets: list[tuple]) -> list:
    if not sheets:
        return ["No period is over yet; a sheet is printed once the records reach past its end."]
    rows = [
        [sheet.period, len(sheet.rows), sheet.code, Cell("open", "open and print", f"sheets/{name}")]
        for sheet, name in sheets
    ]
    note = (
        "Print, sign, keep. `rounds verify SHEET` says later whether the rows behind a sheet still say the same, and "
        "which do not. A sheet whose rows have changed is printed anew under another code; the old one stays."
    )
    columns = [Column("period"), Column("rows", "count"), Column("code"), Column("sheet")]
    return [Table("sheets-table", "Sheets", columns, rows, note)]
