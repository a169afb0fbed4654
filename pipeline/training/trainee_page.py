"""The page of one trainee: only their own rows."""

from pipeline.reporting.display import listing
from pipeline.reporting.frame import Page, Section
from pipeline.training.asked import curves, target_rows, targets, to_sign
from pipeline.training.counted import by_role, gaps, kinds, over_time, roles, techniques, together, unmet
from pipeline.training.lived import complications, discuss, supervision, whole_log
from pipeline.training.programme import Trainee
from pipeline.training.view import View, file_name, level_words


def page(view: View, person: str, trainee: Trainee | None, rows: list[dict], sheets: list[tuple]) -> Page:
    """rows: the person's counted rows of the log; sheets: (Sheet, file name) of those written for them.

    Somebody the programme does not list gets the same page without targets, months and what is not yet met.
    """
    numbers = by_role(view, person)
    made = [
        Section("roles", "Cases and hours", "How much, and as what?", roles(view, person, numbers)),
        Section(
            "targets", "Targets", "What is missing, and what pace would still reach it?", targets(view, person, trainee)
        ),
        Section("kinds", "Kinds of cases", "Which patients and procedures?", kinds(view, person)),
        Section("techniques", "Techniques", "First and last met when, and as what?", techniques(view, person)),
    ]
    if trainee:
        made += [
            Section("time", "Over time", "Does the mix widen?", over_time(view, rows)),
            Section("unmet", "Not yet met", "What did the clinic do that is not in this log?", unmet(view, person)),
        ]
    made += [
        Section("supervision", "Supervision", "Who supervised?", supervision(view, person)),
        Section("complications", "Complications met", "What has this trainee lived through?",
                complications(view, person)),
    ]  # fmt: skip
    if not view.share:
        made.append(Section("discuss", "To talk over", "Which cases are worth a conversation?", discuss(view, person)))
        made += curves(view, person)
        made.append(Section("sheets", "Sheets to sign", "What has been printed for signing?", to_sign(sheets)))
        made.append(Section("log", "The log", "What stands in it, row by row?", whole_log(view, person, rows)))
    first = min((row["start_day"] for row in rows), default=view.until)
    return Page(
        name=file_name(person),
        title=f"Case log of {person}",
        clinic=view.settings.name,
        period=f"{view.day(first)} to {view.day(view.until)}",
        sections=made,
        methods=["training"] + (["learning_curve"] if any(one.id == "curves" for one in made) else []),
        lead=lead(view, person, trainee, numbers, rows),
        share=view.share,
    )


def lead(view: View, person: str, trainee: Trainee | None, numbers: list[dict], rows: list[dict]) -> list:
    cases, hours = together(rows)
    if not cases:
        return [f"No case with a start names {person} up to {view.day(view.until)}."]
    said = []
    if not view.share:
        parts = [f"{view.display.count(one['cases'])} {with_role(one['role'])}" for one in numbers]
        said.append(
            (f"{view.amount(cases, 'cases')} and {view.display.number(hours, 0)} hours of anesthesia: "
             f"{listing(parts)}.", "#roles", "by role")
        )  # fmt: skip
    standing = target_rows(view, person)
    if standing:
        met = sum(one["state"] == "met" for one in standing)
        late = [one for one in standing if one["state"] in ("faster pace needed", "ended short")]
        paced = sum(one["state"] == "on pace" for one in standing)
        sentence = f"{met} of {len(standing)} targets met" + (f", {paced} on pace" if paced else "")
        if late and not view.share:
            worst = max(late, key=lambda one: one["missing"] / one["wanted"])
            sentence += (
                f"; furthest to go: {worst['target']}, {view.display.number(worst['done'], 0)} of "
                f"{view.amount(worst['wanted'], worst['unit'])}"
            )
        said.append((f"{sentence}.", "#targets", "all targets"))
    missing = gaps(view, person) if trainee else []
    if missing:
        names = [level_words(by, level) for by, level, _, _ in missing[:3]]
        more = f" and {len(missing) - 3} more" if len(missing) > 3 else ""
        said.append((f"Not yet as primary or assisting: {', '.join(names)}{more}.", "#unmet", "the list"))
    unknown = sum(one["cases"] for one in numbers if one["role"] is None)
    if unknown and not view.share:
        said.append(f"{view.amount(unknown, 'cases')} without a role charted: these count nowhere until mended.")
    return said or [f"Log up to {view.day(view.until)}."]


def with_role(role: str | None) -> str:
    return "without a role charted" if role is None else f"as {role}" if role == "primary" else role
