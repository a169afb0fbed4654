"""Every example that stands behind a # in a new clinic's settings is one the program accepts."""

import re
import tomllib

from pipeline import settings
from pipeline.forecasting import planned
from pipeline.models.seeds import limits, windows
from pipeline.templates import SETTINGS
from pipeline.training import programme


def test_the_commented_examples_are_valid_settings():
    text = SETTINGS.format(zone="Europe/Berlin")
    opened = re.sub(r"^# (?=[\[\w\"]+.*(=|\]))", "", text, flags=re.MULTILINE)
    chosen = settings.from_dict(tomllib.loads(opened))
    assert chosen.absorbent.minutes_per_mark == 30
    pressures = [row for row in limits(chosen) if (row["measure"], row["species"]) == ("hypotension", "dog")]
    assert [row["below"] for row in pressures] == [65, 90]
    assert {row["name"]: row["val"] for row in windows(chosen)}["absorbent_minutes_per_mark"] == 30
    assert chosen.items and chosen.changes
    assert planned.read(chosen.planned)[0].more_days == 2
    assert programme.read(chosen.programme).targets
