"""Signals in words: which come first, what was counted, how often chance gives as much, and never a cause."""

from collections.abc import Callable, Iterable
from math import expm1, log1p

from pipeline.statistics.charts import Chart
from pipeline.statistics.false_signals import PageRate
from pipeline.statistics.signals import RULES, Signal


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
    """Writes sentences with a page's own numbers and names.

    show : has share(value), number(value, digits) and count(value), as reporting.display.Display
    name : measure -> its title, 'hypothermia'
    month : 'YYYY-MM' -> as the page writes it
    level : (by, level) -> words for a group, '' for all; 'site north'
    fewest : on a shared page, sentences with a count under this leave their numbers out; 0 shows all
    """

    def __init__(
        self,
        show,
        name: Callable[[str], str],
        month: Callable[[str], str],
        level: Callable[[str, str], str] = lambda by, level: "" if by == "all" else level,
        fewest: int = 0,
    ):
        self.show, self.name, self.month, self.level, self.fewest = show, name, month, level, fewest

    def signal(self, signal: Signal, charts: int = 1) -> str:
        """One signal in one sentence. charts : of the page, for how often chance alone gives as much on one."""
        told = {
            "limits": self._limits, "run": self._run, "crossings": self._crossings, "cluster": self._cluster,
            "change": self._change,
        }[signal.rule](signal, signal.parts)  # fmt: skip
        if self._small(signal.parts):
            told = f"{RULES[signal.rule]}, {self.month(signal.since)} to {self.month(signal.until)}, {self._hidden()}"
        return f"{self._title(signal)}: {told}; chance alone gives as much {self._by_chance(signal, charts)}."

    def tally(self, fired: int, rate: PageRate) -> str:
        """What to make of it all: how many false signals such a page shows."""
        if not rate.charts:
            return "No signal can be told from chance yet, as no measure has 8 complete months."
        told = "No signal" if not fired else f"{fired} signal{'s' * (fired > 1)}"
        charts = f"{rate.charts} chart{'s' * (rate.charts > 1)}"
        return (
            f"{told} within the last three months on {charts}; were nothing to change, such a page would show"
            f" {self.show.number(rate.expected_recent, 1)} on average, and one or more"
            f" {self.show.share(rate.page_recent, 0)} of the time."
        )

    def _limits(self, signal: Signal, parts: dict) -> str:
        bound = "above the upper limit" if signal.side == "above" else "below the lower limit"
        limit = self._number(parts, parts["limit"])
        if signal.chart in ("g", "t"):
            return (
                f"{self._gap(signal, parts['value'])} up to {self.month(signal.until)}, {bound} of {limit}"
                f" set by {self._base(parts)}"
            )
        others = ""
        if signal.points > 1:
            others = f", one of {signal.points} such months since {self.month(signal.since)}"
        return (
            f"{self._found(parts)} in {self.month(signal.until)}, {bound} of {limit} set by {self._base(parts)}{others}"
        )

    def _run(self, signal: Signal, parts: dict) -> str:
        middle = self._number(parts, parts["middle"])
        when = f"{self.month(signal.since)} to {self.month(signal.until)}"
        if signal.chart in ("g", "t"):
            longer = "longer" if signal.side == "above" else "shorter"
            return (
                f"{signal.points} times in a row, {when}, the gap to the next was {longer} than the baseline median"
                f" of {middle}, where chance allows {parts['most']} in a row"
            )
        mean = " on average" if parts["kind"] == "value" else ""
        other = f", against {self._found(parts, 'other_')}{mean} in the other months" if "other_value" in parts else ""
        return (
            f"{signal.points} months in a row, {when}, lie {signal.side} the baseline median of {middle}:"
            f" {self._found(parts)}{mean}{other}, where chance allows {parts['most']} in a row"
        )

    def _crossings(self, signal: Signal, parts: dict) -> str:
        return (
            f"from {self.month(signal.since)} to {self.month(signal.until)} it crosses the baseline median of"
            f" {self._number(parts, parts['middle'])} {parts['crossings']} times, where chance gives"
            f" {parts['fewest']} or more: high and low months come in stretches"
        )

    def _cluster(self, signal: Signal, parts: dict) -> str:
        when = self.month(signal.until)
        if signal.since != signal.until:
            when = f"{self.month(signal.since)} to {when}"
        return f"{self._found(parts)} in {when}, against {self._found(parts, 'other_')} in {self._base(parts)}"

    def _change(self, signal: Signal, parts: dict) -> str:
        scale, unit = (100, "percentage points") if parts["unit"] == "share" else (1, parts["unit"])
        difference, low, high = (
            self.show.number(scale * parts[key], 1) for key in ("difference", "difference_low", "difference_high")
        )
        mean = " on average" if parts["kind"] == "value" else ""
        return (
            f"{self._found(parts)}{mean} in the {signal.points} months from {self.month(signal.since)}, for which the"
            f" settings state '{parts['change']}', against {self._found(parts, 'other_')} in the"
            f" {parts['before_points']} before, a difference of {difference} {unit} (95% interval {low} to {high}),"
            " which does not say why"
        )

    def _title(self, of: Signal) -> str:
        title, group = self.name(of.measure), self.level(of.by, of.level)
        return title[:1].upper() + title[1:] + (f" ({group})" if group else "")

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

    def _hidden(self) -> str:
        return f"counts under {self.fewest} not shown"

    def _number(self, parts: dict, value: float) -> str:
        if "gap" in parts:
            return f"{self.show.number(value, 0 if parts['gap'] == 'cases' else 1)} {parts['gap']}"
        return self.show.share(value) if parts["unit"] == "share" else f"{self.show.number(value, 1)} {parts['unit']}"

    def _gap(self, signal: Signal, value: float) -> str:
        if signal.chart == "t":
            return f"{self.show.number(value, 1)} {signal.parts['gap']} without one"
        return f"{self.show.count(value)} cases in a row {'with' if signal.parts['turned'] else 'without'} it"

    def _base(self, parts: dict) -> str:
        return f"the {parts['base_months']} complete months {self.month(parts['base_from'])} to" \
               f" {self.month(parts['base_to'])}"  # fmt: skip

    def _by_chance(self, signal: Signal, charts: int) -> str:
        """How often a page of so many charts shows one as strong with nothing changed."""
        pages = -expm1(max(charts, 1) * log1p(-min(signal.strength, 1 - 1e-12)))
        if pages < 0.001:
            return f"on fewer than 1 in {self.show.count(1000)} pages of {max(charts, 1)} charts"
        return f"on {self.show.share(pages)} of pages of {max(charts, 1)} charts"
