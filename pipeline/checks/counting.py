"""Counts all rules over the prepared tables and lists what failed: rules within a row, and those across rows."""

from concurrent.futures import Future

from pipeline.checks import across, scan
from pipeline.checks.catalogue import Rule
from pipeline.checks.conditions import Bounds
from pipeline.checks.scan import Count
from pipeline.lanes import Here

# Statements that the rules across rows are dealt out to: DuckDB plans each in one thread.
STATEMENTS = 4


def count(db, rules: list[Rule], bounds: dict[str, Bounds], people: bool = False) -> dict[str, Count]:
    """What each rule found, by its id, counted one after the other."""
    return {
        rule: count for counted in begin(Here(db), rules, bounds, people) for rule, count in counted.result().items()
    }


def begin(side, rules: list[Rule], bounds: dict[str, Bounds], people: bool = False) -> list[Future]:
    """What rules found, by id, in some futures. Reads the tables that inputs.prepare made; writes failing rows to
    check_hits, with the person's code only if people, and every row of a set_aside rule to set_aside_rows."""
    others = [rule for rule in rules if not rule.within_row]
    dealt = [others[place::STATEMENTS] for place in range(min(STATEMENTS, len(others)))]
    return [side.submit(within_rows, rules, bounds), *(side.submit(across.count, those, people) for those in dealt)]


def within_rows(db, rules: list[Rule], bounds: dict[str, Bounds]) -> dict[str, Count]:
    asked = {table: scan.conditions(within, bounds) for table, within in by_table(rules).items()}
    counts = scan.count(db, asked)
    failing = {table: [one for one in all_ if counts[one.rule.id].failed] for table, all_ in asked.items()}
    scan.list_failures(db, failing)
    scan.set_aside(db, failing)
    return counts


def by_table(rules: list[Rule]) -> dict[str, list[Rule]]:
    """Rules within a row, by the table they are counted in."""
    found: dict[str, list[Rule]] = {}
    for rule in rules:
        if rule.within_row:
            found.setdefault(rule.table, []).append(rule)
    return found
