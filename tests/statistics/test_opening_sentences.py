"""What stands behind the signals that open the quality page: order, counts, no cause."""

import re
from datetime import date

import pytest

from pipeline.reporting.display import Display, month_name
from pipeline.settings import Display as Choices
from pipeline.statistics.charts import chart
from pipeline.statistics.false_signals import page_rate
from pipeline.statistics.phases import Change
from pipeline.statistics.sentences import Writer, strongest
from pipeline.statistics.signals import signals

CALM = [18, 15, 21, 18, 16, 20, 17, 19, 18, 21, 16, 18, 17, 19, 18, 20]
BETTER = [*CALM[:12], 17, 5, 4, 5]
WORSE = [*CALM[:12], 17, 19, 33, 34]
CAUSES = re.compile(r"\b(because|cause[sd]?|due|thanks|led|leads|effect|result(s|ed)?|owing|reason)\b", re.IGNORECASE)


@pytest.fixture
def writer():
    return Writer(Display(Choices()), month_name)


@pytest.fixture
def page(writer):
    """The news of a page of series: measure and evidence of each."""

    def make(*series, changes=(), who=writer):
        charts = [chart(one, list(changes)) for one in series]
        news = strongest([(one, signals(one)) for one in charts])
        return [(signal.measure, who.evidence(signal, len(charts))) for signal, _ in news]

    return make


def test_strongest_evidence_first_with_counts(share, page):
    found = page(share(CALM, 60, "complication"), share(WORSE, 60, "rebreathing"), share(BETTER, 60, "hypothermia"))
    assert [measure for measure, _ in found] == ["hypothermia", "rebreathing"]
    assert found[0][1].startswith("5 of 60 cases (8.3%); the lower limit of ")
    assert found[1][1].startswith("34 of 60 cases (56.7%); the upper limit of 47.9% is set by the 12 complete months")


def test_an_old_signal_does_not_open_the_page(share, page):
    assert page(share([*CALM[:12], 40, 18, 17, 19, 18, 17, 19], 60)) == []
    assert page(share(CALM, 60)) == []


def test_chance_is_told_for_the_page_as_a_whole(share, writer):
    rate = page_rate([chart(share(CALM, 60))] * 3)
    assert writer.chance(rate) == (
        f"Were nothing to change, such a page would show {rate.expected_recent:.1f} on average, and one or more "
        f"{100 * rate.page_recent:.0f}% of the time."
    )


def test_a_measure_speaks_once_and_the_group_that_fired_for_it(share):
    series = [share(WORSE, 60), share(WORSE, 60, by="machine_id", level="M1"),
              share(CALM, 60, by="machine_id", level="M2")]  # fmt: skip
    charts = [chart(one) for one in series]
    ((signal, found),) = strongest([(one, signals(one)) for one in charts])
    assert found is charts[1]
    assert signal.level == "M1"


def test_each_is_one_sentence_and_none_names_a_cause(share, values, page):
    change = Change("warming program", date(2025, 1, 1))
    rare = [1, 0, 1, 1, 0, 1, 1, 0, 1, 0, 1, 1, 0, 4, 5, 5]
    found = page(
        share(BETTER, 60), share(rare, 60, "death_48h"), share([18] * 12 + [14] * 8, 60, "hypotension"),
        values([*range(20, 32), 44, 45, 44, 46]), changes=[change],
    )  # fmt: skip
    for _, sentence in found:
        assert sentence.endswith(".") and not re.search(r"\. [A-Z]", sentence)
        assert not CAUSES.search(sentence)
    assert any("as the settings state" in sentence for _, sentence in found)


def test_a_stated_change_gives_the_difference_and_leaves_the_why_open(share, writer):
    one = signals(chart(share(BETTER, 60), [Change("warming program", date(2025, 2, 1))]))
    told = next(writer.evidence(signal) for signal in one if signal.rule == "change")
    assert "14 of 180 cases (7.8%) in the 3 months from February 2025" in told
    assert f"{sum(BETTER[:13])} of 780 cases" in told
    assert "a difference of \u221222.2 percentage points (95% interval \u221226.7 to \u221216.5)" in told
    assert "does not say why" in told


def test_rare_events_are_told_in_cases_between_and_in_clusters(share, writer):
    events = [1, 0, 1, 1, 0, 1, 1, 0, 1, 0, 1, 1]
    gap = signals(chart(share(events + [0] * 24, 60, "death_48h")))
    assert writer.evidence(gap[0]).startswith("The upper limit of ")
    assert " cases is set by the 12 complete months January 2024 to December 2024" in writer.evidence(gap[0])
    harm = signals(chart(share([0] * 12 + [0, 2, 3], 60, "death_48h")))
    assert writer.evidence(harm[0]).startswith("2.8% against 0.0% in the 12 complete months January 2024 to")


def test_a_run_of_gaps_is_told_in_gaps(share, writer):
    events = [0, 2, 0, 0, 1, 0, 0, 1, 0, 2, 0, 1] + [1, 0, 0, 1, 0, 0] + [4] * 6
    told = next(writer.evidence(one) for one in signals(chart(share(events, 60, "death_48h"))) if one.rule == "run")
    assert re.match(r"The middle is \d+ cases, the median of the 12 complete months .*, and chance allows \d+ in", told)


def test_values_carry_their_unit(values, writer):
    found = signals(chart(values([20, 21, 19, 20, 22, 20, 19, 21, 20, 40])))
    assert re.match(r"The upper limit of [\d.]+ min is set by the 10 complete months", writer.evidence(found[0]))


def test_how_often_chance_gives_as_much_grows_with_the_charts(share, writer):
    one = signals(chart(share([*CALM[:12], 17, 18, 32, 18], 60)))[0]
    shares = []
    for charts in (1, 20):
        told = writer.evidence(one, charts)
        shares.append(float(re.search(r"as much on ([\d.]+)% of pages of", told)[1]) / 100)
    assert shares[0] == pytest.approx(one.strength, abs=0.0005)
    assert shares[1] == pytest.approx(1 - (1 - one.strength) ** 20, abs=0.0005)


def test_too_few_months_are_said_to_be_too_few(share, writer):
    told = "No signal can be told from chance yet, as no measure has 8 complete months."
    assert writer.chance(page_rate([chart(share(CALM[:5], 60))])) == told
    assert writer.chance(page_rate([])) == told


def test_small_counts_stay_out_of_a_shared_page(share, page):
    shared = Writer(Display(Choices()), month_name, fewest=5)
    found = page(share([0] * 12 + [0, 2, 3], 60, "death_48h"), share(WORSE, 60), who=shared)
    assert "34 of 60 cases" in found[0][1]
    assert found[1][1].startswith("Counts under 5 are not shown; chance alone")


def test_numbers_follow_the_page(share):
    comma = Writer(Display(Choices(decimal=",")), month_name)
    one = signals(chart(share(WORSE, 60)))[0]
    assert "(56,7%)" in comma.evidence(one)
