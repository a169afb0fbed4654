"""The files themselves: the same seed, the same bytes; nobody real in them; the slice is what the generator makes."""

import re
from pathlib import Path

import pandas as pd
import pytest

from pipeline import settings, shipped
from pipeline.forecasting import planned
from pipeline.schema import TABLES
from pipeline.simulate import write_clinic, write_slice
from pipeline.statistics.phases import stated_changes
from pipeline.training import programme

SMALL = {"seed": 5, "months": 5, "cases": 150}
CODES = re.compile(r"[NSRT]\d{2,3}(-\d+)?|(\d-)?M\d+|P\d+|A\d\d-\d+|[A-Z]{3}\d{4}")
PLAIN = re.compile(r"[a-z0-9_ ;./%-]*|.* ECG .*|(mL|mg|mcg|L|mL/h|mL/min|psi|each|g).*|ECG watched")


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_the_same_seed_writes_the_same_bytes(tmp_path):
    for name in ("one", "two"):
        write_clinic(tmp_path / name, **SMALL)
    assert contents(tmp_path / "one") == contents(tmp_path / "two")


def test_another_seed_writes_another_clinic(tmp_path):
    write_clinic(tmp_path / "one", **SMALL)
    write_clinic(tmp_path / "two", **SMALL | {"seed": 6})
    one, two = contents(tmp_path / "one"), contents(tmp_path / "two")
    assert all(one[name] != two[name] for name in one.keys() & two.keys() if name.startswith("exports"))


def test_wide_files_hold_the_readings_of_long_ones(tmp_path):
    plan = SMALL | {"faults": False}
    write_clinic(tmp_path / "long", **plan)
    write_clinic(tmp_path / "wide", **plan, vitals="wide")
    for file in (tmp_path / "wide" / "exports").glob("vitals*.csv"):
        wide = pd.read_csv(file).melt(["case_id", "taken_at"], var_name="parameter").dropna()
        long = pd.read_csv(tmp_path / "long" / "exports" / file.name)
        key = ["case_id", "taken_at", "parameter"]
        pd.testing.assert_frame_equal(
            wide.sort_values(key, ignore_index=True)[long.columns],
            long.sort_values(key, ignore_index=True),
            check_dtype=False,
        )


def test_a_keyword_that_is_not_one_is_refused(tmp_path):
    with pytest.raises(TypeError, match="machines"):
        write_clinic(tmp_path, machines=3)


def test_sample_data_is_what_the_generator_makes(tmp_path):
    write_slice(tmp_path)
    kept = {name: text for name, text in contents(shipped.folder("sample_data")).items() if name != "README.md"}
    assert kept == contents(tmp_path)


def test_sample_data_is_small():
    assert sum(len(text) for text in contents(shipped.folder("sample_data")).values()) < 400_000


def test_every_header_is_canonical(demo):
    for file in (demo.folder / "exports").glob("*.csv"):
        header = file.read_text(encoding="utf-8").split("\n", 1)[0].split(",")
        table = next(name for name in ("case_people", *TABLES) if file.name.startswith(name))
        known = [column.name for column in TABLES[table].columns]
        assert header == [name for name in known if name in header]


def test_clinic_toml_is_accepted_by_everything_that_reads_it(demo):
    read = settings.read(demo.folder / "clinic.toml")
    assert [str(change.start) for change in stated_changes(read.changes)] == [demo.planted["programme_from"]]
    asked = programme.read(read.programme)
    assert set(asked.trainees) <= set(demo.case_people.person)
    assert [plan.procedure_group for plan in planned.read(read.planned)] == ["dental"]
    assert read.absorbent.minutes_per_mark == 30
    used = set(demo.stock.item)
    assert used <= set(read.items)
    assert all(item.lead_days and (item.drug or item.consumable) for item in read.items.values())


def test_no_text_looks_like_a_name(clean):
    """Every word is lower case, a unit or a code; a person's or an animal's name would be neither."""
    odd = set()
    for name in TABLES:
        rows = getattr(clean, name)
        for column in TABLES[name].columns:
            if column.kind in ("text", "code", "codes") and column.name in rows:
                odd |= {
                    text
                    for text in rows[column.name].dropna().unique()
                    if not (PLAIN.fullmatch(text) or CODES.fullmatch(text))
                }
    assert odd == set()


def test_several_sites_have_their_own_people_and_machines(tmp_path):
    write_clinic(tmp_path, **SMALL, sites=2)
    cases = pd.read_csv(tmp_path / "exports" / "cases.csv", dtype=str)
    assert cases.site.nunique() == 2
    for column in ("anesthetist", "machine_id", "patient_id"):
        assert cases.groupby(column).site.nunique().max() == 1


@pytest.mark.parametrize(
    "plan",
    [{"months": 1, "cases": 1}, {"months": 4, "cases": 12, "sites": 2}, {"months": 15, "cases": 30, "partial_days": 0}],
)
def test_a_clinic_may_be_very_small(tmp_path, plan):
    planted = write_clinic(tmp_path, seed=1, **plan)
    assert plan["cases"] <= planted["cases"] <= plan["cases"] + 3
    assert all((tmp_path / "exports").glob(f"{name}*.csv") for name in TABLES)
