"""Whatever a file holds: rows in are rows accounted for, twice loaded is once, and nothing half."""

import os
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest
from clinic_folder import CASES, Clinic
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline import database

CELLS = {
    "case_id": ["A1", "A2", " A1 ", "Z9", "", "1.2E+08", "Α1", "total"],
    "taken_at": ["2025-03-06 08:20", "2025-03-06T08:25:00Z", "2025-10-26 02:30", "2025-03-30 02:30", "6.3.2025 8:20",
                 "soon", "", "2025-03-06", "2052-01-01 08:00", "45000.5"],
    "parameter": ["heart_rate", "SPO2", "temperature", "etco2", "pulse?", ""],
    "value": ["100", "98,5", "98.5", "fast", "", "-1", "1,234", "97%", "~5", "36-37", "#N/A", "=1+1"],
    "heart_rate": ["100", "", "fast", "999", "12O"],
    "spo2": ["98", "0", "", "98,5", "high"],
    "drug": ["propofol", "", "fentanyl"],
    "amount": ["4", "4,5", "4.5", "some", ""],
    "amount_unit": ["mg", "µg/kg", "spoons", ""],
    "given_at": ["2025-03-06 08:20", "", "soon"],
    "species": ["dog", "cat", "Hund", "unicorn", ""],
    "weight_kg": ["12", "4,2", "4.2", "4200", "heavy", "", "1,234"],
    "asa_class": ["2", "IIIE", "2-3", "", "x"],
    "emergency": ["yes", "no", "perhaps", ""],
    "induction_at": ["2025-03-06 08:15", "2025-10-26 02:30", "", "06/03/2025 08:15", "later"],
    "extubation_at": ["2025-03-06 09:15", "2025-10-26 02:10", "", "2025-03-06"],
}  # fmt: skip
FILES = (
    ("case_id", "species", "weight_kg", "asa_class", "emergency", "induction_at", "extubation_at"),
    ("case_id", "taken_at", "parameter", "value"),
    ("case_id", "taken_at", "heart_rate", "spo2"),
    ("case_id", "drug", "amount", "amount_unit", "given_at"),
)
BROKEN_LINES = [
    "",
    ";;",
    "   ",
    'A1;"open',
    "A1",
    "A1;x;y;z;more;and;more;still",
    "\ufffd",
    "Total;;;12",
    "case_id;species",
]


@st.composite
def exports(draw):
    """A few files of cases, vitals and drugs with every fault of CELLS and lines that are no rows."""
    found = []
    for number in range(draw(st.integers(1, 4))):
        columns = draw(st.sampled_from(FILES))
        row = st.tuples(*(st.sampled_from(CELLS[column]) for column in columns)).map(";".join)
        lines = draw(st.lists(st.one_of(row, row, row, st.sampled_from(BROKEN_LINES)), max_size=10))
        ends = draw(st.sampled_from(["\n", "\r\n"]))
        data = ends.join([";".join(columns), *lines]).encode("utf-8")
        if draw(st.booleans()):
            data = data.replace(b"soon", b"s\xe9on")
        found.append((f"file_{number}.csv", data + draw(st.sampled_from([b"", b"\n", b"\n\n"]))))
    return found


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("broken")


@settings(max_examples=int(os.environ.get("ROUNDS_BROKEN_FILES", "60")), deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])  # fmt: skip
@given(files=exports())
def test_rows_in_are_rows_accounted_for(folder, files):
    for path in folder.rglob("*.csv"):
        path.unlink()
    with database.connect() as db:
        clinic = Clinic(folder, db)
        clinic.put("0_cases.csv", CASES)
        for name, data in files:
            clinic.put(name, data)
        receipt = clinic.load()
        by_name = dict(files)
        for account in receipt.files:
            data = by_name.get(account.name, CASES.encode())
            lines = len(data.decode("utf-8", "replace").splitlines()) - 1
            if not account.known:
                assert account.lines == lines, (account, data)
        assert len(receipt.files) + len(receipt.refused) == len(files) + 1
        stored = {
            name: clinic.ask(f"SELECT * FROM {name} ORDER BY ALL")
            for name in ("cases", "vitals", "drugs", "quarantine")
        }
        keyed = clinic.ask("SELECT count(*) - count(DISTINCT case_id) FROM cases")
        readings = clinic.ask(
            "SELECT count(*) - count(DISTINCT (case_id, taken_at, taken_at_s, parameter)) FROM vitals"
        )
        orphans = clinic.ask("SELECT count(*) FROM vitals WHERE case_id NOT IN (SELECT case_id FROM cases)")
        assert (keyed, readings, orphans) == ([(0,)], [(0,)], [(0,)])
        again = clinic.load()
        assert all(
            account.known and account.unchanged == account.read
            for account in again.files
            if "to_fix" not in account.name
        )
        assert stored == {name: clinic.ask(f"SELECT * FROM {name} ORDER BY ALL") for name in stored}


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(files=exports(), data=st.data())
def test_one_load_or_one_a_file_come_to_the_same(folder, files, data):
    """Rows loaded, whatever the turns; provenance and accounts may differ, as later files bring earlier rows' cases."""
    answers = []
    for one_by_one in (False, True):
        for path in folder.rglob("*.csv"):
            path.unlink()
        with database.connect() as db:
            clinic = Clinic(folder, db)
            paths = [clinic.put("0_cases.csv", CASES), *(clinic.put(name, content) for name, content in files)]
            if one_by_one:
                order = {path: n for n, path in enumerate(paths)}
                children_first = sorted(paths, key=lambda path: (b"species" in path.read_bytes()[:40], order[path]))
                for path in children_first:
                    clinic.load(path)
            else:
                clinic.load()
            answers.append(clinic.ask("SELECT * EXCLUDE (source_file, source_row) FROM vitals ORDER BY ALL"))
    assert answers[0] == answers[1]


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL on Windows")
@pytest.mark.parametrize("after", [0.0, 0.15, 0.4, 0.9])
def test_a_killed_load_leaves_nothing_of_the_file(tmp_path, after):
    rows = "".join(
        f"A1,2025-03-06 {n // 3600 % 24:02}:{n // 60 % 60:02}:{n % 60:02},heart_rate,{60 + n % 90}\n"
        for n in range(80_000)
    )
    with database.connect(tmp_path / database.FILE) as db:
        clinic = Clinic(tmp_path, db)
        clinic.load(clinic.put("cases.csv", CASES))
        clinic.put("vitals.csv", "case_id,taken_at,parameter,value\n" + rows)
    program = textwrap.dedent(
        """
        import sys
        from pathlib import Path
        from pipeline import database, intake, settings
        folder = Path(sys.argv[1])
        with database.connect(folder / database.FILE) as db:
            print("ready", flush=True)
            intake.load(db, settings.Settings(zone="Europe/Berlin"), folder)
        """
    )
    with subprocess.Popen([sys.executable, "-c", program, str(tmp_path)], stdout=subprocess.PIPE) as child:
        child.stdout.readline()
        time.sleep(after)
        child.send_signal(signal.SIGKILL)
        child.wait()
    with database.connect(tmp_path / database.FILE) as db:
        clinic = Clinic(tmp_path, db)
        clinic.check_accounts()
        loaded = clinic.ask("SELECT count(*) FROM files WHERE name = 'vitals.csv'")[0][0]
        readings = clinic.ask("SELECT count(*) FROM vitals")[0][0]
        assert (loaded == 0 and readings == 0) or (loaded == 1 and readings > 0)
        clinic.load()
        assert clinic.ask("SELECT count(*) FROM files WHERE name = 'vitals.csv'") == [(1,)]


def test_a_file_taken_away_while_it_is_loaded_is_refused(clinic, monkeypatch):
    path = clinic.put("cases.csv", CASES)
    real = Path.open

    def gone(self, *args, **kwargs):
        if self.name == "cases.csv":
            raise PermissionError(13, "The process cannot access the file because it is being used by another process")
        return real(self, *args, **kwargs)

    monkeypatch.setattr(Path, "open", gone)
    receipt = clinic.load(path)
    assert [fault.fix for fault in receipt.refused] == [
        "close it in the other program, or wait for the synced folder, and load again"
    ]
