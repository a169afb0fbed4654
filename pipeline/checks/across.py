"""Runs the rules that need other rows: each is one SELECT, one row a thing judged.

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
        CAST(NULL AS VARCHAR) AS rule_id, CAST(NULL AS INTEGER) AS failed, CAST(NULL AS BIGINT) AS source_file,
        CAST(NULL AS BIGINT) AS source_row, CAST(NULL AS BIGINT) AS at_s, CAST(NULL AS VARCHAR) AS case_id,
        CAST(NULL AS VARCHAR) AS parameter, CAST(NULL AS VARCHAR) AS person, CAST(NULL AS VARCHAR) AS found
    WHERE FALSE
"""


def count(db, asked: list[Rule], people: bool = False) -> dict[str, Count]:
    """Counts the things each rule speaks about, judged and failed, and writes what failed to check_hits, at most
    CAP a rule and file, lowest row first. All rules are one statement, for the engine to share out among its
    threads; where one cannot be run, each is run alone, so that its fault says nothing about the others."""
    try:
        db.execute(f"CREATE OR REPLACE TEMP TABLE check_found AS {by_file(asked, people)}")
    except Exception as fault:
        if len(asked) == 1:
            return {asked[0].id: Count(reason=reason(fault))}
        found = {}
        for one in asked:
            found |= count(db, [one], people)
        return found
    db.execute(
        """
        INSERT INTO check_hits BY NAME
        SELECT rule_id, source_file, hit.*
        FROM (SELECT rule_id, source_file, unnest(hits) AS hit FROM check_found)
        """
    )
    sums = db.execute(
        "SELECT rule_id, sum(in_scope), sum(judged), sum(failed) FROM check_found GROUP BY rule_id"
    ).fetchall()
    counts = {rule_id: Count(*(int(number) for number in numbers)) for rule_id, *numbers in sums}
    return {one.id: counts.get(one.id, Count()) for one in asked}


def by_file(asked: list[Rule], people: bool) -> str:
    """SQL for what rules found, one row a rule and file; a hit is made of a failing row alone."""
    rules = "".join(f" UNION ALL BY NAME SELECT '{one.id}' AS rule_id, * FROM ({text(one)})" for one in asked)
    return f"""
        SELECT
            rule_id,
            source_file,
            count(*) AS in_scope,
            count(failed) AS judged,
            coalesce(sum(failed), 0) AS failed,
            min(hit, {CAP}) FILTER (WHERE hit IS NOT NULL) AS hits
        FROM (
            SELECT
                rule_id,
                source_file,
                failed,
                CASE
                    WHEN failed = 1 THEN
                        {{'source_row': source_row, 'at_s': at_s, 'case_id': case_id, 'parameter': parameter,
                         'person': {"person" if people else "CAST(NULL AS VARCHAR)"}, 'found': found}}
                END AS hit
            FROM ({OPTIONAL} {rules})
        )
        GROUP BY rule_id, source_file
    """


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
