"""Which signals come first, and what stands behind each in words: counts, baseline, chance, and never a cause."""

from collections.abc import Callable, Iterable
from math import expm1, log1p

from pipeline.statistics.charts import Chart
from pipeline.statistics.false_signals import PageRate
from pipeline.statistics.signals import Signal


def strongest(judged: Iterable[tuple[Chart, list[Signal]]]) -> list[tuple[Signal, Chart]]:
    """The news of a page: the strongest recent signal of each measure, strongest evidence first.

    judged : charts with their signals, the strongest of each first. Where groups have charts of their own, a group
    that fired speaks for its measure, since it says where.
    """
    news = [(next(one for one in signals if one.recent), chart) for chart, signals in judged
            if any(one.recent for one in signals)]  # fmt: skip
    kept: dict[str, tuple[Signal, Chart]] = {}
    for signal, chart in sorted(news, key=lambda pair: (pair[0].by == "all", pair[0].strength, pair[0].level)):
        kept.setdefault(signal.measure, (signal, chart))
    return sorted(kept.values(), key=lambda pair: (pair[0].strength, pair[0].measure))


class Writer:
    """Writes what stands behind a signal with a page's own numbers.

    show : has share(value), number(value, digits) and count(value), as reporting.display.Display
    month : 'YYYY-MM' -> as the page writes it
    fewest : on a shared page, counts under this are left out; 0 shows all
    """

    def __init__(self, show, month: Callable[[str], str], fewest: int = 0):
        self.show, self.month, self.fewest = show, month, fewest

    def evidence(self, signal: Signal, charts: int = 1) -> str:
        """One sentence. charts : of the page, for how often chance alone gives as much on one of them."""
        told = f"Counts under {self.fewest} are not shown"
        if not self._small(signal.parts):
            told = {
                "limits": self._limits, "run": self._run, "crossings": self._crossings, "cluster": self._cluster,
                "change": self._change,
            }[signal.rule](signal, signal.parts)  # fmt: skip
        return f"{told[:1].upper()}{told[1:]}; chance alone gives as much {self._by_chance(signal, charts)}."

    def chance(self, rate: PageRate) -> str:
        """What to make of all signals together: how many false ones such a page shows."""
        if not rate.charts:
            return "No signal can be told from chance yet, as no measure has 8 complete months."
        return (
            f"Were nothing to change, such a page would show {self.show.number(rate.expected_recent, 1)} on average,"
            f" and one or more {self.show.share(rate.page_recent, 0)} of the time."
        )

    def _limits(self, signal: Signal, parts: dict) -> str:
        bound = "upper" if signal.side == "above" else "lower"
        limit = f"the {bound} limit of {self._number(parts, parts['limit'])} is set by {self._base(parts)}"
        return limit if parts["kind"] != "share" or "gap" in parts else f"{self._found(parts)}; {limit}"

    def _run(self, signal: Signal, parts: dict) -> str:
        chance = f"{self._middle(parts)}, and chance allows {parts['most']} in a row"
        if "gap" in parts or "other_value" not in parts:
            return chance
        mean = " on average" if parts["kind"] == "value" else ""
        return f"{self._found(parts)}{mean}, against {self._found(parts, 'other_')}{mean} in the other months; {chance}"

    def _crossings(self, signal: Signal, parts: dict) -> str:
        return (
            f"{self._middle(parts)}, and chance gives {parts['fewest']} crossings or more: high and low months come in"
            " stretches"
        )

    def _cluster(self, signal: Signal, parts: dict) -> str:
        now, before = (
            self._found(parts, which)
            if parts["kind"] == "rate"
            else self.show.share(parts[f"{which}numerator"] / parts[f"{which}denominator"])
            for which in ("", "other_")
        )
        return f"{now} against {before} in {self._base(parts)}"

    def _change(self, signal: Signal, parts: dict) -> str:
        scale, unit = (100, "percentage points") if parts["unit"] == "share" else (1, parts["unit"])
        difference, low, high = (
            self.show.number(scale * parts[key], 1) for key in ("difference", "difference_low", "difference_high")
        )
        mean = " on average" if parts["kind"] == "value" else ""
        return (
            f"{self._found(parts)}{mean} in the {signal.points} months from {self.month(signal.since)}, as the settings"
            f" state, against {self._found(parts, 'other_')} in the {parts['before_points']} before, a difference of"
            f" {difference} {unit} (95% interval {low} to {high}), which does not say why"
        )

    def _middle(self, parts: dict) -> str:
        return f"the middle is {self._number(parts, parts['middle'])}, the median of {self._base(parts)}"

    def _found(self, parts: dict, which: str = "") -> str:
        """'12 of 61 cases (19.7%)', '5 in 320.0 h', '21.5 min'."""
        value, top, bottom = (parts.get(f"{which}{key}") for key in ("value", "numerator", "denominator"))
        if parts["kind"] == "value":
            return self._number(parts, value)
        if parts["kind"] == "rate":
            return f"{self.show.count(top)} in {self.show.number(bottom, 1)} {parts['unit']}"
        share = f" ({self.show.share(top / bottom)})" if bottom else ""
        return f"{self.show.count(top)} of {self.show.count(bottom)} cases{share}"

    def _small(self, parts: dict) -> bool:
        """Whether a count of cases in it, or what is left of the cases, is too small for a shared page."""
        if parts["kind"] != "share":
            return False
        counts = [(parts[key], parts[key.replace("numerator", "denominator")]) for key in
                  ("numerator", "other_numerator") if key in parts]  # fmt: skip
        return any(min(top, bottom - top) < self.fewest for top, bottom in counts)

    def _number(self, parts: dict, value: float) -> str:
        if "gap" in parts:
            return f"{self.show.number(value, 0 if parts['gap'] == 'cases' else 1)} {parts['gap']}"
        return self.show.share(value) if parts["unit"] == "share" else f"{self.show.number(value, 1)} {parts['unit']}"

    def _base(self, parts: dict) -> str:
        return f"the {parts['base_months']} complete months {self.month(parts['base_from'])} to" \
               f" {self.month(parts['base_to'])}"  # fmt: skip

    def _by_chance(self, signal: Signal, charts: int) -> str:
        """How often a page of so many charts shows one as strong with nothing changed."""
        pages = -expm1(max(charts, 1) * log1p(-min(signal.strength, 1 - 1e-12)))
        if pages < 0.001:
            return f"on fewer than 1 in {self.show.count(1000)} pages of {max(charts, 1)} charts"
        return f"on {self.show.share(pages)} of pages of {max(charts, 1)} charts"
