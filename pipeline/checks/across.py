"""Runs a rule that needs other rows: one SQL file, one row a thing judged.

The file's SELECT gives failed (1, 0, NULL where it cannot be judged), case_id, source_file, source_row, person
and found (what stands there, in words; no value of a personal column but person, shown only if settings ask).
"""

from pipeline.checks.catalogue import Rule
from pipeline.checks.scan import CAP, Count, reason


def count(db, rule: Rule) -> Count:
    """Things the rule speaks about, judged and failed."""
    try:
        counted = db.execute(
            f"SELECT count(*), count(failed), coalesce(sum(failed), 0) FROM ({text(rule)}) AS judged"
        ).fetchone()
    except Exception as fault:
        return Count(reason=reason(fault))
    return Count(*(int(number) for number in counted))


def list_failures(db, rule: Rule, people: bool) -> None:
    """Writes what fails to check_hits, at most CAP a rule and file."""
    db.execute(
        f"""
        INSERT INTO check_hits
        SELECT '{rule.id}', source_file, source_row, case_id, {"person" if people else "NULL"}, found
        FROM ({text(rule)}) AS judged
        WHERE failed = 1
        QUALIFY row_number() OVER (PARTITION BY source_file ORDER BY source_row, case_id, found) <= {CAP}
        """
    )


def set_aside(db, rule: Rule) -> None:
    """Writes every failing row to set_aside_rows, without cap."""
    db.execute(
        f"""
        INSERT INTO set_aside_rows
        SELECT DISTINCT '{rule.table}', source_file, source_row, '{rule.id}'
        FROM ({text(rule)}) AS judged
        WHERE failed = 1 AND source_row IS NOT NULL
        """
    )


def text(rule: Rule) -> str:
    return rule.file.read_text(encoding="utf-8")
