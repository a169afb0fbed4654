"""Many cases at once: lowest temperature against duration, the hours of the day, detected beside charted."""

from pipeline.figures.theme import ACCENT, CLEAR, INK, SIZE, SOFT, WASH, axis, finish, nice_step, note, plain


def scatter(
    x: list,
    y: list,
    marked: list[bool],
    x_title: str,
    y_title: str,
    *,
    beyond: tuple[float, float, str] | None,
    line: tuple[list, list] | None = None,
    height: int = 400,
):
    """One ring a case, the month's as diamonds. beyond: (from, to, words) of y that is shaded; line: medians of
    classes of x as (x, y)."""
    traces, notes, shapes = [], [], []
    for flag, symbol, color, size in ((False, "circle-open", SOFT, 6), (True, "diamond", ACCENT, 9)):
        spots = [i for i, was in enumerate(marked) if was is flag]
        traces.append({"type": "scatter", "mode": "markers", "x": [x[i] for i in spots], "y": [y[i] for i in spots],
                       "hovertemplate": "%{x:.0f} min, %{y:.1f}<extra></extra>",
                       "name": "month" if flag else "12 months",
                       "marker": {"symbol": symbol, "color": color, "size": size, "opacity": 1}})  # fmt: skip
    if line:
        traces.append({"type": "scatter", "mode": "lines", "x": line[0], "y": line[1], "name": "median",
                       "line": {"color": INK, "width": 2.5}, "hoverinfo": "skip"})  # fmt: skip
        notes.append(note("median", line[0][-1], line[1][-1], xanchor="left", xshift=6))
    low, high = min([*y, *(beyond[1:2] if beyond else ())]), max(y)
    pad = (high - low) * 0.05 or 1
    if beyond:
        shapes.append(
            {
                "type": "rect",
                "layer": "below",
                "xref": "paper",
                "x0": 0,
                "x1": 1,
                "y0": low - pad,
                "y1": beyond[1],
                "fillcolor": WASH,
                "line": {"width": 0},
            }
        )
        notes.append(note(plain(beyond[2]), 1, beyond[1], xref="paper", xanchor="right", yanchor="top",
                          font={"size": SIZE - 1, "color": SOFT}))  # fmt: skip
    return finish(
        traces, height,
        xaxis=axis(x_title, range=[0, max(x) * 1.03], showgrid=False),
        yaxis=axis(y_title, range=[low - pad, high + pad]),
        margin={"r": 30}, annotations=notes, shapes=shapes,
    )  # fmt: skip


def hours(counts: list[int], title: str, marked: tuple[int, int] | None = None):
    """Sticks for the 24 hours of the day; marked: first and last hour outside working time, shaded."""
    x, y = [], []
    for hour, count in enumerate(counts):
        x += [hour, hour, None]
        y += [0, count, None]
    shown = [hour for hour, count in enumerate(counts) if count]
    traces = [
        {"type": "scatter", "mode": "lines", "x": x, "y": y, "line": {"color": INK, "width": 6}, "hoverinfo": "skip"},
        {"type": "scatter", "mode": "text", "x": shown, "y": [counts[hour] for hour in shown], "hoverinfo": "skip",
         "text": [str(counts[hour]) for hour in shown], "textposition": "top center",
         "textfont": {"size": SIZE - 3, "color": SOFT}, "cliponaxis": False},
    ]  # fmt: skip
    return finish(
        traces, 230,
        xaxis=axis("hour of the start", tickvals=list(range(0, 24, 3)), range=[-0.7, 23.7], showgrid=False),
        yaxis=axis(title, range=[0, max([*counts, 1]) * 1.18]),
    )  # fmt: skip


def agreement(rows: list[dict], title: str):
    """Cases a condition: found by both, detected and not charted, charted and not seen, end to end.

    rows: dicts with label, both, detected_only, charted_only (cases, None where withheld) and judged (cases).
    Filled, hatched and open tell the three apart without colour.
    """
    labels = [plain(row["label"]) for row in rows]
    parts = (
        ("both", "both", {"color": INK, "line": {"color": INK, "width": 1.5}}),
        (
            "detected_only",
            "detected, not charted",
            {
                "color": CLEAR,
                "line": {"color": INK, "width": 1.5},
                "pattern": {"shape": "/", "fgcolor": INK, "size": 7, "solidity": 0.4},
            },
        ),
        ("charted_only", "charted, not seen", {"color": CLEAR, "line": {"color": ACCENT, "width": 1.5}}),
    )
    traces = [
        {"type": "bar", "orientation": "h", "name": words, "y": labels, "x": [row[name] or 0 for row in rows],
         "marker": marker, "hovertemplate": f"%{{y}}, {words}: %{{x}}<extra></extra>", "width": 0.55}
        for name, words, marker in parts
    ]  # fmt: skip
    totals = [sum(row[name] or 0 for name, _, _ in parts) for row in rows]
    notes = [note(f"{total:.0f}", total, label, xanchor="left", xshift=8, font={"size": SIZE - 1, "color": SOFT})
             for label, total in zip(labels, totals, strict=True)]  # fmt: skip
    step = nice_step(max([*totals, 1]))
    return finish(
        traces, 110 + 44 * len(rows), barmode="stack",
        xaxis=axis(title, range=[0, max([*totals, 1]) * 1.12], dtick=step),
        yaxis=axis("", autorange="reversed", ticks=""),
        margin={"t": 44},
        annotations=notes,
        showlegend=True,
        legend={"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom", "font": {"size": SIZE - 1},
                "itemclick": False, "itemdoubleclick": False, "traceorder": "normal"},
    )  # fmt: skip
