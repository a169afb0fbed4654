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
    """A row of the answer is a table, a part of it, and a list of three sums for each condition or equal ones."""
    forms = {table: list(dict.fromkeys(conditions_of(all_))) for table, all_ in asked.items()}
    statement = " UNION ALL ".join(sums(table, texts) for table, texts in forms.items())
    groups: dict[str, list] = {table: [] for table in asked}
    for table, part, numbers in db.execute(statement).fetchall():
        groups[table].append((part, numbers))
    found = {}
    for table, all_ in asked.items():
        for one, form in zip(all_, conditions_of(all_), strict=True):
            place, counted = 3 * forms[table].index(form), Count()
            for part, numbers in groups[table]:
                if one.rule.part in ("", part):
                    in_scope, judged, failed = (int(number or 0) for number in numbers[place : place + 3])
                    counted.in_scope += in_scope
                    counted.judged += judged
                    counted.failed += failed
            found[one.rule.id] = counted
    return found


def conditions_of(asked: list[Condition]) -> list[tuple[str, str]]:
    return [(one.scope, one.wrong) for one in asked]


def sums(table: str, texts: list[tuple[str, str]]) -> str:
    """SQL for the rows in scope, judged and failed, of each scope and condition. Each is worked out once a row, and
    a condition only where it is in scope."""
    scopes = list(dict.fromkeys(scope for scope, _ in texts))
    columns = [f"({scope}) AS scope_{place}" for place, scope in enumerate(scopes)]
    columns += [f"CASE WHEN {scope} THEN {wrong} END AS wrong_{place}" for place, (scope, wrong) in enumerate(texts)]
    counted = [
        rows_where(table, which)
        for place, (scope, _) in enumerate(texts)
        for which in (f"scope_{scopes.index(scope)}", f"wrong_{place} IS NOT NULL", f"wrong_{place}")
    ]
    return f"""
        SELECT '{table}', part, [{", ".join(counted)}]
        FROM (SELECT *, {PART.get(table, "NULL")} AS part, {", ".join(columns)} FROM check_{table})
        GROUP BY ALL
    """


def rows_where(table: str, which: str) -> str:
    """SQL for a number of rows. A sum is ten times faster than one with FILTER."""
    return f"sum(CASE WHEN {which} THEN {ROWS[table]} END)" if table in ROWS else f"sum(CAST({which} AS INTEGER))"


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
