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


def write(db, rules: list[Rule]) -> None:
    """Fills check_completeness for every field with a rule `filled`: rows in scope and those that hold a value."""
    for table, month in MONTH.items():
        fields = [rule for rule in rules if rule.table == table and rule.rule == "filled" and not rule.part]
        if not fields:
            continue
        sums = ", ".join(
            f"{{'column_name': '{rule.columns[0]}', 'in_scope': count(*) FILTER (WHERE {rule.scope or 'TRUE'}), "
            f"'filled': count(\"{rule.columns[0]}\") FILTER (WHERE {rule.scope or 'TRUE'})}}"
            for rule in fields
        )
        db.execute(
            f"""
            INSERT INTO check_completeness
            SELECT '{table}', field.column_name, month_no, field.in_scope, field.filled
            FROM (
                SELECT {month} AS month_no, unnest([{sums}]) AS field
                FROM check_{table}
                GROUP BY 1
            )
            WHERE month_no IS NOT NULL
            """
        )
