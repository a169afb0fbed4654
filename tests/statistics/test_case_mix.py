"""Observed against expected: a published standardisation, Simpson's reversal, and rules of merging."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.statistics.poisson import observed_over_expected
from pipeline.statistics.standardise import (
    by_month,
    expected,
    merged,
    observed_minus_expected,
    reference,
    reference_months,
)

# Selvin S 2004, US deaths and population by 11 age bands; data and answer ship in R epitools 0.5-10.1, help of
# ageadjust.indirect: 71,058 observed in 1940, 85,556.89 expected at the rates of 1960, ratio 0.8305.
DEATHS_1960 = [141, 926, 1253, 1080, 1869, 4891, 14956, 30888, 41725, 26501, 5928]
PEOPLE_1960 = [1784033, 7065148, 15658730, 10482916, 9939972, 10563872, 9114202, 6850263, 4702482, 1874619, 330915]
DEATHS_1940 = [45, 201, 320, 670, 1126, 3160, 9723, 17935, 22179, 13461, 2238]
PEOPLE_1940 = [906897, 3794573, 10003544, 10629526, 9465330, 8249558, 7294330, 5022499, 2920220, 1019504, 142532]


def mix(rows):
    return pd.DataFrame(rows, columns=["asa_class", "species", "emergency", "events", "cases"])


def by_band(events, cases):
    return mix([(band, "dog", False, e, n) for band, (e, n) in enumerate(zip(events, cases, strict=True))])


cells = st.lists(
    st.tuples(
        st.sampled_from([1, 2, 3, None]),
        st.sampled_from(["dog", "cat", None]),
        st.sampled_from([True, False, None]),
        st.integers(0, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))),
    ),
    min_size=1,
    max_size=12,
).map(lambda rows: mix([(*cell, *counts) for *cell, counts in rows]))


def test_matches_selvin_2004():
    hoped = expected(by_band(DEATHS_1940, PEOPLE_1940), reference(by_band(DEATHS_1960, PEOPLE_1960))).sum()
    assert hoped == pytest.approx(85556.8888445, abs=1e-6)
    found = observed_over_expected(sum(DEATHS_1940), hoped)
    assert tuple(found) == pytest.approx((0.830535108974, 0.824439585209, 0.836664504709), abs=1e-9)


def test_simpsons_reversal():
    """Charig CR et al. 1986, BMJ 292:879-882 (kidney stones; figures from memory): open surgery does better on
    small stones (6/87 failures against 36/270) and on large ones (71/263 against 25/80), yet worse over all
    (77/350 against 61/350). Held against the mix, the better one shows as better."""
    rows = {
        "open": mix([(1, "dog", False, 6, 87), (2, "dog", False, 71, 263)]),
        "other": mix([(1, "dog", False, 36, 270), (2, "dog", False, 25, 80)]),
    }
    crude = {name: frame.events.sum() / frame.cases.sum() for name, frame in rows.items()}
    assert crude["open"] > crude["other"]
    against = reference(pd.concat(rows.values()))
    ratio = {name: frame.events.sum() / expected(frame, against).sum() for name, frame in rows.items()}
    assert ratio["open"] < 1 < ratio["other"]


def test_sparse_cells_are_merged_coarser_one_step_at_a_time():
    against = reference(
        mix(
            [
                (1, "dog", False, 2, 20),  # enough alone
                (1, "dog", True, 5, 5),  # 19 emergencies at most: asa x species, 7/25
                (2, "cat", False, 1, 19),  # asa x species too small: asa, 4/20
                (2, "dog", False, 3, 1),
                (4, "dog", True, 6, 10),  # asa too small: all
            ]
        )
    )
    rows = mix([(1, "dog", False, 0, 1), (1, "dog", True, 0, 1), (2, "cat", False, 0, 1), (4, "cat", None, 0, 2)])
    assert expected(rows, against) == pytest.approx([2 / 20, 7 / 25, 4 / 20, 2 * 17 / 55])
    assert merged(rows, against) == {
        "asa_class x species x emergency": 1, "asa_class x species": 1, "asa_class": 1, "all": 2, "none": 0,
    }  # fmt: skip


def test_nineteen_cases_are_too_few_and_twenty_enough():
    row = mix([(1, "dog", False, 0, 1)])
    assert np.isnan(expected(row, reference(mix([(1, "dog", False, 5, 19)])))).all()
    assert expected(row, reference(mix([(1, "dog", False, 5, 20)]))) == pytest.approx([0.25])
    assert merged(row, reference(mix([])))["none"] == 1


def test_what_is_not_recorded_is_a_level_of_its_own():
    against = reference(mix([(None, "dog", False, 10, 20), (1, "dog", False, 2, 20)]))
    rows = mix([(None, "dog", False, 0, 1), (1, "dog", False, 0, 1)])
    assert expected(rows, against) == pytest.approx([0.5, 0.1])
    assert expected(rows.assign(asa_class=rows.asa_class.astype("Int64")), against) == pytest.approx([0.5, 0.1])


@given(cells)
def test_the_reference_expects_of_itself_what_it_saw_over_all(counts):
    """Where every merged cell is judged whole. Only true level by level, so: one stratum."""
    one = counts.assign(asa_class=1, species="dog", emergency=False)
    hoped = expected(one, reference(one)).sum()
    if counts.cases.sum() >= 20:
        assert hoped == pytest.approx(counts.events.sum())


@given(cells, st.integers(1, 3))
def test_one_stratum_equals_no_adjustment(counts, times):
    one = counts.assign(asa_class=2, species="cat", emergency=True)
    judged = mix([(2, "cat", True, 0, times)])
    plain = times * counts.events.sum() / counts.cases.sum() if counts.cases.sum() >= 20 else np.nan
    assert expected(judged, reference(one)) == pytest.approx([plain], nan_ok=True)


@given(cells, cells, st.randoms())
def test_order_and_splitting_of_rows_are_nothing(past, judged, shuffler):
    order = list(range(len(past)))
    shuffler.shuffle(order)
    halves = pd.concat([past.iloc[order].assign(events=past.events / 2, cases=past.cases / 2)] * 2)
    assert expected(judged, reference(halves)) == pytest.approx(expected(judged, reference(past)), nan_ok=True)


@given(cells, cells)
def test_expected_is_never_more_than_the_cases_and_adds_up(past, judged):
    hoped = expected(judged, reference(past))
    if past.cases.sum() < 20:
        assert np.isnan(hoped).all()
    else:
        assert ((hoped >= 0) & (hoped <= judged.cases + 1e-9)).all()


def test_reference_months_are_the_last_24_before_and_at_least_12():
    months = [f"{year}-{month:02}" for year in (2023, 2024, 2025) for month in range(1, 13)]
    assert reference_months(months, "2026-01") == months[-24:]
    assert reference_months(months, "2024-01") == months[:12]
    assert reference_months(months, "2023-12") == []
    assert "2025-06" not in reference_months(months, "2025-06")


def test_each_month_is_held_against_the_months_before_it():
    """24 months of 20 cases of class 1 (2 events) and 20 of class 3 (8 events); month 13 has its classes turned
    round: 5 and 35, with 14 events as its mix makes one expect. The crude rate, 35 %, would look like harm."""
    months = [f"{year}-{month:02}" for year in (2024, 2025) for month in range(1, 13)]
    rows = [(month, "all", mix_) for month in months for mix_ in ((1, 2, 20), (3, 8, 20))]
    counts = pd.DataFrame(
        [(month, level, asa, "dog", False, events, cases) for month, level, (asa, events, cases) in rows],
        columns=["month", "level", "asa_class", "species", "emergency", "events", "cases"],
    )
    turned = counts.month == "2025-01"
    counts.loc[turned, ["events", "cases"]] = [[0, 5], [14, 35]]
    found = by_month(counts, months).set_index("month")
    assert found.index.tolist() == months[12:]
    assert found.loc["2025-01", ["cases", "observed", "expected"]].tolist() == pytest.approx([40, 14, 0.5 + 14])
    assert found.loc["2025-02", "expected"] == pytest.approx(20 * 24 / 245 + 20 * 110 / 275)
    sites = pd.concat([counts.assign(level="north"), counts.assign(level="south")])
    by_site = by_month(sites, months)
    assert len(by_site) == 24
    assert by_site[by_site.level == "north"].expected.tolist() == pytest.approx(found.expected.tolist())


def test_without_twelve_complete_months_nothing_is_expected():
    months = [f"2024-{month:02}" for month in range(1, 13)]
    counts = mix([(1, "dog", False, 2, 20)] * 12).assign(month=months)
    assert by_month(counts, months).empty
    assert list(by_month(counts, months).columns) == ["month", "level", "cases", "observed", "expected"]


def test_running_difference():
    assert observed_minus_expected([1, 0, 0, 1], [0.25] * 4) == pytest.approx([0.75, 0.5, 0.25, 1])
