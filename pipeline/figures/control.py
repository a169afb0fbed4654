"""A measure by month against what chance alone would give: line, limits as steps, signals as large diamonds."""

from pipeline.figures.months import band, month_axis
from pipeline.figures.theme import ACCENT, INK, SIZE, SOFT, axis, finish, note, percent_axis, plain


def control(points: list[dict], title: str, *, share: bool = True, changes: dict[int, str] | None = None,
            labels: list[str] | None = None, baseline: tuple[int, int] | None = None):  # fmt: skip
    """A control chart.

    points: dicts in order with month 'YYYY-MM', value, centre, low, high (None where there is none), partial,
    signal ('' or the words of the rule that fired). share: values are shares 0 to 1. changes: place -> words of a
    dated change in practice. labels: tick words where the points are not months. baseline: first and last place of
    the points the limits come from.
    """
    x = list(range(len(points)))
    values = [one["value"] for one in points]
    low, high, centre = ([one[name] for one in points] for name in ("low", "high", "centre"))
    traces = _limits(x, low, high)
    traces.append({"type": "scatter", "mode": "lines", "x": x, "y": centre, "hoverinfo": "skip",
                   "line": {"color": INK, "width": 1.3, "shape": "hvh"}})  # fmt: skip
    traces.append(
        {"type": "scatter", "mode": "lines+markers", "name": "value", "x": x, "y": values, "connectgaps": False,
         "line": {"color": INK, "width": 1.6}, "cliponaxis": False,
         "marker": {"symbol": ["circle-open" if one["partial"] else "circle" for one in points], "size": 8,
                    "color": INK, "opacity": 1, "line": {"width": 2, "color": INK}},
         "hovertemplate": [
             f"{one['month']}: {_said(one['value'], share)}<extra></extra>" if one["value"] is not None else ""
             for one in points
         ]}
    )  # fmt: skip
    fired = [i for i in x if points[i]["signal"] and values[i] is not None]
    if fired:
        traces.append({"type": "scatter", "mode": "markers", "name": "signal", "x": fired, "cliponaxis": False,
                       "y": [values[i] for i in fired], "hoverinfo": "text",
                       "text": [plain(f"{points[i]['month']}: {points[i]['signal']}") for i in fired],
                       "marker": {"symbol": "diamond", "size": 15, "color": ACCENT, "opacity": 1}})  # fmt: skip
    known = [value for value in [*values, *high, *centre] if value is not None]
    top = max(known, default=1)
    notes, shapes = _changes(changes or {}, len(points), baseline)
    x_axis = month_axis([one["month"] for one in points])
    if labels:
        spots = x[:: max(1, -(-len(x) // 5))]
        x_axis = axis("", tickvals=spots, ticktext=[labels[i].replace(" ", "<br>") for i in spots], showgrid=False)
    y_axis = percent_axis(title, top) if share else axis(title, range=[0, top * 1.1])
    return finish(traces, 300, xaxis=x_axis, yaxis=y_axis, margin={"t": 40 if notes else 14},
                  annotations=notes, shapes=shapes)  # fmt: skip


def _said(value: float, share: bool) -> str:
    return f"{100 * value:.1f}%" if share else f"{value:.4g}"


def _limits(x: list, low: list, high: list) -> list[dict]:
    """The shaded range as steps a month wide, and its dashed edges."""
    edges, steps_low, steps_high = [], [], []
    for i, under, over in zip(x, low, high, strict=True):
        edges += [i - 0.5, i + 0.5]
        steps_low += [under if over is not None else None] * 2
        steps_high += [over if under is not None else None] * 2
    shaded = band(edges, steps_low, steps_high)
    dashes = [{"type": "scatter", "mode": "lines", "x": edges, "y": side, "connectgaps": False, "hoverinfo": "skip",
               "line": {"color": SOFT, "width": 1, "dash": "dash"}} for side in (steps_low, steps_high)]  # fmt: skip
    return shaded + dashes


def _changes(changes: dict[int, str], count: int, baseline) -> tuple[list[dict], list[dict]]:
    notes, shapes = [], []
    for place, words in changes.items():
        shapes.append({"type": "line", "x0": place - 0.5, "x1": place - 0.5, "y0": 0, "y1": 1, "yref": "paper",
                       "line": {"color": ACCENT, "width": 1.5, "dash": "dot"}})  # fmt: skip
        late = place > count / 2
        notes.append(note(plain(words), place - 0.5, 1.0, yref="paper", yanchor="bottom",
                          xanchor="right" if late else "left", font={"size": SIZE - 2, "color": ACCENT}))  # fmt: skip
    if baseline:
        shapes.append({"type": "line", "x0": baseline[0] - 0.4, "x1": baseline[1] + 0.4, "y0": 0, "y1": 0,
                       "yref": "paper", "line": {"color": INK, "width": 4}})  # fmt: skip
    return notes, shapes
