"""A rule within a row as one SQL condition: true where the row is wrong, NULL where it cannot be judged.

Code lists come from the schema and bounds from the seed plausibility, so that neither is typed twice.
"""

from pipeline import schema
from pipeline.checks.catalogue import CatalogueFault, Rule

# Bounds by species, or by agent where a seed row names one; a row without species or agent holds for all.
# Each is (column that chooses, its value or None for all, low, high).
Bounds = list[tuple[str | None, str | None, float | None, float | None]]


def load_bounds(db) -> dict[str, Bounds]:
    """The bounds of every plausible quantity: those of the measures, and those that only the checks use."""
    found: dict[str, Bounds] = {}
    columns = "parameter, species, agent, low, high"
    rows = db.execute(
        f"SELECT {columns} FROM seed_plausibility UNION ALL SELECT {columns} FROM seed_check_bounds ORDER BY ALL"
    ).fetchall()
    for parameter, species, agent, low, high in rows:
        by, value = ("species", species) if species else ("agent", agent) if agent else (None, None)
        found.setdefault(parameter, []).append((by, value, low, high))
    return found


def bad(rule: Rule, bounds: dict[str, Bounds]) -> str:
    """The condition of a rule that is no file."""
    if rule.rule in ("required", "filled"):
        return f'"{rule.columns[0]}" IS NULL'
    if rule.rule == "codes":
        return f'"{rule.columns[0]}" NOT IN ({code_list(rule)})'
    if rule.rule == "plausible":
        quantity = rule.part or rule.columns[0]
        if quantity not in bounds:
            raise CatalogueFault(f"{rule.id}: no bounds for {quantity} among the seeds")
        # For vitals the bounds come with the row: one join serves all parameters.
        return "value < low OR value > high" if rule.part else outside(rule.columns[0], bounds[quantity])
    return rule.rule


def code_list(rule: Rule) -> str:
    """The column's codes as the schema states them, quoted or as numbers."""
    column = schema.TABLES[rule.table].column(rule.columns[0])
    return ", ".join(column.codes if column.kind == "integer" else (quoted(code) for code in column.codes))


def outside(column: str, bounds: Bounds) -> str:
    """Outside the bounds of the row's species or agent; NULL where it has none.

    >>> outside("weight_kg", [("species", "cat", 0.2, 15.0)])
    "CASE WHEN species = 'cat' THEN weight_kg < 0.2 OR weight_kg > 15.0 END"
    """
    arms = []
    for by, value, low, high in bounds:
        beyond = [f"{column} < {low}"] * (low is not None) + [f"{column} > {high}"] * (high is not None)
        arms.append(f"WHEN {f'{by} = {quoted(value)}' if by else 'TRUE'} THEN {' OR '.join(beyond)}")
    return f"CASE {' '.join(arms)} END"


def quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
