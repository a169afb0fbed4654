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

# Rules that every row can be judged by.
NEVER_NULL = ("required", "filled")


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


def count(db, asked: dict[str, list[Condition]]) -> dict[str, Count]:
    """Counts of all the conditions, by table, over check_<table>: one scan a table, all in one statement. Where one
    cannot be run, each is run alone, so that a fault in one rule says nothing about the others."""
    try:
        return _scan(db, asked)
    except Exception as fault:
        alone = [(table, one) for table, conditions in asked.items() for one in conditions]
        if len(alone) == 1:
            return {alone[0][1].rule.id: Count(reason=reason(fault))}
        found = {}
        for table, one in alone:
            found |= count(db, {table: [one]})
        return found


def _scan(db, asked: dict[str, list[Condition]]) -> dict[str, Count]:
    """The sums of a table stand in one list, those of a condition from its place on; equal ones are made once."""
    sums = {
        table: list(dict.fromkeys(text for one in all_ for text in three(table, one))) for table, all_ in asked.items()
    }
    groups: dict[str, list] = {table: [] for table in asked}
    statement = " UNION ALL ".join(
        f"SELECT '{table}', {PART.get(table, 'NULL')}, [{', '.join(texts)}] FROM check_{table} GROUP BY ALL"
        for table, texts in sums.items()
    )
    for table, part, numbers in db.execute(statement).fetchall():
        groups[table].append((part, numbers))
    found = {}
    for table, conditions in asked.items():
        for one in conditions:
            places = [sums[table].index(text) for text in three(table, one)]
            mine = [numbers for part, numbers in groups[table] if not one.rule.part or part == one.rule.part]
            found[one.rule.id] = Count(*(sum(int(numbers[place] or 0) for numbers in mine) for place in places))
    return found


def three(table: str, one: Condition) -> tuple[str, str, str]:
    """SQL for the rows in scope, judged and failed. A condition that can always be judged judges what is in scope."""
    rows = f"sum({ROWS[table]})" if table in ROWS else "count(*)"
    in_scope = rows if one.scope == "TRUE" else f"{rows} FILTER (WHERE {one.scope})"
    known = (
        in_scope
        if one.rule.rule in NEVER_NULL
        else f"{rows} FILTER (WHERE ({one.scope}) AND ({one.wrong}) IS NOT NULL)"
    )
    return in_scope, known, f"{rows} FILTER (WHERE {one.failing})"


def reason(fault: Exception) -> str:
    """The first line of a fault, which never holds a cell's value."""
    import duckdb

    shown = isinstance(fault, duckdb.ProgrammingError)  # our own SQL's faults; data faults may quote a value
    return f"{type(fault).__name__}{': ' + str(fault).splitlines()[0] if shown else ''}"


def list_failures(db, asked: dict[str, list[Condition]]) -> None:
    """Writes the failing rows of the conditions to check_hits, at most CAP a rule and file, lowest row first."""
    selects = [failing_rows(table, one) for table, conditions in asked.items() for one in conditions]
    if selects:
        db.execute(f"INSERT INTO check_hits BY NAME {' UNION ALL '.join(selects)}")


def failing_rows(table: str, one: Condition) -> str:
    case_id = "case_id" if any(column.name == "case_id" for column in schema.TABLES[table].columns) else "NULL"
    part = f"{PART[table]} = '{one.rule.part}' AND " if one.rule.part else ""
    return f"""
        SELECT * FROM (
            SELECT
                '{one.rule.id}' AS rule_id, source_file, source_row, {case_id} AS case_id, {found(one.rule)} AS found
            FROM check_{table}
            WHERE {part}{one.failing}
            QUALIFY row_number() OVER (PARTITION BY source_file ORDER BY source_row) <= {CAP}
        )
    """


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


def set_aside(db, asked: dict[str, list[Condition]]) -> None:
    """Writes every row of the set_aside rules to set_aside_rows, without cap."""
    selects = [
        f"SELECT DISTINCT '{table}', source_file, source_row, '{one.rule.id}' FROM check_{table} WHERE {one.failing}"
        for table, conditions in asked.items()
        for one in conditions
        if one.rule.severity == "set_aside"
    ]
    if selects:
        db.execute(f"INSERT INTO set_aside_rows {' UNION ALL '.join(selects)}")
