"""The command from start to finish: what it writes, what it says, what it exits with."""

import json
import re
import subprocess
import sys
import time

import duckdb
import pytest

COLUMNS = ["measure", "unit", "period", "by", "level", "n", "numerator", "denominator", "value", "low", "high",
           "not_assessable", "method"]  # fmt: skip


def traces(page) -> set[str]:
    """The types of trace that the figures of a page are made of."""
    figures = re.findall(r'<script type="application/json">(\{"data".*?)</script>', page.read_text(encoding="utf-8"))
    return {trace["type"] for figure in figures for trace in json.loads(figure)["data"]}


def test_a_month_from_exports_to_every_page(rounds, sample):
    done = rounds("month", "--clinic", sample, "--json")
    assert done.status == 0, done.err
    answer = done.json()
    names = {page.rsplit("/", 1)[-1] for page in answer["pages"]}
    assert {"index.html", "quality.html", "stock.html", "training.html", "records.html"} <= names
    drawn = {page.name: traces(page) for page in (sample / "reports").rglob("*.html")}
    assert drawn["quality.html"] and drawn["stock.html"]
    assert set().union(*drawn.values()) <= {"scatter", "bar"}, "types beyond those of the chart library the pages carry"
    files = answer["load"]["files"]
    for one in files:
        assert one["read"] == one["new"] + one["unchanged"] + one["replaced"] + one["quarantined"]
        assert one["lines"] == one["read"] + one["set_aside"]
    with duckdb.connect(str(sample / "rounds.duckdb"), read_only=True) as db:
        assert [column[0] for column in db.execute("SELECT * FROM results LIMIT 0").description] == COLUMNS
        assert db.execute("SELECT count(*) FROM results").fetchone()[0] > 1000


def test_loading_again_changes_nothing_and_says_so(rounds, sample):
    rounds("load", "--clinic", sample)
    again = rounds("load", "--clinic", sample, "--json")
    assert again.status == 0
    totals = again.json()["load"]["totals"]
    assert totals["new"] == totals["replaced"] == 0
    assert "nothing changed" in again.err


@pytest.mark.parametrize("kind", ["csv", "json", "parquet", "xlsx"])
def test_results_in_every_format_hold_the_same_rows(rounds, sample, kind, tmp_path):
    rounds("load", "--clinic", sample)
    path = tmp_path / f"numbers.{kind}"
    done = rounds("results", "--clinic", sample, "--out", path)
    assert done.status == 0, done.err
    with duckdb.connect(str(sample / "rounds.duckdb"), read_only=True) as db:
        wanted = db.execute('SELECT measure, period, "by", level, value FROM results').fetchall()
    found = read_back(path, kind)
    assert [row[:4] for row in found] == [row[:4] for row in wanted]
    assert [row[4] for row in found] == pytest.approx([row[4] for row in wanted], nan_ok=True)


def read_back(path, kind):
    if kind == "json":
        rows = json.loads(path.read_text(encoding="utf-8"))
        return [(row["measure"], row["period"], row["by"], row["level"], row["value"]) for row in rows]
    if kind == "xlsx":
        from python_calamine import CalamineWorkbook

        head, *rows = CalamineWorkbook.from_path(str(path)).get_sheet_by_index(0).to_python(skip_empty_area=False)
        assert head == COLUMNS
        return [(row[0], row[2], row[3], row[4], None if row[8] == "" else row[8]) for row in rows]
    read = (
        "read_parquet($1)"
        if kind == "parquet"
        else (
            "read_csv($1, auto_detect=false, header=true, delim=',', quote='\"', columns={"
            + ", ".join(f"'{name}': '{'DOUBLE' if name in COLUMNS[6:11] else 'VARCHAR'}'" for name in COLUMNS)
            + "})"
        )
    )
    with duckdb.connect() as db:
        return db.execute(f'SELECT measure, period, "by", level, value FROM {read}', [str(path)]).fetchall()


def test_results_go_to_stdout_and_words_to_stderr(rounds, sample):
    rounds("load", "--clinic", sample)
    done = rounds("results", "--clinic", sample)
    assert done.out.splitlines()[0] == ",".join(COLUMNS)
    assert "rows, report month" in done.err


def test_start_makes_a_folder_that_runs_and_never_overwrites_one(rounds, tmp_path):
    clinic = tmp_path / "new"
    assert rounds("start", clinic, "--zone", "America/Toronto").status == 0
    assert 'zone = "America/Toronto"' in (clinic / "clinic.toml").read_text(encoding="utf-8")
    again = rounds("start", clinic)
    assert again.status == 2 and "stays as it is" in again.err
    empty = rounds("month", "--clinic", clinic)
    assert empty.status == 2
    assert "load the exports" in empty.err and "Traceback" not in empty.err


def test_a_template_that_is_filled_in_loads(rounds, tmp_path):
    clinic = tmp_path / "new"
    rounds("start", clinic)
    head = (clinic / "templates" / "cases.csv").read_text(encoding="utf-8").strip()
    cells = dict.fromkeys(head.split(","), "")
    cells |= {"case_id": "1", "species": "dog", "weight_kg": "12.5", "induction_at": "2026-03-02 08:00",
              "extubation_at": "2026-03-02 09:00"}  # fmt: skip
    (clinic / "exports" / "cases.csv").write_text(f"{head}\n{','.join(cells.values())}\n", encoding="utf-8")
    done = rounds("load", "--clinic", clinic, "--json")
    assert done.status == 0, done.err
    assert done.json()["load"]["totals"]["new"] == 1


def test_an_unknown_setting_names_the_nearest(rounds, sample):
    settings = sample / "clinic.toml"
    settings.write_text('zon = "Europe/Berlin"\n', encoding="utf-8")
    done = rounds("load", "--clinic", sample)
    assert done.status == 2
    assert "did you mean zone?" in done.err


def test_a_refused_file_leaves_the_others_loaded_and_exits_3(rounds, sample):
    (sample / "exports" / "aaa.csv").write_text("colour,number\nblue,3\n", encoding="utf-8")
    done = rounds("load", "--clinic", sample, "--json")
    assert done.status == 3
    assert "aaa.csv" in done.err
    with duckdb.connect(str(sample / "rounds.duckdb"), read_only=True) as db:
        assert db.execute("SELECT count(*) FROM cases").fetchone()[0] > 0


def test_strict_exits_4_when_rows_were_quarantined(rounds, sample):
    (sample / "exports" / "more_cases.csv").write_text(
        "case_id,species,induction_at\nX1,dog,next Tuesday\n", encoding="utf-8"
    )
    assert rounds("load", "--clinic", sample, "--strict").status == 4
    assert rounds("load", "--clinic", sample).status == 0


def test_a_missing_file_is_a_sentence(rounds, sample):
    done = rounds("load", sample / "exports" / "nothing.csv", "--clinic", sample)
    assert done.status == 3
    assert "nothing.csv" in done.err and "Traceback" not in done.err


HOLD = "import duckdb, sys, time; db = duckdb.connect(sys.argv[1]); print('open', flush=True); time.sleep(60)"


def test_a_database_in_use_exits_5_and_says_which_process(rounds, sample):
    rounds("load", "--clinic", sample)
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(sample / "rounds.duckdb")], stdout=subprocess.PIPE, text=True
    )
    try:
        assert holder.stdout.readline().strip() == "open"
        done = rounds("load", "--clinic", sample)
    finally:
        holder.kill()
        holder.wait()
    assert done.status == 5
    assert str(holder.pid) in done.err


def test_our_own_fault_is_one_line_and_keeps_its_traceback_in_a_file(rounds, sample, monkeypatch):
    from pipeline import intake

    def broken(*_):
        raise ZeroDivisionError("ours")

    monkeypatch.setattr(intake, "load", broken)
    done = rounds("load", "--clinic", sample)
    assert done.status == 1
    assert len(done.err.strip().splitlines()) == 1
    assert "ZeroDivisionError: ours" in (sample / "rounds.log").read_text(encoding="utf-8")


def test_help_loads_nothing_heavy(tmp_path):
    heavy = ("pandas", "duckdb", "plotly", "great_expectations", "pyarrow", "statsmodels", "scipy", "jinja2", "numpy")
    code = f"import sys, pipeline.cli; pipeline.cli.parser(); print([m for m in {heavy!r} if m in sys.modules])"
    began = time.perf_counter()
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path)
    print(f"help in {time.perf_counter() - began:.2f} s")
    assert found.stdout.strip() == "[]"


def test_every_command_has_help_and_stands_in_the_readme():
    from pathlib import Path

    from pipeline.cli import parser

    commands = next(action for action in parser()._actions if action.dest == "command").choices
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    for name, command in commands.items():
        assert command.description, name
        assert f"`rounds {name}" in readme, name
