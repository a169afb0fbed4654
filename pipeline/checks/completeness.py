"""How much of each field is written down, month by month."""

from pipeline.checks.catalogue import Rule

# The local month a row belongs to, in check_<table>.
MONTH = {
    "cases": "month_no",
    "vitals": "year(taken_at) * 12 + month(taken_at) - 1",
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
            f"count(*) FILTER (WHERE {rule.scope or 'TRUE'}), "
            f'count("{rule.columns[0]}") FILTER (WHERE {rule.scope or "TRUE"})'
            for rule in fields
        )
        months = db.execute(f"SELECT {month}, {sums} FROM check_{table} GROUP BY 1 ORDER BY 1").fetchall()
        rows = [
            (table, rule.columns[0], row[0], row[1 + 2 * place], row[2 + 2 * place])
            for row in months
            if row[0] is not None
            for place, rule in enumerate(fields)
        ]
        if rows:
            db.executemany("INSERT INTO check_completeness VALUES (?, ?, ?, ?, ?)", rows)
