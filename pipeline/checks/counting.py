"""Counts all rules over the prepared tables, then lists what failed: rules within a row by table, the others alone."""

from pipeline.checks import across, scan
from pipeline.checks.catalogue import Rule
from pipeline.checks.conditions import Bounds
from pipeline.checks.scan import Count


def count(db, rules: list[Rule], bounds: dict[str, Bounds], progress=None) -> dict[str, Count]:
    """What each rule found, by its id. Reads the tables that inputs.prepare made."""
    counts: dict[str, Count] = {}
    for table, within in by_table(rules).items():
        if progress:
            progress.step(f"checking {table}")
        counts |= scan.count(db, table, scan.conditions(within, bounds))
    for rule in rules:
        if not rule.within_row:
            if progress:
                progress.step(f"checking {rule.table}: {rule.sentence}")
            counts[rule.id] = across.count(db, rule)
    return counts


def list_failures(db, rules: list[Rule], counts: dict[str, Count], bounds: dict[str, Bounds], people: bool) -> None:
    """Writes failing rows to check_hits, and every row of a set_aside rule to set_aside_rows."""
    for table, within in by_table(rules).items():
        failing = scan.conditions([rule for rule in within if counts[rule.id].failed], bounds)
        scan.list_failures(db, table, failing)
        scan.set_aside(db, table, [one for one in failing if one.rule.severity == "set_aside"])
    for rule in rules:
        if not rule.within_row and counts[rule.id].failed:
            across.list_failures(db, rule, people)


def by_table(rules: list[Rule]) -> dict[str, list[Rule]]:
    """Rules within a row, by the table they are counted in."""
    found: dict[str, list[Rule]] = {}
    for rule in rules:
        if rule.within_row:
            found.setdefault(rule.table, []).append(rule)
    return found
