"""A clinic to load exports into, empty or with two cases."""

import pytest
from clinic_folder import CASES, Clinic

from pipeline import database


@pytest.fixture
def clinic(tmp_path):
    with database.connect(tmp_path / database.FILE) as db:
        yield Clinic(tmp_path, db)


@pytest.fixture
def clinic_with_cases(clinic):
    clinic.put("cases.csv", CASES)
    clinic.load()
    return clinic
