"""Writes the records report, the sheet of rows to fix and the list of rules."""

from pathlib import Path

from pipeline.checks import report_rows as rows
from pipeline.checks import report_sections as sections
from pipeline.checks.report_sections import sentence
from pipeline.database import tables
from pipeline.reporting import sheets
from pipeline.reporting.display import Display
from pipeline.reporting.frame import Column, Page, Section, Table, write_page
from pipeline.reporting.write import folder_of


def write(db, settings, clinic: Path, share: bool = False) -> list[Path]:
    """Writes records.html with its tables, records_to_fix.xlsx with every listed row, records_rules.xlsx with why
    each rule is there.

    db: after a run of the checks. share: no case, no file, no row, counts below 5 withheld; in a folder of its own.
    """
    folder = folder_of(clinic, share)
    written = write_page(page(db, settings, share), settings, db, folder)
    if not share and ran(db):
        display = Display(settings.display)
        written += sheets.write_tables("records_to_fix", [to_fix(db)], folder, display)
        written += sheets.write_tables("records_rules", [all_rules(db)], folder, display)
    return written


def ran(db) -> bool:
    """Whether the checks have run in this database."""
    return "check_runs" in tables(db) and rows.latest_run(db) is not None


def page(db, settings, share: bool = False) -> Page:
    """The report of the latest run; without one, it says what to do."""
    if not ran(db):
        nothing = Section("none", "No check has run", "", ["Run `rounds check` to judge the records."])
        return Page("records", "Records", settings.name, "no run yet", [nothing], share=share)
    run = rows.latest_run(db)
    outcomes, listed, waiting = rows.outcomes(db, run["run_id"]), rows.failures(db), rows.waiting(db)
    made = [
        sections.loads(db, waiting, share),
        sections.failed(outcomes, share),
        None if share else sections.mend(listed, outcomes),
        sections.complete(db),
        sections.people(db, settings) if settings.privacy.people_on_pages and not share else None,
        sections.runs(db),
    ]
    return Page(
        name="records",
        title="Records",
        clinic=settings.name,
        period=f"checked {Display(settings.display).moment(run['ran_at'])} UTC",
        sections=[section for section in made if section],
        methods=["records"],
        lead=lead(db, outcomes, run, listed, waiting),
        share=share,
    )


def lead(db, outcomes: list[dict], run: dict, listed: dict, waiting: list) -> list:
    """What matters first: what stops the pages, the tally, what changed, what leaves the measures."""
    said = [
        (f"Stop: {one['sentence']}. {sentence(one['fix'])}", "#failed")
        for one in outcomes
        if one["severity"] == "stop" and one["outcome"] in ("failed", "could_not_run")
    ]
    waiting = {name for name, *_ in waiting}
    if waiting:
        one_waits = len(waiting) == 1
        said.append((
            f"Rows of {len(waiting)} {'file' if one_waits else 'files'} wait in to_fix and are in no measure.",
            "#loads",
        ))  # fmt: skip
    tally = f"{run['failed']} of {run['rules']} rules failed, {run['passed']} passed, "
    said.append((f"{tally}{run['not_applicable']} had nothing to judge.", "#failed"))
    if run["could_not_run"]:
        said.append((f"{run['could_not_run']} rules could not be run; nobody knows what they would find.", "#failed"))
    change = {(one["outcome_before"], one["outcome"]): 0 for one in outcomes}
    for one in outcomes:
        change[one["outcome_before"], one["outcome"]] += 1
    worse, better = change.get(("passed", "failed"), 0), change.get(("failed", "passed"), 0)
    if worse or better:
        said.append((f"Since the run before, rules that fail anew: {worse}; that pass again: {better}.", "#runs"))
    months = [found["value"] for found in listed.get("cases_month_quarantined", ())]
    if months:
        said.append((f"Not whole, and marked so on every chart: {'; '.join(months)}.", "#loads"))
    aside = db.execute("SELECT count(*) FROM set_aside_rows").fetchall()[0][0]
    if aside:
        said.append(
            (f"{aside:,} {'row is' if aside == 1 else 'rows are'} set aside: in no measure until mended.", "#failed")
        )
    return said


def to_fix(db) -> Table:
    """Every listed row, by file and line."""
    headings = ["File", "Line", "Case", "Column", "What stands there", "What is wrong", "How to mend it", "Rule"]
    listed = [failure for found in rows.failures(db).values() for failure in found]
    listed.sort(key=lambda one: (one["name"] or "", one["row"] or 0, one["rule_id"]))
    return Table(
        "to-fix",
        "Rows to fix",
        [Column(heading, "count" if heading == "Line" else "text") for heading in headings],
        [
            [one["name"], one["row"], one["case_id"], one["column_name"], one["value"], sentence(one["sentence"]),
             sentence(one["fix"]), one["rule_id"]]
            for one in listed
        ],
    )  # fmt: skip


def all_rules(db) -> Table:
    """Every rule with its counts, why it is there and where it comes from."""
    run = rows.latest_run(db)
    names = ["rule_id", "table_name", "level", "column_name", "severity", "outcome", "in_scope", "judged", "failed",
             "share", "tolerated", "counted_by", "sentence", "fix", "why", "source", "reason"]  # fmt: skip
    kinds = {"in_scope": "count", "judged": "count", "failed": "count", "share": "share", "tolerated": "share"}
    columns = [Column(name.replace("_", " ").capitalize(), kinds.get(name, "text")) for name in names]
    return Table("rules", "Rules", columns, [[one[name] for name in names] for one in rows.outcomes(db, run["run_id"])])
