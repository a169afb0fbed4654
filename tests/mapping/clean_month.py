"""One clean month of 30 invented cases, made by code: every fault fixture is this month with one thing spoiled."""

import csv
import io
from datetime import datetime, timedelta
from pathlib import Path

from pipeline import intake, schema
from pipeline.database import connect
from pipeline.settings import Settings

BREEDS = {"dog": "beagle", "cat": "siamese"}
READINGS = {"heart_rate": 96, "spo2": 98, "etco2": 38, "sap": 112, "map": 82, "dap": 66, "temperature": 37.4}
TABLES = ("cases", "vitals", "drugs", "events")


class Month:
    """Tables as lists of rows, each a dict of texts by header; files are written as asked. spoil one and load."""

    def __init__(self):
        self.cases, self.vitals, self.drugs, self.events = [], [], [], []
        self.mapping = ""
        for number in range(1, 31):
            self._add(number)

    def _add(self, number: int) -> None:
        case, species = f"C{number:02d}", "dog" if number % 2 else "cat"
        start = datetime(2026, 3, 1 + (number - 1) % 25, 8 + 3 * ((number - 1) // 25), 5)
        self.cases.append(
            {
                "case_id": case, "patient_id": f"P{number:02d}", "species": species, "breed": BREEDS[species],
                "sex": "female_neutered", "age_years": "6.5", "weight_kg": "12.4" if species == "dog" else "4.2",
                "asa_class": "2", "emergency": "no", "procedure": "dental cleaning", "procedure_group": "dental",
                "anesthetist": "N01", "machine_id": "M1", "agent": "isoflurane", "induction_at": stamp(start),
                "intubation_at": stamp(start + timedelta(minutes=4)),
                "vaporizer_off_at": stamp(start + timedelta(minutes=55)),
                "extubation_at": stamp(start + timedelta(minutes=62)), "outcome": "alive",
            }
        )  # fmt: skip
        for step in range(1, 11):
            at = stamp(start + timedelta(minutes=5 * step))
            for parameter, usual in READINGS.items():
                value = f"{usual + (step % 3) * (0.1 if parameter == 'temperature' else 1):g}"
                self.vitals.append({"case_id": case, "taken_at": at, "parameter": parameter, "value": value})
        for drug, route, amount, unit in (("methadone", "im", "0.2", "mg/kg"), ("propofol", "iv", "4", "mg/kg")):
            given = {"case_id": case, "drug": drug, "route": route, "given_at": stamp(start)}
            self.drugs.append({**given, "amount": amount, "amount_unit": unit})
        if number % 5 == 0:
            event = {"case_id": case, "event": "hypotension", "occurred_at": stamp(start), "severity": "minor"}
            self.events.append(event)

    def case(self, case_id: str) -> dict[str, str]:
        return next(row for row in self.cases if row["case_id"] == case_id)

    def reading(self, case_id: str, parameter: str, step: int = 1) -> dict[str, str]:
        """A case's reading of a parameter, counted from 1."""
        return [row for row in self.vitals if row["case_id"] == case_id and row["parameter"] == parameter][step - 1]

    def dose(self, case_id: str, drug: str) -> dict[str, str]:
        return next(row for row in self.drugs if row["case_id"] == case_id and row["drug"] == drug)

    def files(self) -> dict[str, bytes]:
        """The month as canonical CSV, one file a table."""
        return {
            f"{table}.csv": text_of(getattr(self, table)).encode() for table in ("cases", "vitals", "drugs", "events")
        }


def stamp(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M:%S")


def text_of(rows: list[dict[str, str]], separator: str = ",", header: list[str] | None = None) -> str:
    """Rows as CSV with the columns of the first row, or those named."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, header or list(rows[0]), delimiter=separator, lineterminator="\n", restval="",
                            extrasaction="ignore")  # fmt: skip
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


class Loaded:
    """A clinic folder loaded into a database in memory, and what to ask of it."""

    def __init__(self, folder: Path, files: dict[str, bytes | str], mapping: str = "", **settings):
        self.folder = folder
        self.exports = folder / "exports"
        self.exports.mkdir(parents=True, exist_ok=True)
        self.settings = Settings(zone="Europe/Berlin", **settings)
        if mapping:
            (folder / "mapping.toml").write_text(mapping, encoding="utf-8")
        self._opened = connect(":memory:")
        self.db = self._opened.__enter__()
        self.receipt = self.load(files)

    def load(self, files: dict[str, bytes | str]):
        """Loads these files after what is loaded; checks that every line is accounted for."""
        paths = []
        for name, content in files.items():
            path = self.exports / name
            path.write_bytes(content if isinstance(content, bytes) else content.encode())
            paths.append(path)
        self.receipt = intake.load(self.db, self.settings, self.folder, paths)
        for account in self.receipt.files:
            assert account.lines == account.read + account.set_aside
            assert account.read == account.new + account.unchanged + account.replaced + account.quarantined
        return self.receipt

    def close(self) -> None:
        self._opened.__exit__(None, None, None)

    def account(self, name: str):
        return next(account for account in self.receipt.files if account.name == name)

    def ask(self, sql: str, *values) -> list[tuple]:
        return self.db.execute(sql, list(values)).fetchall()

    def cell(self, column: str, case_id: str, table: str = "cases"):
        """A column of the one row of a case."""
        ((value,),) = self.ask(f'SELECT "{column}" FROM {table} WHERE case_id = ?', case_id)
        return value

    def value(self, case_id: str, parameter: str, step: int = 1):
        """A case's reading of a parameter, counted from 1 in order of time."""
        rows = self.ask(
            "SELECT value FROM vitals WHERE case_id = ? AND parameter = ? ORDER BY taken_at_s", case_id, parameter
        )
        return rows[step - 1][0]

    def notes(self, *kinds: str) -> dict[str, int]:
        """Rule -> how often, of all notes, or of those of some classes."""
        found: dict[str, int] = {}
        for account in self.receipt.files:
            for note in account.notes:
                if not kinds or note.kind in kinds:
                    found[note.rule] = found.get(note.rule, 0) + note.count
        return found

    def quarantined(self) -> list[tuple]:
        """(case, column, value, proposal) of the quarantine."""
        return self.ask("SELECT case_id, column_name, value, proposal FROM quarantine ORDER BY ALL")

    def flagged(self) -> list[tuple]:
        """(column, value, proposal) of cells taken as unknown or flagged."""
        return self.ask("SELECT column_name, value, proposal FROM flagged_cells ORDER BY ALL")

    def rows_of_others(self, *cases: str) -> dict[str, list[tuple]]:
        """Every stored row of the other cases, provenance left aside."""
        rows = {}
        for table in TABLES:
            names = [name for name, _ in schema.stored_columns(schema.TABLES[table]) if not name.startswith("source_")]
            listed = ", ".join(f'"{name}"' for name in names if name != "patient_id")
            rows[table] = self.ask(
                f"SELECT {listed} FROM {table} WHERE NOT list_contains(?, case_id) ORDER BY ALL", list(cases)
            )
        return rows
