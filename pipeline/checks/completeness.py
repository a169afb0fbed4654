"""How much of each field is written down, month by month. A reading's one field is its value: it has no grid."""

from pipeline.checks.catalogue import Rule

# The local month a row belongs to, in check_<table>.
MONTH = {
    "cases": "month_no",
    "drugs": "year(given_at) * 12 + month(given_at) - 1",
    "events": "year(occurred_at) * 12 + month(occurred_at) - 1",
    "equipment": 'year("at") * 12 + month("at") - 1',
    "stock": 'year("at") * 12 + month("at") - 1',
}


def write(db, rules: list[Rule], people: bool = False) -> None:
    """Fills check_completeness for every field with a rule `filled`: rows in scope and those that hold a value, by
    local month; for cases also by anesthetist, if people."""
    for table, month in MONTH.items():
        fields = [rule for rule in rules if rule.table == table and rule.rule == "filled" and not rule.part]
        if fields:
            _grid(db, table, fields, month, "NULL")
    if people:
        fields = [rule for rule in rules if rule.table == "cases" and rule.rule == "filled"]
        _grid(db, "cases", [rule for rule in fields if rule.columns[0] != "anesthetist"], "NULL", "anesthetist")


def _grid(db, table: str, fields: list[Rule], month: str, person: str) -> None:
    first = 1000 * list(MONTH).index(table)
    sums = ", ".join(
        f"{{'place': {first + place}, 'column_name': '{rule.columns[0]}', "
        f"'in_scope': count(CASE WHEN {rule.scope or 'TRUE'} THEN 1 END), "
        f"'filled': count(CASE WHEN {rule.scope or 'TRUE'} THEN \"{rule.columns[0]}\" END)}}"
        for place, rule in enumerate(fields)
    )
    db.execute(
        f"""
        INSERT INTO check_completeness
        SELECT field.place, '{table}', field.column_name, month_no, person, field.in_scope, field.filled
        FROM (
            SELECT {month} AS month_no, {person} AS person, unnest([{sums}]) AS field
            FROM check_{table}
            GROUP BY 1, 2
        )
        WHERE coalesce(CAST(month_no AS VARCHAR), person) IS NOT NULL
        """
    )
