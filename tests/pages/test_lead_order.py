"""The five sentences at the top: deaths, then signals by their evidence, then what chance alone would show."""

import numpy as np
import pytest

from pipeline.reporting.display import Display
from pipeline.reporting.quality import lead
from pipeline.reporting.quality.change import Watch, to_tell
from pipeline.reporting.quality.watched import Watched
from pipeline.reporting.results import Results
from pipeline.reporting.review import Review
from pipeline.statistics.charts import Cases, Series, chart
from pipeline.statistics.false_signals import page_rate
from pipeline.statistics.signals import signals

MONTHS = [f"{year}-{month:02d}" for year in (2025, 2026) for month in range(1, 13)][:22]
CALM = [18, 15, 21, 18, 16, 20, 17, 19, 18, 21, 16, 18, 17, 19, 18, 20, 17, 18, 19, 20, 17, 19]


def watched(measure: str, last: int, by: str = "all", level: str = "all") -> Watched:
    """A calm share of 60 cases a month whose last month has so many events."""
    events = [*CALM[:-1], last]
    one = chart(Series(measure, "share", MONTHS, [e / 60 for e in events], [True] * 22, events, [60] * 22, by, level))
    return Watched(one, measure if by == "all" else f"{measure}, machine {level}", True, to_tell(signals(one)))


@pytest.fixture
def told(small):
    """The sentences of a page of those charts."""
    review = Review(small.db, small.settings, None, Results(small.db), Display(small.settings.display))

    def make(*charts: Watched) -> list[str]:
        watch = Watch(list(charts), page_rate([one.chart for one in charts]))
        return [sentence for sentence, *_ in lead.sentences(review, watch)]

    return make


def test_deaths_then_signals_by_evidence_then_chance(told):
    found = told(watched("hypoxemia", 33), watched("hypotension", 45), watched("rebreathing", 19))
    assert "died within 48 h" in found[0]
    assert [sentence.split(":")[0] for sentence in found[1:3]] == ["hypotension", "hypoxemia"]
    assert found[-1] == "2 of 3 charts show a signal in the last three months."
    assert len(found) == 5


def test_a_machine_that_fired_speaks_for_its_measure(told):
    found = told(watched("rebreathing", 45), watched("rebreathing", 40, "machine_id", "M2"),
                 watched("rebreathing", 19, "machine_id", "M3"))  # fmt: skip
    assert [sentence.split(":")[0] for sentence in found if "rebreathing" in sentence] == ["rebreathing, machine M2"]


def test_three_signals_at_most_and_five_sentences(told):
    found = told(*(watched(f"measure_{number}", 40 + number) for number in range(6)))
    assert [sentence.split(":")[0] for sentence in found[1:4]] == ["measure_5", "measure_4", "measure_3"]
    assert len(found) == 5


@pytest.mark.parametrize(
    "last, said", [(19, "shows no signal in the last 3 months"), (45, "shows a signal: 75.0% in Oct")]
)
def test_deaths_stand_with_their_chart_and_not_again(told, small, last, said):
    review = Review(small.db, small.settings, None, Results(small.db), Display(small.settings.display))
    deaths = watched("death_48h", last)
    evidence = lead.sentences(review, Watch([deaths], page_rate([deaths.chart])))[0][3]
    assert said in evidence
    assert not any(sentence.startswith("death_48h") for sentence in told(deaths))


def test_three_months_together_speak_before_a_run_of_gaps():
    """A clinic of 60 cases a month with one event in two months, then one a week."""
    events = [1, 0] * 9 + [4, 5, 4, 5]
    order = Cases(np.repeat(MONTHS, 60).tolist(), np.concatenate([[1] * e + [0] * (60 - e) for e in events]).tolist())
    found = signals(chart(Series("death_48h", "share", MONTHS, [e / 60 for e in events], [True] * 22, events, [60] * 22,
                                 cases=order)))  # fmt: skip
    assert {"run", "cluster"} <= {one.rule for one in found}
    assert to_tell(found)[0].rule == "cluster"


def test_the_page_states_the_rule(pages):
    assert f'<p class="order">{lead.ORDER}</p>' in pages.quality.read_text(encoding="utf-8")
