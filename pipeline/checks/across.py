"""Runs a rule that needs other rows: one SELECT, one row a thing judged.

The SELECT gives failed (1, 0, or NULL where it cannot be judged) and as much as it has of: case_id, source_file and
source_row; or, for readings, parameter and at_s, the moment whose line is looked up; person, shown only if the
settings ask; found, what stands there in words without a value of a personal column.
"""

from pipeline import schema
from pipeline.checks.catalogue import Rule
from pipeline.checks.scan import CAP, Count, reason

SHOWN = ("case_id", "source_file", "source_row", "parameter", "at_s", "person", "found")


def count(db, rule: Rule) -> Count:
    """Things the rule speaks about, judged and failed."""
    try:
        counted = db.execute(
            f"SELECT count(*), count(failed), coalesce(sum(failed), 0) FROM ({text(rule)}) AS judged"
        ).fetchall()[0]
    except Exception as fault:
        return Count(reason=reason(fault))
    return Count(*(int(number) for number in counted))


def list_failures(db, rule: Rule, people: bool) -> None:
    """Writes what fails to check_hits, at most CAP a rule and file."""
    there = {row[0] for row in db.execute(f"DESCRIBE {text(rule)}").fetchall()} - (set() if people else {"person"})
    picked = [f"{name if name in there else 'NULL'} AS {name}" for name in SHOWN]
    file = "source_file" if "source_file" in there else "NULL"
    row = "source_row" if "source_row" in there else "at_s" if "at_s" in there else "found"
    db.execute(
        f"""
        INSERT INTO check_hits BY NAME
        SELECT '{rule.id}' AS rule_id, {", ".join(picked)}
        FROM ({text(rule)}) AS judged
        WHERE failed = 1
        QUALIFY row_number() OVER (PARTITION BY {file} ORDER BY {row}, found) <= {CAP}
        """
    )


def text(rule: Rule) -> str:
    """The rule's SELECT: its file, or for a word one made from the schema."""
    if rule.file:
        return rule.file.read_text(encoding="utf-8")
    if rule.rule == "present":
        only = "" if rule.table == "cases" else "HAVING (SELECT count(*) FROM cases) > 0"
        return f"SELECT CASE WHEN count(*) = 0 THEN 1 ELSE 0 END AS failed, 'no row' AS found FROM {rule.table} {only}"
    key = schema.TABLES[rule.table].key
    over = f"OVER (PARTITION BY {', '.join(key)})"
    required = " AND ".join(f"{name} IS NOT NULL" for name in key if name in schema.TABLES[rule.table].required)
    return f"""
        SELECT
            CASE WHEN count(*) {over} > 1 THEN 1 ELSE 0 END AS failed, case_id, source_file, source_row,
            'stands ' || CAST(count(*) {over} AS VARCHAR) || ' times' AS found
        FROM {rule.table}
        WHERE {required}
    """
