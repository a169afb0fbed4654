"""The one statement of the record: tables, columns, kinds, units, codes and keys.

DDL, blank templates, the data dictionary and the column checks are all made from here.
A time is stored twice: as charted (local wall time of the clinic, TIMESTAMP) and, in a second
column with the suffix _s, as whole seconds of UTC since 1970, floored (BIGINT). Order and
durations use the second, months and days the first.
"""

from dataclasses import dataclass
from typing import NamedTuple

SPECIES = ("dog", "cat", "rabbit", "ferret", "guinea_pig", "bird", "reptile", "horse", "other")
AGENTS = ("isoflurane", "sevoflurane", "desflurane", "none")
PHASES = ("premedication", "induction", "maintenance", "recovery", "rescue")
EVENTS = (
    "hypotension", "hypertension", "hypoventilation", "hyperventilation", "apnea", "hypoxemia",
    "hypothermia", "hyperthermia", "bradycardia", "tachycardia", "arrhythmia", "regurgitation",
    "aspiration", "airway_obstruction", "difficult_intubation", "reintubation", "light_plane",
    "ventilator_asynchrony", "equipment_fault", "drug_error", "hemorrhage", "dysphoria",
    "prolonged_recovery", "cardiac_arrest", "death", "other",
)  # fmt: skip
AMOUNT_UNITS = (
    "mg", "mcg", "mL", "mg/kg", "mcg/kg", "mg/kg/h", "mcg/kg/min", "mcg/kg/h", "mL/h", "mg/h",
)  # fmt: skip

# Parameters of vitals and the unit their values are stored in.
PARAMETERS = {
    "heart_rate": "/min",
    "respiratory_rate": "/min",
    "etco2": "mmHg",
    "fico2": "mmHg",
    "spo2": "%",
    "sap": "mmHg",
    "map": "mmHg",
    "dap": "mmHg",
    "temperature": "°C",
    "agent_et": "%",
    "agent_insp": "%",
    "vaporizer_setting": "%",
    "o2_flow": "L/min",
    "air_flow": "L/min",
    "n2o_flow": "L/min",
    "peak_airway_pressure": "cmH2O",
    "peep": "cmH2O",
    "tidal_volume": "mL",
}

# Decimals kept when a value arrives in another unit and is converted; values in our unit are kept as given.
CONVERTED_DECIMALS = {"mmHg": 1, "°C": 2, "kg": 3}


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a canonical table.

    kind: text, code (one of codes), integer, number, yes_no, time (local wall time), day, or
    codes (several words joined by ';'). personal: '' (may be shown in messages), 'patient'
    (hashed at intake), 'person' (a staff code). required: a row without it is quarantined.
    """

    name: str
    kind: str
    meaning: str
    unit: str = ""
    codes: tuple[str, ...] = ()
    required: bool = False
    personal: str = ""


class Table(NamedTuple):
    """A canonical table: name, grain in words, columns, and the columns of its key (none: equal
    rows in one file are separate records)."""

    name: str
    grain: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()

    def column(self, name: str) -> Column:
        return next(column for column in self.columns if column.name == name)

    @property
    def required(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns if column.required)


def text(name, meaning, **more):
    return Column(name, "text", meaning, **more)


def code(name, meaning, codes, **more):
    return Column(name, "code", meaning, codes=tuple(codes), **more)


def number(name, meaning, unit="", **more):
    return Column(name, "number", meaning, unit=unit, **more)


def time(name, meaning, **more):
    return Column(name, "time", meaning, **more)


CASE = text("case_id", "the clinic's own number of the anesthetic", required=True)

CASES = Table(
    "cases",
    "one row an anesthetic",
    (
        CASE,
        text("site", "site, for groups of clinics"),
        text("patient_id", "the animal; a keyed hash unless the settings say otherwise", personal="patient"),
        code("species", "species", SPECIES),
        text("breed", "breed"),
        code("sex", "sex", ("male", "female", "male_neutered", "female_neutered")),
        number("age_years", "age at the anesthetic", "years"),
        number("weight_kg", "body weight on the day", "kg"),
        Column("asa_class", "integer", "ASA physical status, 1 to 5", codes=("1", "2", "3", "4", "5")),
        Column("emergency", "yes_no", "the E modifier of the ASA class"),
        text("procedure", "procedure, as charted"),
        text("procedure_group", "dental, soft_tissue, orthopedic, imaging, ophthalmic, neurologic, obstetric, other"),
        number("fasting_hours", "hours without food before induction", "h"),
        text("anesthetist", "person code", personal="person"),
        text("supervisor", "person code", personal="person"),
        text("trainee", "person code", personal="person"),
        code("trainee_role", "the trainee's part", ("primary", "assisting", "observing")),
        text("machine_id", "anesthesia machine, joins to equipment"),
        code("breathing_system", "breathing system", ("rebreathing", "non_rebreathing")),
        number("bag_ml", "reservoir bag", "mL"),
        code("ventilation", "ventilation mode", ("spontaneous", "assisted", "mechanical")),
        code("airway", "airway device", ("tracheal_tube", "supraglottic", "mask")),
        number("tube_id_mm", "inner diameter of the tube", "mm"),
        code("agent", "inhalant", AGENTS),
        Column("techniques", "codes", "techniques used, joined by ';'"),
        Column("warming", "codes", "warming used, joined by ';'"),
        time("premed_at", "premedication given"),
        time("preoxygenation_start_at", "pre-oxygenation began"),
        time("induction_at", "induction"),
        time("intubation_at", "airway secured"),
        time("vaporizer_on_at", "vaporizer turned on"),
        time("procedure_start_at", "procedure began"),
        time("procedure_end_at", "procedure ended"),
        time("vaporizer_off_at", "vaporizer turned off"),
        time("ventilator_off_at", "ventilator turned off"),
        time("spontaneous_breathing_at", "breathing on its own again"),
        time("extubation_at", "airway removed"),
        time("sternal_at", "lying on the sternum"),
        time("standing_at", "standing"),
        time("recovery_end_at", "handed back to the ward"),
        code("outcome", "outcome", ("alive", "died", "euthanised")),
        time("outcome_at", "when the outcome happened"),
        time("followed_until", "last time the outcome is known"),
    ),
    key=("case_id",),
)

CASE_PEOPLE = Table(
    "case_people",
    "one row a person's part in a case",
    (
        CASE,
        text("person", "person code", required=True, personal="person"),
        code("role", "the part", ("primary", "assisting", "observing", "supervising"), required=True),
        time("from_at", "from when"),
        time("to_at", "until when"),
    ),
    key=("case_id", "person", "role", "from_at"),
)

VITALS = Table(
    "vitals",
    "one row a reading",
    (
        CASE,
        time("taken_at", "when the reading was taken", required=True),
        code("parameter", "what was read", tuple(PARAMETERS), required=True),
        number("value", "the reading, in the parameter's unit"),
    ),
    key=("case_id", "taken_at", "parameter"),
)

DRUGS = Table(
    "drugs",
    "one row a dose or an infusion segment",
    (
        CASE,
        text("drug", "international nonproprietary name, lower case", required=True),
        code("kind", "how it was given", ("bolus", "infusion")),
        code("phase", "phase of the anesthetic", PHASES),
        text("route", "route of administration"),
        time("given_at", "given, or the segment's start"),
        time("stopped_at", "the segment's end"),
        number("amount", "amount or rate, in amount_unit"),
        code("amount_unit", "unit of amount", AMOUNT_UNITS),
        number("concentration_mg_ml", "concentration", "mg/mL"),
        number("drawn_ml", "drawn up", "mL"),
        number("wasted_ml", "discarded", "mL"),
        text("lot", "lot"),
        text("given_by", "person code", personal="person"),
        text("witnessed_by", "person code", personal="person"),
    ),
)

EVENT_ROWS = Table(
    "events",
    "one row a complication",
    (
        CASE,
        code("event", "what happened", EVENTS, required=True),
        time("occurred_at", "when"),
        time("resolved_at", "until when"),
        code("severity", "severity", ("minor", "moderate", "severe")),
        code("phase", "phase of the anesthetic", PHASES),
        text("action", "what was done"),
    ),
)

EQUIPMENT = Table(
    "equipment",
    "one row an action on a machine",
    (
        text("machine_id", "anesthesia machine", required=True),
        time("at", "when", required=True),
        code(
            "item",
            "part of the machine",
            ("absorbent", "scavenging_canister", "vaporizer", "breathing_system", "oxygen_cylinder"),
            required=True,
        ),
        code(
            "action",
            "what was done",
            ("changed", "marked", "weighed", "filled", "leak_tested", "cleaned"),
            required=True,
        ),
        number("value", "reading, in unit: leak flow mL/min, canister weight g, charge g, fill mL, cylinder psi"),
        text("unit", "unit of value"),
        text("person", "person code", personal="person"),
        text("case_id", "case, where the action belongs to one"),
    ),
)

STOCK = Table(
    "stock",
    "one row a movement",
    (
        text("item", "stock item as named in the settings", required=True),
        time("at", "when", required=True),
        code(
            "movement",
            "what moved",
            ("received", "counted", "opened", "discarded", "expired", "returned", "supplied"),
            required=True,
        ),
        number("quantity", "how much, in unit; a count states the quantity on hand"),
        text("unit", "unit of quantity"),
        text("lot", "lot"),
        Column("expires_on", "day", "expiry date"),
        text("person", "person code", personal="person"),
    ),
)

# In the order they load: a row that names a case needs the case first.
TABLES: dict[str, Table] = {
    table.name: table for table in (CASES, CASE_PEOPLE, VITALS, DRUGS, EVENT_ROWS, EQUIPMENT, STOCK)
}

# Tables whose case_id must name a loaded case.
CHILD_TABLES = ("case_people", "vitals", "drugs", "events")

SQL_TYPES = {
    "text": "VARCHAR",
    "code": "VARCHAR",
    "codes": "VARCHAR",
    "integer": "BIGINT",
    "number": "DOUBLE",
    "yes_no": "BOOLEAN",
    "time": "TIMESTAMP",
    "day": "DATE",
}

# Every canonical row says where it stood: the file (files.file_id) and the line or sheet row in it.
PROVENANCE = (("source_file", "BIGINT"), ("source_row", "BIGINT"))


def stored_columns(table: Table) -> list[tuple[str, str]]:
    """(name, SQL type) of every stored column: as charted, the _s clock of each time, provenance."""
    stored = []
    for column in table.columns:
        stored.append((column.name, SQL_TYPES[column.kind]))
        if column.kind == "time":
            stored.append((f"{column.name}_s", "BIGINT"))
    return stored + list(PROVENANCE)


def create_table(table: Table, name: str | None = None) -> str:
    """DDL of a canonical table, without keys: DuckDB keeps them 9 to 23 times slower than intake does."""
    columns = ",\n  ".join(f'"{column}" {kind}' for column, kind in stored_columns(table))
    return f"CREATE TABLE IF NOT EXISTS {name or table.name} (\n  {columns}\n)"
