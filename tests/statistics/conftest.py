"""Makers of monthly series: counts in, a chart's series out."""

import numpy as np
import pytest
from hypothesis import settings

from pipeline.statistics.charts import Cases, Series

# Judged by what they find, not by how busy the machine is.
settings.register_profile("no deadline", deadline=None)
settings.load_profile("no deadline")


def month_names(count: int, first: int = 2024 * 12) -> list[str]:
    """So many months 'YYYY-MM' from January 2024."""
    return [f"{number // 12:04d}-{number % 12 + 1:02d}" for number in range(first, first + count)]


@pytest.fixture(scope="session")
def share():
    """Series of a share from events and cases by month; partial: its last months are not complete. The events of
    a month fall on its first cases unless mixed, a random generator, deals them out."""

    def make(events, cases, measure="hypothermia", partial=0, by_case=True, mixed=None, **more):
        events, cases = (np.broadcast_arrays(np.asarray(part), np.asarray(events))[0] for part in (events, cases))
        months = month_names(len(events))
        has = [np.repeat([1, 0], [e, n - e]) for e, n in zip(events, cases, strict=True)]
        has = np.concatenate([mixed.permutation(one) if mixed else one for one in has])
        of_case = np.repeat(months, cases).tolist()
        value = [e / n if n else None for e, n in zip(events, cases, strict=True)]
        return Series(
            measure, "share", months, value, [True] * (len(months) - partial) + [False] * partial, list(events),
            list(cases), cases=Cases(of_case, has.tolist()) if by_case else None, **more,
        )  # fmt: skip

    return make


@pytest.fixture(scope="session")
def values():
    """Series of monthly values such as medians."""

    def make(numbers, measure="to_sternal", **more):
        return Series(
            measure, "value", month_names(len(numbers)), list(numbers), [True] * len(numbers), unit="min", **more
        )

    return make
