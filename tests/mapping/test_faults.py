"""One fixture a fault of real exports: the clean month with exactly one thing spoiled, its class, counts and value."""

import csv
import re
from importlib import import_module

import pytest
from fault_list import FAULTS, IDS

from pipeline.shipped import folder

for module in ("files", "cells", "cases", "times", "readings", "drugs", "events"):
    import_module(f"faults_of_{module}")


def test_every_fault_has_its_fixture():
    assert len(IDS) == 111
    assert set(IDS) == set(FAULTS)


def test_places_named_elsewhere_exist():
    """A fault that is left to a model or a check names one there is."""
    models = {path.stem for path in (folder("sql") / "models").rglob("*.sql")}
    with (folder("sql") / "checks" / "catalogue.csv").open(encoding="utf-8", newline="") as stream:
        checks = {row["id"] for row in csv.DictReader(stream)}
    places = " ".join(fault.place for fault in FAULTS.values())
    assert set(re.findall(r"model (\w+)", places)) <= models
    assert set(re.findall(r"check (\w+)", places)) <= checks


@pytest.mark.parametrize("number", IDS)
def test_fault(number, bench, record_property):
    fault = FAULTS[number]
    place = f" - {fault.place}" if fault.place else ""
    order = (IDS.index(number),)
    record_property("listed", (order, number, f"{fault.grade:<10} {fault.what}{place}"))
    fault.shown(bench)
