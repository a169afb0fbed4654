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
        "asa_class": "ASA-Klasse", "emergency": "Notfall", "procedure": "Eingriff",
        "procedure_group": "Eingriffsgruppe", "fasting_hours": "Nüchternzeit (h)", "anesthetist": "Anästhesist",
        "supervisor": "Aufsicht",
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


# English names of the workbook: (group over the name, name); one group is merged over its columns.
ENGLISH = {
    "cases": [
        ("", "case_id", "Case No"), ("", "site", "Site"), ("Patient", "patient_id", "Patient ID"),
        ("Patient", "species", "Species"), ("Patient", "breed", "Breed"), ("Patient", "sex", "Sex"),
        ("Patient", "age_years", "Age (years)"), ("Patient", "weight_kg", "Weight (kg)"), ("", "asa_class", "ASA"),
        ("", "emergency", "Emergency"), ("", "procedure", "Procedure"), ("", "procedure_group", "Procedure type"),
        ("", "fasting_hours", "Fasting (h)"), ("People", "anesthetist", "Anaesthetist"),
        ("People", "supervisor", "Supervisor"), ("People", "trainee", "Trainee"),
        ("People", "trainee_role", "Trainee role"), ("", "machine_id", "Machine"), ("", "breathing_system", "Circuit"),
        ("", "bag_ml", "Reservoir bag (mL)"), ("", "ventilation", "Ventilation"), ("", "airway", "Airway device"),
        ("", "tube_id_mm", "Tube size (mm)"), ("", "agent", "Inhalant"), ("", "techniques", "Techniques"),
        ("", "warming", "Warming"), ("Times", "premed_at", "Premed"),
        ("Times", "preoxygenation_start_at", "Pre-oxygenation"), ("Times", "induction_at", "Induction"),
        ("Times", "intubation_at", "Intubation"), ("Times", "vaporizer_on_at", "Vaporiser on"),
        ("Times", "procedure_start_at", "Surgery start"), ("Times", "procedure_end_at", "Surgery end"),
        ("Times", "vaporizer_off_at", "Vaporiser off"), ("Times", "ventilator_off_at", "Ventilator off"),
        ("Times", "spontaneous_breathing_at", "Spontaneous breathing"), ("Times", "extubation_at", "Extubation"),
        ("Times", "sternal_at", "Sternal"), ("Times", "standing_at", "Standing"),
        ("Times", "recovery_end_at", "Recovery end"), ("", "outcome", "Outcome"),
        ("", "outcome_at", "Outcome time"), ("", "followed_until", "Followed until"),
    ],
    "vitals": [
        ("", "case_id", "Case No"), ("", "taken_at", "Time"), ("Monitor", "heart_rate", "HR"),
        ("Monitor", "respiratory_rate", "RR (/min)"), ("Monitor", "etco2", "EtCO2"), ("Monitor", "fico2", "FiCO2"),
        ("Monitor", "spo2", "SpO2"), ("Blood pressure", "sap", "Sys"), ("Blood pressure", "map", "Mean"),
        ("Blood pressure", "dap", "Dia"), ("Monitor 2", "temperature", "Temp (°C)"),
        ("Monitor 2", "agent_et", "Et agent"),
        ("Monitor 2", "agent_insp", "Fi agent"), ("Machine", "vaporizer_setting", "Vaporizer setting"),
        ("Machine", "o2_flow", "O2 flow"), ("Machine", "air_flow", "Air flow"), ("Machine", "n2o_flow", "N2O flow"),
        ("Machine", "peak_airway_pressure", "PIP"), ("Machine", "peep", "PEEP"),
        ("Machine", "tidal_volume", "Tidal volume"),
    ],
}  # fmt: skip


def workbook(folder: Path, out: Path) -> None:
    """One XLSX: titles above, names on two lines with merged groups, dates and numbers typed, a hidden sheet."""
    import xlsxwriter

    out.mkdir(parents=True, exist_ok=True)
    with xlsxwriter.Workbook(str(out / "record.xlsx"), {"default_date_format": "yyyy-mm-dd hh:mm:ss"}) as book:
        for table in TABLES:
            rows = wide_vitals(folder) if table == "vitals" else rows_of(folder, table)
            columns = ENGLISH.get(table) or [("", one.name, one.name) for one in schema.TABLES[table].columns]
            columns = [one for one in columns if any(row.get(one[1]) for row in rows)]
            sheet = book.add_worksheet(table)
            top = _write_header(book, sheet, table, columns)
            for number, row in enumerate(rows, top):
                for place, (_, column, _) in enumerate(columns):
                    _write_cell(sheet, number, place, column, row.get(column, ""))
        hidden = book.add_worksheet("old")
        hidden.write(0, 0, "case_id")
        hidden.hide()


def _write_header(book, sheet, table: str, columns: list[tuple[str, str, str]]) -> int:
    """Writes titles and names; returns the first row of the body."""
    if table not in ENGLISH:
        sheet.write_row(0, 0, [name for _, _, name in columns])
        return 1
    sheet.write(0, 0, f"{table.capitalize()} of an invented clinic")
    groups = [group for group, _, _ in columns]
    start = 0
    for place in range(1, len(groups) + 1):
        if place == len(groups) or groups[place] != groups[start]:
            if groups[start] and place - start > 1:
                sheet.merge_range(2, start, 2, place - 1, groups[start])
            elif groups[start]:
                sheet.write(2, start, groups[start])
            start = place
    sheet.write_row(3, 0, [name for _, _, name in columns])
    return 4


def _write_cell(sheet, row: int, place: int, column: str, value: str) -> None:
    if not value:
        return
    if column in TIMES:
        sheet.write_datetime(row, place, dt.datetime.fromisoformat(value))
    elif column in NUMBERS or column in schema.PARAMETERS or column == "asa_class":
        sheet.write_number(row, place, float(value))
    else:
        sheet.write_string(row, place, value)


def parquet(folder: Path, out: Path) -> None:
    """One Parquet file a table, columns typed; vitals long."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    out.mkdir(parents=True, exist_ok=True)
    for table in TABLES:
        rows = long_vitals(folder) if table == "vitals" else rows_of(folder, table)
        columns = {}
        for one in schema.TABLES[table].columns:
            texts = [row.get(one.name) or None for row in rows]
            if one.kind == "time":
                cells = [text and dt.datetime.fromisoformat(text) for text in texts]
                columns[one.name] = pa.array(cells, pa.timestamp("us"))
            elif one.kind == "number":
                columns[one.name] = pa.array([None if text is None else float(text) for text in texts], pa.float64())
            elif one.kind == "integer":
                columns[one.name] = pa.array([None if text is None else int(text) for text in texts], pa.int64())
            elif one.kind == "yes_no":
                columns[one.name] = pa.array([None if text is None else text == "yes" for text in texts], pa.bool_())
            elif one.kind == "day":
                columns[one.name] = pa.array([text and dt.date.fromisoformat(text) for text in texts], pa.date32())
            else:
                columns[one.name] = pa.array(texts, pa.string())
        pq.write_table(pa.table(columns), out / f"{table}.parquet")
