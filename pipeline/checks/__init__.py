"""Are the records good enough to read rates from: every rule of sql/checks/ over what is loaded.

    begun = start(db, settings)          # writes check_failures, set_aside_rows, check_completeness
    verdicts = finish(db, begun)         # writes check_runs, check_outcomes
    verdicts.worst_stop                  # None, or the rule that stops the pages

DuckDB counts all rules within a row in one scan of each table and runs one SELECT for each rule that needs other
rows. Great Expectations judges each count, and counts the rows of small tables once more by itself; it may do so in a
second process while the models, which need the rows set aside but no verdict, are built.
"""

import time
from concurrent.futures import Future
from dataclasses import dataclass
from datetime import UTC, datetime

from pipeline.beside import Here
from pipeline.checks.verdicts import Outcome, Verdicts


@dataclass
class Begun:
    """What was counted. again: Great Expectations' own counts, a future a table; passed: its judgement of the rules,
    in futures too; seconds: spent so far."""

    rules: list
    counts: dict
    again: list[Future]
    passed: list[Future]
    ran_at: datetime
    seconds: float


def run(db, settings, progress=None, second=None) -> Verdicts:
    """Runs the catalogue over the loaded tables and stores what it found, where nothing was prepared before."""
    from pipeline.checks import inputs

    inputs.seeds(db, settings)
    return finish(db, start(db, settings, progress, second))


def start(db, settings, progress=None, second=None) -> Begun:
    """Counts every rule over what is loaded and stores the rows that failed. Needs the seeds of models.prepare;
    loads no file, changes no record.

    second: where Great Expectations runs (pipeline.beside); here, unless one is given.
    """
    from pipeline.checks import catalogue, completeness, conditions, counting, inputs, judge, native, store
    from pipeline.lanes import lanes
    from pipeline.progress import Silent

    progress, second = progress or Silent(), second or Here()
    began, ran_at = time.perf_counter(), datetime.now(UTC).replace(tzinfo=None, microsecond=0)
    rules, people = list(catalogue.rules()), settings.privacy.people_on_pages
    progress.step("preparing the checks")
    bounds = conditions.load_bounds(db)
    with lanes(db, "for_checks") as side:
        written = [side.submit(inputs.values, side.shared), side.submit(store.begin, rules, side.shared)]
        again = [second.submit(native.count, *asked) for asked in native.asked(db, rules, bounds)]
        for done in written:
            done.result()
        inputs.steps(db, side)
        progress.step("checking rows, and rows against each other")
        grid = side.submit(completeness.write, rules, people)
        # Most rules are within a row: they are judged while those across rows are counted.
        counts, passed = {}, []
        within, *across = counting.begin(side, rules, bounds, people)
        for counted in ([within], across):
            found = {rule_id: count for part in counted for rule_id, count in part.result().items()}
            counts |= found
            passed.append(second.submit(judge.judge, [rule for rule in rules if rule.id in found], found))
        progress.step("listing what failed")
        side.submit(store.write_failures).result()
        grid.result()
    return Begun(rules, counts, again, passed, ran_at, time.perf_counter() - began)


def finish(db, begun: Begun) -> Verdicts:
    """Great Expectations' judgement, waited for and stored."""
    from pipeline.checks import store

    began, counted_by = time.perf_counter(), {rule.id: "sql" for rule in begun.rules}
    for counted in begun.again:
        for rule_id, failed in counted.result().items():
            compare(begun.counts[rule_id], failed)
            counted_by[rule_id] = "sql and great expectations"
    passed = {rule_id: word for judged in begun.passed for rule_id, word in judged.result().items()}
    outcomes = [outcome(rule, begun.counts[rule.id], passed.get(rule.id), counted_by[rule.id]) for rule in begun.rules]
    run_id = store.write_outcomes(db, outcomes, begun.ran_at, begun.seconds + time.perf_counter() - began)
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
