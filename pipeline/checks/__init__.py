"""Are the records good enough to read rates from: every rule of sql/checks/ over what is loaded.

    verdicts = run(db, settings)         # writes check_runs, check_outcomes, check_failures, set_aside_rows,
    verdicts.worst_stop                  # check_completeness; None, or the rule that stops the pages

DuckDB counts all rules within a row in one scan of each table and runs one SQL file for each rule that needs other
rows. Great Expectations judges each count, and counts the rows of small tables once more by itself.
"""

import time
from datetime import UTC, datetime

from pipeline.beside import Here
from pipeline.checks.verdicts import Outcome, Verdicts


def run(db, settings, progress=None, second=None) -> Verdicts:
    """Runs the catalogue over the loaded tables and stores what it found. Loads no file, changes no record.

    second: where Great Expectations runs (pipeline.beside); here, unless one is given.
    """
    from pipeline.checks import catalogue, completeness, conditions, counting, inputs, judge, native, store
    from pipeline.progress import Silent

    progress, second = progress or Silent(), second or Here()
    began, ran_at = time.perf_counter(), datetime.now(UTC).replace(tzinfo=None, microsecond=0)
    rules = list(catalogue.rules())
    progress.step("preparing the checks")
    inputs.prepare(db, settings)
    store.begin(db, rules)
    bounds = conditions.load_bounds(db)
    again = []
    for table in native.TABLES:
        if (frame := native.frame(db, table)) is not None:
            asked = [rule for rule in rules if rule.table == table and rule.within_row]
            again.append(second.submit(native.failed_in, frame, asked, bounds))
    counts = counting.count(db, rules, bounds, settings.privacy.people_on_pages, progress)
    counted_by = {rule.id: "sql" for rule in rules}
    progress.step("listing what failed")
    store.write_failures(db)
    completeness.write(db, rules, settings.privacy.people_on_pages)
    progress.step("counting the small tables once more")
    for counted in again:
        for rule_id, failed in counted.result().items():
            compare(counts[rule_id], failed)
            counted_by[rule_id] = "sql and great expectations"
    progress.step("judging the rules")
    passed = second.submit(judge.judge, rules, counts).result()
    outcomes = [outcome(rule, counts[rule.id], passed.get(rule.id), counted_by[rule.id]) for rule in rules]
    run_id = store.write_outcomes(db, outcomes, ran_at, time.perf_counter() - began)
    return Verdicts(run_id, tuple(sorted(outcomes, key=worst_first)))


def compare(counted, failed: int | None) -> None:
    """Two ways of counting the same rows must agree; where they do not, the rule has not been run."""
    if not counted.reason and counted.failed != failed:
        theirs = "could not count them" if failed is None else failed
        counted.reason = f"SQL counts {counted.failed} failing rows, Great Expectations {theirs}"


def outcome(rule, counted, passed: bool | None, counted_by: str) -> Outcome:
    if passed is None and counted.judged and not counted.reason:
        counted.reason = "Great Expectations could not judge it"
    if counted.reason:
        word = "could_not_run"
    elif passed is None:
        word = "not_applicable"
    else:
        word = "passed" if passed else "failed"
    return Outcome(
        rule_id=rule.id,
        table_name=rule.table,
        level=rule.level,
        column_name=(rule.columns or ("",))[0],
        severity=rule.severity,
        in_scope=counted.in_scope,
        judged=counted.judged,
        failed=counted.failed,
        share=counted.failed / counted.judged if counted.judged else None,
        tolerated=rule.tolerated,
        outcome=word,
        counted_by=counted_by,
        sentence=rule.sentence,
        fix=rule.fix,
        why=rule.why,
        source=rule.source,
        reason=counted.reason,
    )


def worst_first(one: Outcome):
    """Failed and unrunnable rules first, by severity, then by share."""
    from pipeline.checks.catalogue import SEVERITIES
    from pipeline.checks.verdicts import OUTCOMES

    return (OUTCOMES.index(one.outcome) > 1, SEVERITIES.index(one.severity), -(one.share or 0), one.rule_id)
