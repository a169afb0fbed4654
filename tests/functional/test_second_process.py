"""Work handed to a second process gives what it gives here: the same pages, tables and verdicts."""

import shutil

import pytest

from pipeline import beside, database, run
from pipeline.simulate import write_clinic

PAGES = ("quality", "stock", "training")


@pytest.fixture(scope="module")
def clinic(tmp_path_factory):
    folder = tmp_path_factory.mktemp("clinic")
    write_clinic(folder, months=4, cases=120)
    return folder


@pytest.mark.parametrize("names", [PAGES, ("quality",), ("training",)])
def test_pages_are_the_same_bytes_with_and_without_a_second_process(clinic, tmp_path, monkeypatch, names):
    found = []
    for cores in (1, 2):
        folder = tmp_path / str(cores)
        shutil.copytree(clinic, folder)
        monkeypatch.setattr(beside, "cores", lambda cores=cores: cores)
        with beside.beside() as second:
            done = run.rounds_of(folder, reports=(*names, "records"), second=second)
        files = {
            str(path.relative_to(folder)): path.read_bytes()
            for path in sorted((folder / "reports").rglob("*"))
            if path.is_file() and not path.name.startswith(("records", "index"))
        }
        with database.connect(folder / database.FILE, read_only=True) as db:
            signals = db.execute("FROM signals").fetchall() if "quality" in names else []
        verdicts = [(one.rule_id, one.outcome, one.counted_by) for one in done.verdicts.outcomes]
        found.append((files, signals, verdicts, [path.name for path in done.pages]))
    alone, together = found
    assert alone[0].keys() == together[0].keys()
    assert [name for name in alone[0] if alone[0][name] != together[0][name]] == []
    assert alone[1:] == together[1:]
    assert len(alone[0]) > 1


def test_an_error_there_reaches_who_asks(monkeypatch):
    for cores in (1, 2):
        monkeypatch.setattr(beside, "cores", lambda cores=cores: cores)
        with beside.beside() as second, pytest.raises(ZeroDivisionError):
            second.submit(divmod, 1, 0).result()
