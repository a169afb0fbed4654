"""Charts of rare events and of long histories: what is drawn, and over which months."""

from types import SimpleNamespace

import numpy as np
import pytest

from pipeline.reporting.display import Display
from pipeline.reporting.quality.change import judged_months, to_tell
from pipeline.reporting.quality.watched import Watched, figure
from pipeline.reporting.results import Results
from pipeline.reporting.review import Review
from pipeline.statistics.charts import Cases, Series, chart
from pipeline.statistics.signals import signals

MONTHS = [f"{2025 + number // 12}-{number % 12 + 1:02d}" for number in range(22)]


def rare(events: list[int]) -> Watched:
    """60 cases a month of which so many have it, the first ones of the month."""
    order = Cases(np.repeat(MONTHS, 60).tolist(), np.concatenate([[1] * e + [0] * (60 - e) for e in events]).tolist())
    one = chart(Series("rebreathing", "share", MONTHS, [e / 60 for e in events], [True] * 22, events, [60] * 22,
                       cases=order))  # fmt: skip
    return Watched(one, "Rebreathing", False, to_tell(signals(one)))


@pytest.fixture
def review(small):
    return Review(small.db, small.settings, None, Results(small.db), Display(small.settings.display))


def traces(drawn) -> dict:
    return {one.get("name"): one for one in drawn.drawing.data}


def test_three_months_together_are_drawn_by_month(review):
    events = [0] * 19 + [4, 15, 1]
    drawn = figure(review, rare(events))
    assert traces(drawn)["value"]["y"] == pytest.approx([e / 60 for e in events], abs=1e-8)
    assert [MONTHS[place] for place in traces(drawn)["signal"]["x"]] == MONTHS[-3:]
    assert drawn.drawing.layout["yaxis"]["title"]["text"] == "share of cases judged"
    assert [row[1] for row in drawn.table.rows] == [e / 60 for e in events]


def test_other_rare_events_are_drawn_as_gaps(review):
    """Every second month one, its first case: 120 cases from one to the next, 119 of them without it."""
    drawn = figure(review, rare([1, 0] * 11))
    assert traces(drawn)["value"]["y"] == [0] + [119] * 10 + [119]
    assert drawn.drawing.layout["yaxis"]["title"]["text"] == "cases between two"


def test_a_long_history_is_judged_whole_and_drawn_by_its_last_36_months(review):
    history = [f"{2016 + number // 12}-{number % 12 + 1:02d}" for number in range(120)]
    partial = SimpleNamespace(period="2026-01", partial=True)
    results = SimpleNamespace(months=[*history, "2026-01"], month="2025-12", series=lambda measure: [partial])
    assert judged_months(SimpleNamespace(results=results)) == [*history, "2026-01"]

    events = [20 + number % 7 for number in range(120)]
    one = chart(Series("hypothermia", "share", history, [e / 60 for e in events], [True] * 120, events, [60] * 120))
    drawn = figure(review, Watched(one, "Hypothermia", True, to_tell(signals(one))))
    assert [row[0] for row in drawn.table.rows] == history[-36:]
    assert "The last 36 of 120 months; limits from Jan 2016 to Dec 2016." in drawn.caption
