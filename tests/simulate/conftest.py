"""Two invented clinics of full size: the one that is shipped, and the same charted without a fault."""

import pytest
from invented_clinic import Clinic, read_clinic

from pipeline.simulate import write_clinic


@pytest.fixture(scope="session")
def demo(tmp_path_factory) -> Clinic:
    """The clinic of `rounds demo`."""
    folder = tmp_path_factory.mktemp("demo")
    return read_clinic(folder, write_clinic(folder))


@pytest.fixture(scope="session")
def clean(tmp_path_factory) -> Clinic:
    folder = tmp_path_factory.mktemp("clean")
    return read_clinic(folder, write_clinic(folder, faults=False))
