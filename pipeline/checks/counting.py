"""Counts all rules over the prepared tables and lists what failed: rules within a row by table, the others alone."""

from pipeline.checks import across, scan
from pipeline.checks.catalogue import Rule
from pipeline.checks.conditions import Bounds
from pipeline.checks.scan import Count


def count(db, rules: list[Rule], bounds: dict[str, Bounds], people: bool = False, progress=None) -> dict[str, Count]:
    """What each rule found, by its id. Reads the tables that inputs.prepare made; writes failing rows to check_hits,
    with the person's code only if people, and every row of a set_aside rule to set_aside_rows."""
    counts: dict[str, Count] = {}
    for table, within in by_table(rules).items():
        if progress:
            progress.step(f"checking {table}")
        conditions = scan.conditions(within, bounds)
        counts |= scan.count(db, table, conditions)
        failing = [one for one in conditions if counts[one.rule.id].failed]
        scan.list_failures(db, table, failing)
        scan.set_aside(db, table, [one for one in failing if one.rule.severity == "set_aside"])
    for rule in rules:
        if not rule.within_row:
            if progress:
                progress.step(f"checking {rule.table}: {rule.sentence}")
            counts[rule.id] = across.run(db, rule, people)
    return counts


def by_table(rules: list[Rule]) -> dict[str, list[Rule]]:
    """Rules within a row, by the table they are counted in."""
    found: dict[str, list[Rule]] = {}
    for rule in rules:
        if rule.within_row:
            found.setdefault(rule.table, []).append(rule)
    return found
