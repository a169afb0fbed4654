"""One fixture a fault of real exports: the clean month with exactly one thing spoiled, its class, counts and value."""

import faults_of_cells  # noqa: F401 - each module registers its faults
import faults_of_files  # noqa: F401
import pytest
from fault_list import FAULTS


@pytest.mark.parametrize("number", FAULTS)
def test_fault(number, bench, record_property):
    fault = FAULTS[number]
    for name in ("grade", "what", "place"):
        record_property(name, getattr(fault, name))
    record_property("fault", number)
    fault.shown(bench)
