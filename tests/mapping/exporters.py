"""One invented clinic's canonical exports written again as other record systems write them.

Each exporter reads a folder of canonical CSV files and writes the same record elsewhere: German CSV in pounds,
Fahrenheit and kilopascal; a workbook with merged headers; Parquet; HL7 FHIR R4 NDJSON.
"""

import csv
import datetime as dt
from decimal import Decimal
from pathlib import Path

from pipeline import schema

NUMBERS = {column.name for table in schema.TABLES.values() for column in table.columns if column.kind == "number"}
TIMES = {column.name for table in schema.TABLES.values() for column in table.columns if column.kind == "time"}
TABLES = tuple(schema.TABLES)


def rows_of(folder: Path, table: str) -> list[dict[str, str]]:
    """Every row of a table's canonical files; wide vitals as they stand."""
    rows = []
    for path in sorted(folder.glob(f"{table}*.csv")):
        if table == "cases" and path.name.startswith("case_people"):
            continue
        with path.open(encoding="utf-8", newline="") as stream:
            rows += csv.DictReader(stream)
    return rows


def long_vitals(folder: Path) -> list[dict[str, str]]:
    """Every reading as one row, wide files made long."""
    readings = []
    for row in rows_of(folder, "vitals"):
        if "parameter" in row:
            readings.append(row)
            continue
        for name in schema.PARAMETERS:
            if row.get(name):
                readings.append(
                    {"case_id": row["case_id"], "taken_at": row["taken_at"], "parameter": name, "value": row[name]}
                )
    return readings


def wide_vitals(folder: Path) -> list[dict[str, str]]:
    """One row a case and time, a column a parameter."""
    wide: dict[tuple[str, str], dict[str, str]] = {}
    for reading in long_vitals(folder):
        row = wide.setdefault((reading["case_id"], reading["taken_at"]), {})
        row[reading["parameter"]] = reading["value"]
    return [{"case_id": case, "taken_at": at} | row for (case, at), row in wide.items()]


GERMAN = {
    "cases": {
        "case_id": "Fallnummer", "site": "Standort", "patient_id": "Patientennummer", "species": "Tierart",
        "breed": "Rasse", "sex": "Geschlecht", "age_years": "Alter (Jahre)", "weight_kg": "Gewicht / Weight (lb)",
        "asa_class": "ASA-Klasse", "emergency": "Notfall", "procedure": "Eingriff", "procedure_group": "Eingriffsgruppe",
        "fasting_hours": "Nüchternzeit (h)", "anesthetist": "Anästhesist", "supervisor": "Aufsicht",
        "trainee": "Assistent", "trainee_role": "Rolle", "machine_id": "Narkosegerät", "breathing_system": "Atemsystem",
        "bag_ml": "Atembeutel (ml)", "ventilation": "Beatmung", "airway": "Atemweg", "tube_id_mm": "Tubus (mm)",
        "agent": "Narkosegas", "techniques": "Techniken", "warming": "Wärmung", "premed_at": "Prämedikation",
        "preoxygenation_start_at": "Präoxygenierung", "induction_at": "Einleitung", "intubation_at": "Intubation",
        "vaporizer_on_at": "Verdampfer an", "procedure_start_at": "OP-Beginn", "procedure_end_at": "OP-Ende",
        "vaporizer_off_at": "Verdampfer aus", "ventilator_off_at": "Beatmung aus",
        "spontaneous_breathing_at": "Spontanatmung", "extubation_at": "Extubation", "sternal_at": "Brustlage",
        "standing_at": "Stehen", "recovery_end_at": "Aufwachende", "outcome": "Ausgang",
        "outcome_at": "Zeitpunkt Ausgang", "followed_until": "beobachtet bis",
    },
    "vitals": {
        "case_id": "Fallnummer", "heart_rate": "HF", "respiratory_rate": "AF", "etco2": "etCO2", "fico2": "FiCO2",
        "spo2": "SpO2", "sap": "SAP", "map": "MAP", "dap": "DAP", "temperature": "Temperatur", "agent_et": "et Gas",
        "agent_insp": "Gas insp.", "vaporizer_setting": "Verdampfer", "o2_flow": "O2-Fluss", "air_flow": "Luftfluss",
        "n2o_flow": "N2O-Fluss", "peak_airway_pressure": "Ppeak", "peep": "PEEP", "tidal_volume": "Tidalvolumen",
    },
    "drugs": {
        "case_id": "Fallnummer", "drug": "Wirkstoff", "kind": "Gabeart", "phase": "Phase", "route": "Applikationsweg",
        "given_at": "Gabezeit", "stopped_at": "beendet um", "amount": "Dosis", "amount_unit": "Einheit",
        "concentration_mg_ml": "Konzentration (mg/ml)", "drawn_ml": "aufgezogen (ml)", "wasted_ml": "verworfen (ml)",
        "lot": "Charge", "given_by": "gegeben von", "witnessed_by": "Zeuge",
    },
    "events": {
        "case_id": "Fallnummer", "event": "Komplikation", "occurred_at": "aufgetreten um", "resolved_at": "behoben um",
        "severity": "Schweregrad", "phase": "Phase", "action": "Maßnahme",
    },
    "case_people": {
        "case_id": "Fallnummer", "person": "Kürzel", "role": "Funktion", "from_at": "von", "to_at": "bis",
    },
    "equipment": {
        "machine_id": "Narkosegerät", "at": "Zeitpunkt", "item": "Bauteil", "action": "Tätigkeit", "value": "Messwert",
        "unit": "Einheit", "person": "geprüft von", "case_id": "Fallnummer",
    },
    "stock": {
        "item": "Lagerartikel", "at": "Zeitpunkt", "movement": "Bewegung", "quantity": "Menge", "unit": "Einheit",
        "lot": "Charge", "expires_on": "Verfallsdatum", "person": "Kürzel",
    },
}  # fmt: skip
GERMAN_WORDS = {
    "species": {"dog": "Hund", "cat": "Ktz.", "rabbit": "Kaninchen"},
    "sex": {"male": "männlich", "female": "weiblich", "male_neutered": "m/k", "female_neutered": "w/k"},
    "emergency": {"yes": "ja", "no": "nein"},
    "outcome": {"alive": "lebt", "died": "gestorben", "euthanised": "eingeschläfert"},
    "agent": {"isoflurane": "Isofluran", "sevoflurane": "Sevofluran"},
    "route": {"iv": "i.v.", "im": "i.m.", "sc": "s.c."},
    "drug": {"ketamine": "Ketamin", "dexmedetomidine": "Dexmedetomidin", "methadone": "Methadon HCl"},
    "amount_unit": {"mcg/kg": "µg/kg", "mcg/kg/min": "µg/kg/min", "mcg/kg/h": "µg/kg/h"},
    "severity": {"minor": "leicht", "moderate": "mäßig", "severe": "schwer"},
    "event": {"hypotension": "Hypotonie", "hypothermia": "Hypothermie", "bradycardia": "Bradykardie"},
}  # fmt: skip
# The line of units under the header of the German vitals.
GERMAN_UNITS = {
    "heart_rate": "/min", "respiratory_rate": "/min", "etco2": "kPa", "fico2": "kPa", "spo2": "%", "sap": "mmHg",
    "map": "mmHg", "dap": "mmHg", "temperature": "°F", "agent_et": "%", "agent_insp": "%", "vaporizer_setting": "%",
    "o2_flow": "ml/min", "air_flow": "ml/min", "n2o_flow": "ml/min", "peak_airway_pressure": "mbar", "peep": "mbar",
    "tidal_volume": "ml",
}  # fmt: skip


def german_number(value: str, unit: str) -> str:
    """A canonical number in the German clinic's unit, enough decimals to come back, with a decimal comma."""
    number = Decimal(value)
    number = {
        "lb": lambda kg: (kg / Decimal("0.45359237")).quantize(Decimal("0.0001")),
        "°F": lambda celsius: (celsius * Decimal("1.8") + 32).quantize(Decimal("0.001")),
        "kPa": lambda mmhg: (mmhg / Decimal("7.50062")).quantize(Decimal("0.0001")),
        "ml/min": lambda litres: litres * 1000,
        "mbar": lambda cmh2o: (cmh2o / Decimal("1.019716")).quantize(Decimal("0.0000001")),
    }.get(unit, lambda same: same)(number)
    return format(number.normalize(), "f").replace(".", ",")


def german_time(value: str) -> str:
    return dt.datetime.fromisoformat(value).strftime("%d.%m.%Y %H:%M:%S").removesuffix(":00")


def german_cell(table: str, column: str, value: str) -> str:
    if not value:
        return "k.A." if column in ("asa_class", "weight_kg") else ""
    if column in GERMAN_WORDS:
        return GERMAN_WORDS[column].get(value, value)
    if column in TIMES:
        return german_time(value)
    if column == "expires_on":
        return dt.date.fromisoformat(value).strftime("%d.%m.%Y")
    if column in NUMBERS or column in schema.PARAMETERS:
        unit = "lb" if column == "weight_kg" else GERMAN_UNITS.get(column, "") if table == "vitals" else ""
        return german_number(value, unit)
    return value


def german_csv(folder: Path, out: Path) -> None:
    """Windows-1252 CSV with semicolons, a title, decimal commas, days first; vitals wide, with day and clock apart."""
    out.mkdir(parents=True, exist_ok=True)
    for table, names in GERMAN.items():
        rows = wide_vitals(folder) if table == "vitals" else rows_of(folder, table)
        columns = [column for column in names if any(row.get(column) for row in rows)]
        header = [names[column] for column in columns]
        if table == "vitals":
            header[1:1] = ["Datum", "Uhrzeit"]
        with (out / f"{table}_export.csv").open("w", encoding="cp1252", newline="") as stream:
            writer = csv.writer(stream, delimiter=";", lineterminator="\r\n")
            writer.writerow([f"Auszug {table} 2026"])
            writer.writerow(header)
            if table == "vitals":
                writer.writerow(["", "", "", *(GERMAN_UNITS[column] for column in columns[1:])])
            for row in rows:
                cells = [german_cell(table, column, row.get(column, "")) for column in columns]
                if table == "vitals":
                    at = dt.datetime.fromisoformat(row["taken_at"])
                    cells[1:1] = [at.strftime("%d.%m.%Y"), at.strftime("%H:%M:%S")]
                writer.writerow(cells)
            if table == "vitals":
                writer.writerow(["", "Seite 1 von 1"] + [""] * (len(header) - 2))
