"""What a pool holds, and what a group makes of it on one machine; no Spark needed."""

import csv

import pytest

from pipeline import database, models, schema, settings
from pipeline.cli import main
from pipeline.engines.pool import pool
from pipeline.intake.identity import PSEUDONYM, key_of, pseudonym


def content(dest) -> dict:
    return {path.relative_to(dest): path.read_bytes() for path in dest.rglob("*") if path.is_file()}


def test_pooling_again_changes_nothing(clinics, pooled):
    dest, _ = pooled
    before = content(dest)
    clinic, chosen = clinics[-1]
    with database.connect(clinic / database.FILE) as db:
        models.prepare(db, chosen)
        pool(db, chosen, key_of(clinic), dest)
    assert content(dest) == before


def test_a_month_taken_back_leaves_the_pool(clinics, tmp_path):
    clinic, chosen = clinics[0]
    with database.connect(clinic / database.FILE) as db:
        models.prepare(db, chosen)
        pool(db, chosen, key_of(clinic), tmp_path)
        months = sorted(path.name for path in (tmp_path / "vitals" / "site=north").iterdir())
        gone = months[1].removeprefix("month=")
        db.execute("BEGIN")
        start = "coalesce(induction_at, intubation_at, vaporizer_on_at)"
        db.execute(f"DELETE FROM cases WHERE strftime({start}, '%Y-%m') = ?", [gone])
        pool(db, chosen, key_of(clinic), tmp_path)
        db.execute("ROLLBACK")
    left = sorted(path.name for path in (tmp_path / "vitals" / "site=north").iterdir())
    assert left == [month for month in months if month != f"month={gone}"]


@pytest.mark.parametrize("table", schema.TABLES.values(), ids=lambda table: table.name)
def test_nobody_is_named(pooled, table):
    dest, _ = pooled
    for column in table.columns:
        if column.personal:
            with database.connect() as db:
                files = str(dest / table.name / "*" / "*" / "*.parquet")
                found = db.execute(
                    f'SELECT DISTINCT "{column.name}" FROM read_parquet($files) WHERE "{column.name}" IS NOT NULL',
                    {"files": files},
                ).fetchall()
            assert found or column.personal == "person"
            assert all(PSEUDONYM.fullmatch(name.split(":")[-1]) for (name,) in found)


def test_a_trainee_keeps_one_name_in_every_table(pooled):
    dest, _ = pooled
    with database.connect() as db:
        listed, known = db.execute(f"""
            SELECT count(*), count(*) FILTER (person IN (SELECT trainee FROM '{dest}/cases/*/*/*.parquet'))
            FROM '{dest}/programme_trainees/*.parquet'
        """).fetchone()
    assert known > 0
    assert listed >= known


def test_shelves_of_two_sites_stay_apart(at_home):
    db, _ = at_home
    sites = db.execute("SELECT DISTINCT split_part(item, ':', 1) FROM stock_positions ORDER BY ALL").fetchall()
    assert sites == [("north",), ("south",)]


def test_a_group_of_one_gets_the_results_of_its_clinic(clinics, pooled, tmp_path):
    clinic, chosen = clinics[0]
    with database.connect(clinic / database.FILE) as db:
        models.prepare(db, chosen)
        pool(db, chosen, key_of(clinic), tmp_path / "pool")
    paths = tmp_path / "own.csv", tmp_path / "group.csv"
    assert main(["results", "--clinic", str(clinic), "--out", str(paths[0])]) == 0
    assert main(["results", "--clinic", str(clinic), "--pool", str(tmp_path / "pool"), "--out", str(paths[1])]) == 0
    own, group = (list(csv.DictReader(path.read_text(encoding="utf-8").splitlines())) for path in paths)
    for row in own:
        if row["level"] in ("all", "not recorded"):
            continue
        if row["by"] == "machine_id":
            row["level"] = f"north:{row['level']}"
        if row["by"] in ("trainee", "supervisor"):
            row["level"] = pseudonym(key_of(clinic), row["level"])
    assert sorted(map(tuple, map(dict.values, group))) == sorted(map(tuple, map(dict.values, own)))


def test_without_results_the_group_page_says_what_to_run(group, capsys):
    assert main(["report", "--group", "--clinic", str(group)]) == 2
    assert "rounds results --pool" in capsys.readouterr().err


def test_a_folder_that_is_no_pool_is_said_to_be_none(group, capsys):
    assert main(["results", "--pool", str(group), "--clinic", str(group)]) == 2
    assert "no pool" in capsys.readouterr().err
    assert settings.read(group / settings.FILE).name == "Both clinics"
