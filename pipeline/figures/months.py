"""Anything counted or measured by month: sticks for counts, lines for values, ranges as bands."""

from pipeline.figures.theme import ACCENT, DASHES, INK, PAPER, SHAPES, SIZE, SOFT, WASH, axis, finish, nice_step, plain


def month_axis(months: list[str]) -> dict:
    """A time axis over months 'YYYY-MM': about six labels, the year once."""
    every = max(1, nice_month_step(len(months)))
    ticks = list(range((len(months) - 1) % every, len(months), every))
    return axis(
        "",
        tickvals=ticks,
        ticktext=month_words([months[tick] for tick in ticks]),
        range=[-0.6, len(months) - 0.4],
        showgrid=False,
    )


def month_words(months: list[str]) -> list[str]:
    """Short names of months 'YYYY-MM' in order, the year under the first of each.

    >>> month_words(["2025-11", "2026-01", "2026-03"])
    ['Nov<br>2025', 'Jan<br>2026', 'Mar']
    """
    names = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
    words, year = [], ""
    for month in months:
        name = names[int(month[5:7]) - 1]
        words.append(name if month[:4] == year else f"{name}<br>{month[:4]}")
        year = month[:4]
    return words


def nice_month_step(count: int) -> int:
    """Months between labels, so that about six fit: 1, 2, 3, 6, 12, 24."""
    return next((step for step in (1, 2, 3, 6, 12) if count / step <= 7), 24)


def sticks(months: list[str], values: list, title: str, *, partial: list[bool] | None = None, marked: str = ""):
    """One vertical stick a month from zero with a dot on top; months that are not complete are hollow, the month
    marked is a diamond. values: counts or totals [axis unit named in title], None where unknown."""
    hollow = partial or [False] * len(months)
    spots = [i for i, value in enumerate(values) if value is not None]
    stems_x, stems_y = [], []
    for i in spots:
        stems_x += [i, i, None]
        stems_y += [0, values[i], None]
    top = max([values[i] for i in spots] + [1])
    symbols = [("diamond" if months[i] == marked else "circle") + ("-open" if hollow[i] else "") for i in spots]
    colors = [ACCENT if months[i] == marked else INK for i in spots]
    traces = [
        {"type": "scatter", "mode": "lines", "x": stems_x, "y": stems_y, "line": {"color": INK, "width": 1.5},
         "hoverinfo": "skip"},
        {"type": "scatter", "mode": "markers", "x": spots, "y": [values[i] for i in spots], "cliponaxis": False,
         "marker": {"symbol": symbols, "size": [13 if months[i] == marked else 9 for i in spots], "opacity": 1,
                    "color": colors, "line": {"width": 2, "color": colors}},
         "hovertemplate": [f"{months[i]}: {values[i]:g}<extra></extra>" for i in spots]},
    ]  # fmt: skip
    step = nice_step(top)
    return finish(
        traces,
        250,
        xaxis=month_axis(months),
        yaxis=axis(title, range=[0, top * 1.08], dtick=step),
    )


def lines(months: list[str], series: list[dict], title: str, *, top: float | None = None, zero: bool = True,
          height: int = 300):  # fmt: skip
    """Lines by month, labelled at their right ends.

    series: dicts with label, values (None leaves a gap), and optionally low, high (a band), partial (hollow points),
    quiet (thin and without points). title: what the axis shows, with its unit.
    """
    traces, notes, highest, lowest = [], [], [], []
    for number, one in enumerate(series):
        x, values = list(range(len(months))), one["values"]
        color = INK if number == 0 else ACCENT if number == 1 else SOFT
        if "low" in one:
            traces += band(x, one["low"], one["high"])
            highest += [value for value in one["high"] if value is not None]
            lowest += [value for value in one["low"] if value is not None]
        hollow = one.get("partial") or [False] * len(months)
        traces.append(
            {"type": "scatter", "x": x, "y": values, "name": plain(one["label"]),
             "mode": "lines" if one.get("quiet") else "lines+markers", "connectgaps": False,
             "line": {"color": color, "width": 1.5 if one.get("quiet") else 2, "dash": DASHES[number % 5]},
             "marker": {"symbol": [SHAPES[number % 5] + ("-open" if flag else "") for flag in hollow], "size": 8,
                        "color": color, "opacity": 1},
             "hovertemplate": [f"{plain(one['label'])}, {month}: {0 if v is None else v:.4g}<extra></extra>"
                               for month, v in zip(months, values, strict=True)]}
        )  # fmt: skip
        known = [(i, value) for i, value in enumerate(values) if value is not None]
        if known and one["label"]:
            notes.append({"text": plain(one["label"]), "x": known[-1][0], "y": known[-1][1], "xanchor": "left",
                          "xshift": 10, "showarrow": False, "font": {"size": SIZE, "color": color}})  # fmt: skip
        highest += [value for _, value in known]
        lowest += [value for _, value in known]
    ceiling = top if top is not None else max(highest + [0.001])
    floor = 0 if zero else min(lowest + [ceiling])
    pad = (ceiling - floor or 1) * 0.06
    return finish(
        traces,
        height,
        xaxis=month_axis(months),
        yaxis=axis(title, range=[floor - (0.02 * ceiling if zero else pad), ceiling + pad]),
        margin={"r": 20 + 8 * max([len(one["label"]) for one in series] + [0])},
        annotations=notes,
    )


def band(x: list, low: list, high: list, shape: str = "linear") -> list[dict]:
    """A shaded range between low and high, in the order plotly fills; gaps in either end it."""
    traces, start = [], 0
    while start < len(x):
        if low[start] is None or high[start] is None:
            start += 1
            continue
        end = start
        while end < len(x) and low[end] is not None and high[end] is not None:
            end += 1
        edge = {"type": "scatter", "mode": "lines", "x": x[start:end], "hoverinfo": "skip"}
        traces.append({**edge, "y": low[start:end], "line": {"width": 0, "color": PAPER, "shape": shape}})
        traces.append({**edge, "y": high[start:end], "fill": "tonexty", "fillcolor": WASH,
                       "line": {"width": 0, "color": PAPER, "shape": shape}})  # fmt: skip
        start = end
    return traces
