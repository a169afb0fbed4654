"""Observed against expected: groups in their funnel, the running sum, ratios with intervals."""

from pipeline.figures.months import month_axis, month_words
from pipeline.figures.theme import ACCENT, INK, SIZE, SOFT, axis, finish, note, percent_axis, plain


def funnel(groups: list[dict], limits: dict, target: float, title: str):
    """Shares against group size inside the limits that chance gives.

    groups: dicts with label, cases, value (share), out (beyond the outer limit). limits: lists cases, low_95,
    high_95, low_998, high_998, wide_low_998, wide_high_998 over a range of sizes. target: the share of the whole.
    """
    traces = []
    for low, high, dash, words in (("low_95", "high_95", "dash", "95%"), ("low_998", "high_998", "solid", "99.8%"),
                                   ("wide_low_998", "wide_high_998", "dot", "99.8%, over-dispersed")):  # fmt: skip
        for side in (low, high):
            traces.append({"type": "scatter", "mode": "lines", "x": limits["cases"], "y": limits[side], "name": words,
                           "hoverinfo": "skip", "line": {"color": SOFT, "width": 1.3, "dash": dash}})  # fmt: skip
    traces.append(
        {
            "type": "scatter",
            "mode": "lines",
            "x": [limits["cases"][0], limits["cases"][-1]],
            "hoverinfo": "skip",
            "y": [target, target],
            "line": {"color": INK, "width": 1.3},
        }
    )
    traces.append(
        {
            "type": "scatter",
            "mode": "markers",
            "name": "group",
            "x": [one["cases"] for one in groups],
            "y": [one["value"] for one in groups],
            "cliponaxis": False,
            "hovertemplate": [
                f"{plain(one['label'])}: {100 * one['value']:.1f}% of {one['cases']:.0f}<extra></extra>"
                for one in groups
            ],
            "marker": {
                "symbol": ["diamond" if one["out"] else "circle" for one in groups],
                "opacity": 1,
                "size": [14 if one["out"] else 10 for one in groups],
                "color": [ACCENT if one["out"] else INK for one in groups],
            },
        }
    )
    top = max([one["value"] for one in groups] + [value for value in limits["high_998"] if value is not None][2:])
    notes = _names(groups, limits["cases"][-1], min(top, 1))
    for side, words, shift in (
        ("high_95", "95%", -8),
        ("high_998", "99.8%", 3),
        ("wide_high_998", "over-dispersed", 15),
    ):
        notes.append(note(words, limits["cases"][-1], limits[side][-1], xanchor="left", xshift=5, yshift=shift,
                          font={"size": SIZE - 3, "color": SOFT}))  # fmt: skip
    return finish(
        traces, 380,
        xaxis=axis("cases judged", range=[0, limits["cases"][-1] * 1.02], showgrid=False),
        yaxis=percent_axis(title, min(top, 1)),
        margin={"r": 110}, annotations=notes,
    )  # fmt: skip


def _names(groups: list[dict], across: float, top: float) -> list[dict]:
    """The name of each group above its mark, else below, else beside it: where it covers no other name or mark."""
    wide, tall, letter, line = 640 / across, 300 / top, 7, 15  # pixels of the plot at its narrowest
    marks = [(one["cases"] * wide - 6, one["cases"] * wide + 6, one["value"] * tall) for one in groups]
    taken: list[tuple[float, float, float]] = []
    notes = []
    for place in sorted(range(len(groups)), key=lambda place: groups[place]["cases"]):
        label, (left, right, height) = plain(groups[place]["label"]), marks[place]
        length, middle = letter * len(label), (left + right) / 2
        others = taken + marks[:place] + marks[place + 1 :]
        spots = [
            (middle - length / 2, height + 14, {"yshift": 14}),
            (middle - length / 2, height - 14, {"yshift": -14}),
            (right + 4, height, {"xanchor": "left", "xshift": 10}),
        ]
        free = (
            spot for spot in spots
            if spot[0] > 0 and not any(spot[0] < end and begin < spot[0] + length and abs(spot[1] - level) < line
                                       for begin, end, level in others)
        )  # fmt: skip
        start, at, where = next(free, spots[-1])
        taken.append((start, start + length, at))
        notes.append(note(label, groups[place]["cases"], groups[place]["value"], **where,
                          font={"size": SIZE - 2, "color": INK}))  # fmt: skip
    return notes


def cumulative(cases: list[int], sums: list[float], ends: list[tuple[int, str]], title: str,
               marked_from: int | None = None):  # fmt: skip
    """The running sum of observed minus expected over cases in order: level where things go as before.

    cases: number of each case drawn, from 1; ends: (number of a month's last case, 'YYYY-MM'); marked_from: first case
    of the month judged.
    """
    traces = [{"type": "scatter", "mode": "lines", "x": cases, "y": sums, "hoverinfo": "skip", "name": "sum",
               "line": {"color": INK, "width": 2, "shape": "hv"}}]  # fmt: skip
    late = [place for place, case in enumerate(cases) if marked_from is not None and case >= marked_from]
    if late:
        traces.append({"type": "scatter", "mode": "lines", "x": cases[late[0] :], "y": sums[late[0] :], "name": "month",
                       "hoverinfo": "skip", "line": {"color": ACCENT, "width": 4, "shape": "hv"}})  # fmt: skip
    every = max(1, -(-len(ends) // 7))
    ticks = ends[::every]
    return finish(
        traces, 300,
        xaxis=axis("cases in order; under each month, its end", tickvals=[place for place, _ in ticks],
                   ticktext=month_words([month for _, month in ticks]), showgrid=False),
        yaxis=axis(title, zeroline=True, zerolinecolor=INK, zerolinewidth=1),
        margin={"r": 60},
        annotations=[note("as expected", 1, 0, xref="paper", xanchor="right", yanchor="bottom",
                          font={"size": SIZE - 2, "color": SOFT})],
    )  # fmt: skip


def ratios(months: list[str], points: list[dict], title: str, marked: str = ""):
    """O/E by month with exact intervals, 1 as the line. points: dicts value, low, high (None: not shown)."""
    import math

    spots = [i for i, one in enumerate(points) if one["value"] is not None]
    top = min(max([one["high"] for one in points if one["high"] is not None and math.isfinite(one["high"])] + [2]), 8)
    traces = [
        {"type": "scatter", "mode": "lines", "x": [-0.5, len(months) - 0.5], "y": [1, 1], "hoverinfo": "skip",
         "line": {"color": INK, "width": 1.3}},
        {"type": "scatter", "mode": "markers", "name": "ratio", "x": spots, "y": [points[i]["value"] for i in spots],
         "marker": {"symbol": ["diamond" if months[i] == marked else "circle" for i in spots], "opacity": 1,
                    "size": [12 if months[i] == marked else 9 for i in spots],
                    "color": [ACCENT if months[i] == marked else INK for i in spots]},
         "error_y": {"type": "data", "symmetric": False, "color": INK, "thickness": 1.3, "width": 3,
                     "array": [(min(points[i]["high"], top) if points[i]["high"] is not None else points[i]["value"])
                               - points[i]["value"] for i in spots],
                     "arrayminus": [points[i]["value"] - (points[i]["low"] or 0) for i in spots]},
         "hovertemplate": [f"{months[i]}: {points[i]['value']:.2f}<extra></extra>" for i in spots]},
    ]  # fmt: skip
    return finish(traces, 280, xaxis=month_axis(months), yaxis=axis(title, range=[-0.1, top * 1.05]))
