"""Counts all rules over the prepared tables and lists what failed: rules within a row, then those across rows."""

from pipeline.checks import across, scan
from pipeline.checks.catalogue import Rule
from pipeline.checks.conditions import Bounds
from pipeline.checks.scan import Count


def count(db, rules: list[Rule], bounds: dict[str, Bounds], people: bool = False, progress=None) -> dict[str, Count]:
    """What each rule found, by its id. Reads the tables that inputs.prepare made; writes failing rows to check_hits,
    with the person's code only if people, and every row of a set_aside rule to set_aside_rows."""
    if progress:
        progress.step("checking rows")
    asked = {table: scan.conditions(within, bounds) for table, within in by_table(rules).items()}
    counts = scan.count(db, asked)
    failing = {table: [one for one in all_ if counts[one.rule.id].failed] for table, all_ in asked.items()}
    scan.list_failures(db, failing)
    scan.set_aside(db, failing)
    if progress:
        progress.step("checking rows against each other")
    return counts | across.count(db, [rule for rule in rules if not rule.within_row], people)


def by_table(rules: list[Rule]) -> dict[str, list[Rule]]:
    """Rules within a row, by the table they are counted in."""
    found: dict[str, list[Rule]] = {}
    for rule in rules:
        if rule.within_row:
            found.setdefault(rule.table, []).append(rule)
    return found
