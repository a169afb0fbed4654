"""Work on two connections at a time: what one shares the other reads, faults are raised, and nothing stays behind."""

from importlib import import_module

import duckdb
import pytest

from pipeline import database
from pipeline.lanes import Here, lanes
from pipeline.models.build import Model, ModelFault, build_beside


def share(db, shared: str, name: str, select: str) -> None:
    db.execute(f"CREATE {shared.format('TABLE', name)} AS {select}")


def ask(db, select: str, *before):
    for done in before:
        done.result()
    return db.execute(select).fetchall()


def attached(db) -> set[str]:
    return {name for (name,) in db.execute("SELECT database_name FROM duckdb_databases()").fetchall()}


def test_what_one_lane_shares_the_other_reads_and_nothing_stays(tmp_path):
    with database.connect(tmp_path / database.FILE) as db:
        db.execute("CREATE TABLE cases AS SELECT range AS case_no FROM range(5)")
        before = attached(db)
        with lanes(db, "for_test") as side:
            made = side.submit(share, side.shared, "doubled", "SELECT case_no * 2 AS twice FROM cases")
            sums = [side.submit(ask, "SELECT sum(twice) FROM doubled", made) for _ in range(4)]
            assert [found.result() for found in sums] == [[(20,)]] * 4
            assert "for_test" in attached(db)
        assert attached(db) == before
        assert database.tables(db) == {"cases"}
        side = Here(db)
        side.submit(share, side.shared, "doubled", "SELECT case_no * 2 AS twice FROM cases").result()
        assert side.submit(ask, "SELECT sum(twice) FROM doubled").result() == [(20,)]


def test_a_fault_in_a_lane_is_raised_and_nothing_stays(tmp_path):
    with database.connect(tmp_path / database.FILE) as db:
        before = attached(db)
        with pytest.raises(Exception, match="no_such_table"), lanes(db, "for_test") as side:
            side.submit(ask, "FROM no_such_table").result()
        assert attached(db) == before


def test_models_built_two_at_a_time_stand_after_those_they_read_and_a_fault_names_its_file(tmp_path):
    texts = {
        "counted": "-- Built as a view\nSELECT count(*) AS n FROM many",
        "many": "SELECT range AS n FROM range(200000)",
        "summed": "SELECT sum(many.n) AS total, max(counted.n) AS n FROM many CROSS JOIN counted",
        "wrong": "SELECT nothing FROM summed",
    }
    models = {}
    for name in ("many", "counted", "summed", "wrong"):
        (tmp_path / f"{name}.sql").write_text(texts[name], encoding="utf-8")
        models[name] = Model(tmp_path / f"{name}.sql")
    fault = models.pop("wrong")
    with database.connect(tmp_path / database.FILE) as db:
        for _ in range(3):  # again over what stands
            assert list(build_beside(db, models)) == ["many", "counted", "summed"]
            assert db.execute("FROM summed").fetchall() == [(19999900000, 200000)]
        with pytest.raises(ModelFault, match=r"^wrong\.sql: .*nothing"):
            build_beside(db, models | {"wrong": fault})
        assert db.execute("FROM summed").fetchall() == [(19999900000, 200000)]


def test_where_memory_does_not_hold_two_models_they_are_built_one_after_the_other(tmp_path, monkeypatch):
    def short_of_memory(db, before, name, model, stands):
        raise ModelFault(f"{name}.sql: no room") from duckdb.OutOfMemoryException("no room")

    monkeypatch.setattr(import_module("pipeline.models.build"), "_build_after", short_of_memory)
    (tmp_path / "many.sql").write_text("SELECT range AS n FROM range(5)", encoding="utf-8")
    with database.connect(tmp_path / database.FILE) as db:
        assert list(build_beside(db, {"many": Model(tmp_path / "many.sql")})) == ["many"]
        assert db.execute("SELECT sum(n) FROM many").fetchall() == [(10,)]
