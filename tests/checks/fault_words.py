"""How the faults are written: SQL on the sound clinic, with fields for the rows they fall on.

{at} is the column "at"; {dog} and {cat} stand for the number of a case of that species with everything charted,
{last_dog} and {last_cat} for the latest of an animal seen before.
"""

from pipeline import schema

TIMES = [column.name for column in schema.TABLES["cases"].columns if column.kind == "time"]


def one(table: str, where: str) -> str:
    """Condition that picks one row of a table."""
    return f"rowid = (SELECT min(rowid) FROM {table} WHERE {where})"


def put(table: str, sets: str, where: str) -> str:
    return f"UPDATE {table} SET {sets} WHERE {one(table, where)}"


def reading(parameter: str, sets: str, at_min: int = 30) -> str:
    """Changes the reading at_min after induction, or the first after it."""
    from_then = f"(SELECT induction_at + to_minutes({at_min}) FROM cases WHERE case_id = {{dog}})"
    of_it = f"case_id = {{dog}} AND parameter = '{parameter}' AND value IS NOT NULL"
    return put("vitals", sets, f"{of_it} AND taken_at >= {from_then}")


def alone(parameter: str, value: float) -> list[str]:
    """A pressure with no other pressure of its moment."""
    others = ", ".join(f"'{name}'" for name in ("sap", "map", "dap") if name != parameter)
    moment = ("(SELECT min(taken_at) FROM vitals WHERE case_id = {dog} AND parameter = 'map' AND taken_at >= "
              "(SELECT induction_at + to_minutes(30) FROM cases WHERE case_id = {dog}))")  # fmt: skip
    return [
        f"CREATE OR REPLACE TEMP TABLE moment AS SELECT {moment} AS at_moment",
        f"DELETE FROM vitals WHERE case_id = {{dog}} AND parameter IN ({others}) "
        "AND taken_at = (SELECT at_moment FROM moment)",
        f"UPDATE vitals SET value = {value} WHERE case_id = {{dog}} AND parameter = '{parameter}' "
        "AND taken_at = (SELECT at_moment FROM moment)",
    ]


def case(sets: str, who: str = "{dog}") -> str:
    return f"UPDATE cases SET {sets} WHERE case_id = {who}"


def copy_case(new: str, minutes: int, sets: str) -> list[str]:
    """A second case like {dog}, some minutes later, with what sets changes; readings and drugs with it."""
    later = ", ".join(f"{name} + to_minutes({minutes}) AS {name}" for name in TIMES)
    child = "SELECT * REPLACE ('{new}' AS case_id) FROM {table} WHERE case_id = {{dog}}"
    return [
        f"INSERT INTO cases SELECT * REPLACE ('{new}' AS case_id, {later}) FROM cases WHERE case_id = {{dog}}",
        f"UPDATE cases SET {sets} WHERE case_id = '{new}'",
        *(f"INSERT INTO {table} {child.format(new=new, table=table)}" for table in ("vitals", "drugs", "events")),
        f"UPDATE vitals SET value = 0 WHERE case_id = '{new}' AND parameter = 'vaporizer_setting'",
    ]


def move_case(years: int) -> list[str]:
    """{dog} with all that belongs to it, years away."""
    found = []
    for name in ("cases", "case_people", "vitals", "drugs", "events"):
        times = [column.name for column in schema.TABLES[name].columns if column.kind == "time"]
        sets = ", ".join(f'"{time}" = "{time}" + to_years({years})' for time in times)
        found.append(f"UPDATE {name} SET {sets} WHERE case_id = {{dog}}")
    return found


def twice(table: str, where: str) -> str:
    return f"INSERT INTO {table} SELECT * REPLACE (NULL AS source_row) FROM {table} WHERE {one(table, where)}"


NO_GAS = "agent = 'none', machine_id = NULL, breathing_system = NULL"
T = "induction_at + to_minutes({})"
PRESSURES = {"sap", "map", "dap"}
SMALL = "case_id = {cat} AND drug = 'meloxicam'"
HYPNOTIC = "case_id = {dog} AND drug = 'propofol' AND kind = 'bolus'"
WASTED = "case_id = {dog} AND wasted_ml > 0"
UNWASTED = "case_id = {cat} AND witnessed_by IS NOT NULL AND coalesce(wasted_ml, 0) = 0"
RUNNING = "case_id = {dog} AND kind = 'infusion'"
MOVING = (
    "case_id = {dog} AND parameter = 'heart_rate' "
    "AND taken_at > (SELECT induction_at + to_minutes(18) FROM cases WHERE case_id = {dog})"
)
CALM = "event = 'regurgitation'"
CLEANED = "action = 'cleaned'"
SECOND_WEIGHT = (
    "rowid IN (SELECT weighing FROM (SELECT rowid AS weighing, action, lag(action) OVER "
    "(PARTITION BY machine_id ORDER BY {at}, rowid) AS before FROM equipment WHERE item = 'scavenging_canister') "
    "WHERE action = 'weighed' AND before = 'weighed')"
)
OPENED = "movement = 'opened'"
RECEIVED = "movement = 'received' AND lot IS NOT NULL"
EXTRA_ROW = "INSERT INTO stock (item, {at}, movement, quantity, unit, lot, expires_on, person) "
LAST_COUNT = (
    "UPDATE stock SET quantity = quantity SIGN 5 WHERE movement = 'counted' AND item = (SELECT min(item) FROM stock "
    "WHERE movement = 'supplied') AND {at} = (SELECT max({at}) FROM stock WHERE movement = 'counted' AND item = "
    "(SELECT min(item) FROM stock WHERE movement = 'supplied'))"
)
QUARANTINED = (
    "INSERT INTO quarantine (file_id, row, table_name, month_no) SELECT 1, 900000 + n, '{}', {} FROM range({}) AS r(n)"
)
