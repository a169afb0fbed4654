"""One anesthetic drawn whole: readings in panels over one clock, drugs and events in lanes, stages as lines."""

from pipeline.figures.theme import ACCENT, INK, RULE, SIZE, SOFT, WASH, axis, finish, note, plain

PLOT_PX, CHARACTER_PX = 560, 7
"""Width of the narrowest full plot, on paper, and of a character in it [px]."""

GAP_MIN = 12.0
"""A line is broken where readings lie further apart than this [min]."""


def timeline(panels: list[dict], lanes: list[dict], stages: list[tuple[float, str]], ticks: list[tuple[float, str]],
             span: tuple[float, float], *, compact: bool = False):  # fmt: skip
    """The anesthetic as stacked panels.

    panels: dicts with title, range (low, high), series (dicts label, x [min], y, mark: a plotly symbol, 'line' or
    'step', quiet), beyond (list of (from, to) of y that is shaded), episodes (list of (from, to) minutes), removed
    (x, y of readings left out). lanes: dicts with label and marks, each (from, to or None, words). stages: (minute,
    words). ticks: (minute, clock). span: first and last minute. compact: small, for a page of many.
    """
    heights = [74 if compact else 150] * len(panels) + [26 + 22 * len(lanes)] * bool(lanes)
    stages = [stage for stage in stages if span[0] <= stage[0] <= span[1]]
    rows = [-1] * len(stages) if compact else stage_rows(stages, span)
    gap, top = 26, 22 if compact else 44 + 17 * max(rows, default=0)
    total = sum(heights) + gap * (len(heights) - 1)
    traces, notes, shapes, axes, edge = [], [], [], {}, float(total)
    for number, height in enumerate(heights):
        name = "yaxis" if number == 0 else f"yaxis{number + 1}"
        ref = name.replace("axis", "")
        domain = [max(0.0, (edge - height) / total), edge / total]
        edge -= height + gap
        if number < len(panels):
            _panel(panels[number], ref, traces, notes, shapes, domain, span, compact)
            low, high = panels[number]["range"]
            axes[name] = axis("", domain=domain, range=[low, high], nticks=4 if compact else 6, anchor="x")
        else:
            _lanes(lanes, ref, traces, notes, span)
            axes[name] = axis("", domain=domain, range=[len(lanes) - 0.4, -0.6], anchor="x", ticks="",
                              tickvals=list(range(len(lanes))), ticktext=[plain(lane["label"]) for lane in lanes],
                              gridcolor=RULE)  # fmt: skip
    _stages(stages, rows, notes, shapes)
    first = axes.pop("yaxis")
    return finish(
        traces,
        int(total + top + 50),
        xaxis=axis(
            "",
            tickvals=[minute for minute, _ in ticks],
            ticktext=[words for _, words in ticks],
            range=list(span),
            gridcolor=RULE,
            anchor="free",
            position=0,
        ),
        yaxis=first,
        margin={"t": top, "r": 20 if compact else 120},
        annotations=notes,
        shapes=shapes,
        **axes,
    )


def _panel(panel, ref, traces, notes, shapes, domain, span, compact) -> None:
    low, high = panel["range"]
    for start, end in panel["beyond"]:
        shapes.append(
            {
                "type": "rect",
                "layer": "below",
                "xref": "paper",
                "x0": 0,
                "x1": 1,
                "yref": ref,
                "y0": max(start, low),
                "y1": min(end, high),
                "fillcolor": WASH,
                "line": {"width": 0},
            }
        )
    for one in panel["series"]:
        traces.append(_series(one, ref, 4 if compact else 7))
        if one["x"] and not compact:
            notes.append(note(plain(one["label"]), 1, min(max(one["y"][-1], low), high), xref="paper", yref=ref,
                              xanchor="left", xshift=6, yshift=one.get("shift", 0),
                              font={"size": SIZE - 2, "color": SOFT if one.get("quiet") else INK}))  # fmt: skip
    x, y = panel["removed"]
    if x:
        traces.append(
            {
                "type": "scatter",
                "mode": "markers",
                "name": "left out",
                "x": x,
                "y": [min(max(value, low), high) for value in y],
                "yaxis": ref,
                "cliponaxis": False,
                "hovertemplate": [f"left out: {value:g}<extra></extra>" for value in y],
                "marker": {"symbol": "x-thin-open", "size": 8, "color": SOFT, "line": {"width": 1.5}},
            }
        )
    for start, end in panel["episodes"]:
        shapes.append({"type": "line", "yref": ref, "x0": start, "x1": max(end, start + (span[1] - span[0]) / 200),
                       "y0": low, "y1": low, "line": {"color": ACCENT, "width": 7}})  # fmt: skip
    notes.append(
        note(
            plain(panel["title"]),
            0,
            domain[1],
            xref="paper",
            yref="paper",
            xanchor="left",
            yanchor="bottom",
            yshift=1,
            font={"size": SIZE - (2 if compact else 1), "color": SOFT},
        )
    )


def _series(one: dict, ref: str, size: int) -> dict:
    color = SOFT if one.get("quiet") else INK
    trace = {"type": "scatter", "name": plain(one["label"]), "yaxis": ref, "x": one["x"], "y": one["y"],
             "hovertemplate": f"{plain(one['label'])}: %{{y:.4g}}<extra></extra>"}  # fmt: skip
    if one["mark"] in ("line", "step"):
        x, y = broken(one["x"], one["y"]) if one["mark"] == "line" else (one["x"], one["y"])
        dash = "dot" if one.get("quiet") else "solid"
        dots = {"mode": "lines+markers", "marker": {"size": max(size - 2, 3), "color": color, "opacity": 1}}
        return (
            trace
            | (dots if one["mark"] == "line" else {"mode": "lines"})
            | {
                "x": x,
                "y": y,
                "connectgaps": False,
                "cliponaxis": False,
                "line": {
                    "color": color,
                    "width": 2,
                    "dash": dash,
                    "shape": "hv" if one["mark"] == "step" else "linear",
                },
            }
        )
    marker = {"symbol": one["mark"], "size": size, "color": color, "opacity": 1, "line": {"width": 1.5, "color": color}}
    return trace | {"mode": "markers", "marker": marker, "cliponaxis": False}


def broken(x: list, y: list) -> tuple[list, list]:
    """The same line with a gap wherever the record has one.

    >>> broken([0, 5, 30], [1, 2, 3])
    ([0, 5, 17.5, 30], [1, 2, None, 3])
    """
    out_x, out_y = list(x[:1]), list(y[:1])
    for before, now, value in zip(x, x[1:], y[1:], strict=False):
        if now - before > GAP_MIN:
            out_x.append((before + now) / 2)
            out_y.append(None)
        out_x.append(now)
        out_y.append(value)
    return out_x, out_y


def _lanes(lanes, ref, traces, notes, span) -> None:
    scale = PLOT_PX / (span[1] - span[0])
    for place, lane in enumerate(lanes):
        color, taken = ACCENT if lane.get("event") else INK, float("-inf")
        for start, end, words in lane["marks"]:
            at = min(max(start, span[0]), span[1])
            until = at if end is None else min(max(end, at), span[1])
            if until > at:
                traces.append({"type": "scatter", "mode": "lines", "x": [at, until], "yaxis": ref, "y": [place, place],
                               "line": {"color": INK, "width": 5}, "hoverinfo": "skip"})  # fmt: skip
            traces.append({"type": "scatter", "mode": "markers", "x": [at], "y": [place], "yaxis": ref,
                           "cliponaxis": False, "hovertemplate": plain(words) + "<extra></extra>",
                           "marker": {"symbol": "triangle-up" if lane.get("event") else "line-ns-open", "size": 11,
                                      "color": color, "opacity": 1, "line": {"width": 2}}})  # fmt: skip
            late = until > span[0] + 0.8 * (span[1] - span[0])
            room = (CHARACTER_PX * len(words) + 16) / scale
            begins = at - room if late else until
            if begins < taken:
                continue
            taken = begins + room
            notes.append(note(plain(words), at if late else until, place, yref=ref, xanchor="right" if late else "left",
                              xshift=-8 if late else 8, font={"size": SIZE - 3, "color": color}))  # fmt: skip


def stage_rows(stages: list[tuple[float, str]], span: tuple[float, float]) -> list[int]:
    """The row each stage's words stand in, so that none covers another.

    >>> stage_rows([(0, "induction"), (1, "airway secured"), (100, "extubation")], (0, 100))
    [0, 1, 0]
    """
    ends: list[float] = []
    rows = []
    scale = PLOT_PX / (span[1] - span[0])
    for minute, words in stages:
        row = next((row for row, end in enumerate(ends) if end <= minute), len(ends))
        ends[row : row + 1] = [minute + (CHARACTER_PX * len(words) + 10) / scale]
        rows.append(row)
    return rows


def _stages(stages, rows, notes, shapes) -> None:
    for (minute, words), row in zip(stages, rows, strict=True):
        shapes.append({"type": "line", "x0": minute, "x1": minute, "yref": "paper", "y0": 0, "y1": 1, "layer": "below",
                       "line": {"color": SOFT, "width": 1, "dash": "dot"}})  # fmt: skip
        if rows[0] >= 0:
            notes.append(note(plain(words), minute, 1, yref="paper", yanchor="bottom", xanchor="left", xshift=2,
                              yshift=20 + 17 * row, font={"size": SIZE - 3, "color": SOFT}))  # fmt: skip
