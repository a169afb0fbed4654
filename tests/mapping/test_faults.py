"""One fixture a fault of real exports: the clean month with exactly one thing spoiled, its class, counts and value."""

from importlib import import_module

import pytest
from fault_list import FAULTS, IDS

for module in ("files", "cells", "cases", "times", "readings", "drugs", "events"):
    import_module(f"faults_of_{module}")


def test_every_fault_has_its_fixture():
    assert len(IDS) == 111
    assert set(IDS) == set(FAULTS)


@pytest.mark.parametrize("number", IDS)
def test_fault(number, bench, record_property):
    fault = FAULTS[number]
    for name in ("grade", "what", "place"):
        record_property(name, getattr(fault, name))
    record_property("fault", number)
    fault.shown(bench)
