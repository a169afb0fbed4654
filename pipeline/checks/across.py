"""Runs a rule that needs other rows: one SELECT, one row a thing judged.

The SELECT gives failed (1, 0, or NULL where it cannot be judged) and as much as it has of: case_id, source_file and
source_row; or, for readings, parameter and at_s, the moment whose line is looked up; person, shown only if the
settings ask; found, what stands there in words without a value of a personal column, made only where it failed.
"""

from pipeline import schema
from pipeline.checks.catalogue import Rule
from pipeline.checks.scan import CAP, Count, reason

# What a rule's SELECT may leave out.
OPTIONAL = """
    SELECT
        CAST(NULL AS BIGINT) AS source_file, CAST(NULL AS BIGINT) AS source_row, CAST(NULL AS BIGINT) AS at_s,
        CAST(NULL AS VARCHAR) AS case_id, CAST(NULL AS VARCHAR) AS parameter, CAST(NULL AS VARCHAR) AS person,
        CAST(NULL AS VARCHAR) AS found
    WHERE FALSE
"""


def run(db, rule: Rule, people: bool = False) -> Count:
    """Counts the things the rule speaks about, judged and failed, and writes what failed to check_hits, at most
    CAP a rule and file, lowest row first."""
    try:
        db.execute(
            f"""
            CREATE OR REPLACE TEMP TABLE check_found AS
            SELECT
                source_file,
                count(*) AS in_scope,
                count(failed) AS judged,
                coalesce(sum(failed), 0) AS failed,
                min(
                    {{'source_row': source_row, 'at_s': at_s, 'case_id': case_id, 'parameter': parameter,
                     'person': {"person" if people else "CAST(NULL AS VARCHAR)"}, 'found': found}}, {CAP}
                ) FILTER (WHERE failed = 1) AS hits
            FROM ({OPTIONAL} UNION ALL BY NAME ({text(rule)}))
            GROUP BY source_file
            """
        )
        counted = db.execute(
            "SELECT coalesce(sum(in_scope), 0), coalesce(sum(judged), 0), coalesce(sum(failed), 0) FROM check_found"
        ).fetchall()[0]
    except Exception as fault:
        return Count(reason=reason(fault))
    count = Count(*(int(number) for number in counted))
    if count.failed:
        db.execute(
            f"""
            INSERT INTO check_hits BY NAME
            SELECT '{rule.id}' AS rule_id, source_file, hit.*
            FROM (SELECT source_file, unnest(hits) AS hit FROM check_found)
            """
        )
    return count


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
