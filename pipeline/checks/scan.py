"""Counts every rule within a row in one scan of its table, and lists the rows that fail."""

from dataclasses import dataclass

from pipeline import schema
from pipeline.checks.catalogue import Rule
from pipeline.checks.conditions import bad

# Failing rows listed for a rule and file; the counts are always exact.
CAP = 200

# Tables whose rules speak about one part of it: the column that names the part.
PART = {"vitals": "parameter"}

# Tables of which one row may stand for many: the column that says for how many.
ROWS = {"vitals": "readings"}


@dataclass(slots=True)
class Count:
    """What a rule found. in_scope: rows it speaks about; judged: those that hold what it needs; failed: of these.

    reason: why it could not be run at all, '' where it was.
    """

    in_scope: int = 0
    judged: int = 0
    failed: int = 0
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Condition:
    rule: Rule
    scope: str
    wrong: str

    @property
    def failing(self) -> str:
        return f"({self.scope}) AND ({self.wrong})"


def conditions(rules: list[Rule], bounds) -> list[Condition]:
    return [Condition(rule, rule.scope or "TRUE", bad(rule, bounds)) for rule in rules]


def count(db, table: str, asked: list[Condition]) -> dict[str, Count]:
    """Counts of all the conditions over check_<table>, in one scan. Where one cannot be run, each is run alone,
    so that a fault in one rule says nothing about the others."""
    try:
        return _scan(db, table, asked)
    except Exception as fault:
        if len(asked) == 1:
            return {asked[0].rule.id: Count(reason=reason(fault))}
        found = {}
        for one in asked:
            found |= count(db, table, [one])
        return found


def _scan(db, table: str, asked: list[Condition]) -> dict[str, Count]:
    texts = list(dict.fromkeys((one.scope, one.wrong) for one in asked))
    rows = f"sum({ROWS[table]})" if table in ROWS else "count(*)"
    sums = [
        f"{rows} FILTER (WHERE {scope}), {rows} FILTER (WHERE ({scope}) AND ({wrong}) IS NOT NULL), "
        f"{rows} FILTER (WHERE ({scope}) AND ({wrong}))"
        for scope, wrong in texts
    ]
    part = PART.get(table, "''")
    groups = db.execute(f"SELECT {part}, {', '.join(sums)} FROM check_{table} GROUP BY {part}").fetchall()
    found = {}
    for one in asked:
        place = 1 + 3 * texts.index((one.scope, one.wrong))
        counted = Count()
        for group in groups:
            if not one.rule.part or group[0] == one.rule.part:
                in_scope, judged, failed = group[place : place + 3]
                counted.in_scope += int(in_scope or 0)
                counted.judged += int(judged or 0)
                counted.failed += int(failed or 0)
        found[one.rule.id] = counted
    return found


def reason(fault: Exception) -> str:
    """The first line of a fault, which never holds a cell's value."""
    import duckdb

    shown = isinstance(fault, duckdb.ProgrammingError)  # our own SQL's faults; data faults may quote a value
    return f"{type(fault).__name__}{': ' + str(fault).splitlines()[0] if shown else ''}"


def list_failures(db, table: str, asked: list[Condition]) -> None:
    """Writes the failing rows of the conditions to check_hits, at most CAP a rule and file, lowest row first."""
    if not asked:
        return
    in_part = [
        f"({PART[table]} = '{one.rule.part}' AND {one.failing})" if one.rule.part else f"({one.failing})"
        for one in asked
    ]
    db.execute(
        f"CREATE OR REPLACE TEMP TABLE check_suspects AS SELECT * FROM check_{table} WHERE {' OR '.join(in_part)}"
    )
    case_id = "case_id" if any(column.name == "case_id" for column in schema.TABLES[table].columns) else "NULL"
    for one, failing in zip(asked, in_part, strict=True):
        db.execute(
            f"""
            INSERT INTO check_hits BY NAME
            SELECT
                '{one.rule.id}' AS rule_id, source_file, source_row, {case_id} AS case_id, {found(one.rule)} AS found
            FROM check_suspects
            WHERE {failing}
            QUALIFY row_number() OVER (PARTITION BY source_file ORDER BY source_row) <= {CAP}
            """
        )


def found(rule: Rule) -> str:
    """SQL for what stands in the row: one value alone, several with their names; never a personal column's."""
    known = {column.name: column for column in schema.TABLES[rule.table].columns}
    texts = {name: text_of(name, known[name].kind) for name in rule.columns if not known[name].personal}
    if not texts:
        return "NULL"
    if len(rule.columns) == 1:
        return texts[rule.columns[0]]
    return " || '; ' || ".join(f"'{name} ' || coalesce({text}, 'blank')" for name, text in texts.items())


def text_of(column: str, kind: str) -> str:
    """SQL for a cell as people read it: times to the minute unless seconds were charted, whole numbers without .0."""
    cell = f'round("{column}", 6)' if kind == "number" else f'"{column}"'
    return f"regexp_replace(CAST({cell} AS VARCHAR), '(:\\d\\d):00$|\\.0$', '\\1')"


def set_aside(db, table: str, asked: list[Condition]) -> None:
    """Writes every row of the set_aside rules to set_aside_rows, without cap."""
    for one in asked:
        db.execute(
            f"""
            INSERT INTO set_aside_rows
            SELECT DISTINCT '{table}', source_file, source_row, '{one.rule.id}'
            FROM check_{table}
            WHERE {one.failing}
            """
        )
