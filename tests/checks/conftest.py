"""A clinic in memory."""

import pytest
from clinic_rows import SETTINGS, empty_clinic

from pipeline import settings
from pipeline.database import connect


@pytest.fixture
def clinic_settings():
    return settings.from_dict(SETTINGS)


@pytest.fixture
def db():
    with connect() as db:
        empty_clinic(db)
        yield db
