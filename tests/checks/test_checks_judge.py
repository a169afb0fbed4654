"""Great Expectations' judgment at its edges, its silence, and what happens when a rule cannot be run."""

import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

import pipeline
from pipeline import checks
from pipeline.checks import across, catalogue, conditions, inputs, judge, scan, store
from pipeline.checks.scan import Count

RULE = next(rule for rule in catalogue.rules() if rule.tolerated == 0.05)


@pytest.mark.parametrize(
    "judged, failed, passed",
    [(100, 0, True), (100, 5, True), (100, 6, False), (20, 1, True), (19, 1, False), (1, 1, False)],
)
def test_the_tolerated_share_itself_is_let_pass(judged, failed, passed):
    assert judge.judge([RULE], {RULE.id: Count(judged, judged, failed)}) == {RULE.id: passed}


def test_nothing_judged_is_neither_passed_nor_failed():
    assert judge.judge([RULE], {RULE.id: Count(7, 0, 0)}) == {}
    assert checks.outcome(RULE, Count(7, 0, 0), None, "sql").outcome == "not_applicable"


def test_severity_and_meta_reach_great_expectations():
    rule = next(rule for rule in catalogue.rules() if rule.severity == "stop")
    expectation = judge.rule_within_tolerance()(
        rule_id=rule.id, tolerated=0.0, severity=judge.SEVERITY[rule.severity], meta={"rule": rule.id}
    )
    assert expectation.severity == "critical"
    gx, context = judge.quiet_context()
    suite = gx.ExpectationSuite(name="one", expectations=[expectation])
    assert suite.to_json_dict()["expectations"][0]["meta"] == {"rule": rule.id}


def test_two_counts_that_disagree_are_no_verdict():
    counted = Count(10, 10, 3)
    checks.compare(counted, 4)
    outcome = checks.outcome(RULE, counted, False, "sql")
    assert outcome.outcome == "could_not_run"
    assert "SQL counts 3 failing rows, Great Expectations 4" in outcome.reason


def test_a_broken_rule_says_so_and_leaves_the_others_alone(db, clinic_settings):
    db.execute("INSERT INTO cases (case_id, species) VALUES ('A1', 'dragon')")
    inputs.prepare(db, clinic_settings)
    store.begin(db, list(catalogue.rules()))
    good = next(rule for rule in catalogue.rules() if rule.id == "cases_species_code")
    broken = replace(good, id="broken", rule="no_such_column > 1")
    values = replace(good, id="values", rule="CAST(case_id AS INTEGER) > 1")
    counts = scan.count(db, {"cases": scan.conditions([good, broken, values], conditions.load_bounds(db))})
    assert counts["cases_species_code"] == Count(1, 1, 1)
    assert "no_such_column" in counts["broken"].reason
    assert counts["values"].reason == "ConversionException"  # its message would hold a cell's value
    db.execute("DROP TABLE vital_groups")
    key = next(rule for rule in catalogue.rules() if rule.id == "vitals_key")
    assert "vital_groups" in across.count(db, [key])[key.id].reason


def test_a_stop_rule_that_cannot_be_run_stops_too():
    stop = next(rule for rule in catalogue.rules() if rule.severity == "stop")
    one = checks.outcome(stop, Count(reason="no such table"), None, "sql")
    assert checks.Verdicts(1, (one,)).worst_stop is one
    assert checks.Verdicts(1, (one,)).sentences()[0] == (
        f"STOP {stop.table}: rule {stop.id} could not be run: no such table. To do: {stop.fix}."
    )


BLOCKED = """
import socket, sys
def refuse(*_, **__):
    raise RuntimeError("the network was asked for")
for name in ("connect", "connect_ex", "sendto", "sendmsg"):
    setattr(socket.socket, name, refuse)
socket.getaddrinfo = socket.gethostbyname = socket.create_connection = refuse
sys.path.insert(0, {tests!r})
from clinic_rows import SETTINGS, sound_clinic
from pipeline import checks, settings
from pipeline.database import connect
assert not {{"great_expectations", "pandas", "duckdb"}} - {{"duckdb"}} & set(sys.modules)
with connect() as db:
    sound_clinic(db)
    verdicts = checks.run(db, settings.from_dict(SETTINGS))
assert verdicts.count("passed") == len(verdicts.outcomes)
assert "great_expectations" in sys.modules
"""


def test_a_run_needs_no_network_and_says_nothing(tmp_path):
    done = subprocess.run(
        [sys.executable, "-W", "error::ResourceWarning", "-c", BLOCKED.format(tests=str(Path(__file__).parent))],
        capture_output=True, text=True, cwd=tmp_path, env={"TMPDIR": str(tmp_path), "PATH": ""},
    )  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert list(tmp_path.iterdir()) == []


def test_great_expectations_is_imported_here_only():
    root = Path(pipeline.__file__).parent
    importing = re.compile(r"^\s*(import|from) great_expectations", re.MULTILINE)
    paths = [path for path in root.rglob("*.py") if importing.search(path.read_text(encoding="utf-8"))]
    assert {path.relative_to(root).parts[0] for path in paths} == {"checks"}
