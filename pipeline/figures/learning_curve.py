"""A trainee's cumulative sum: attempts from left to right, failures step up, successes down, two lines of decision."""

from pipeline.figures.theme import ACCENT, DASHES, INK, RULE, SIZE, axis, finish, nice_step


def learning_curve(attempts: list[dict], lower: float, upper: float):
    """The sum after each attempt, from zero again after a line was crossed.

    attempts: dicts with total [failures], failed (yes or no), crossed ('lower', 'upper' or None), said (what a
    reader sees over the point). lower, upper: the lines [failures].
    """
    x, y = [0], [0.0]
    for number, one in enumerate(attempts, 1):
        x.append(number)
        y.append(one["total"])
        if one["crossed"]:  # a gap, then zero, so that the restart is seen as one
            x += [None, number]
            y += [None, 0.0]
    count = len(attempts)
    edges = [
        {"type": "scatter", "mode": "lines", "x": [0, count + 0.6], "y": [level, level], "hoverinfo": "skip",
         "line": {"color": color, "width": 1.5, "dash": dash}}
        for level, color, dash in ((upper, ACCENT, DASHES[1]), (lower, INK, DASHES[1]), (0.0, RULE, DASHES[0]))
    ]  # fmt: skip
    failed = [one["failed"] for one in attempts]
    marks = {
        "type": "scatter", "mode": "markers", "x": list(range(1, count + 1)), "cliponaxis": False,
        "y": [one["total"] for one in attempts],
        "marker": {"symbol": ["x" if bad else "circle" for bad in failed], "size": [11 if bad else 7 for bad in failed],
                   "color": [ACCENT if bad else INK for bad in failed], "opacity": 1},
        "hovertemplate": [f"{one['said']}<extra></extra>" for one in attempts],
    }  # fmt: skip
    top, bottom = max([upper, *(one["total"] for one in attempts)]), min([lower, *(one["total"] for one in attempts)])
    room = (top - bottom) * 0.12
    notes = [
        {"text": text, "x": count + 0.6, "y": level, "xanchor": "right", "yanchor": anchor, "showarrow": False,
         "font": {"size": SIZE, "color": color}}
        for text, level, anchor, color in (
            ("unacceptable share shown", upper, "bottom", ACCENT),
            ("acceptable share shown", lower, "top", INK),
        )
    ]  # fmt: skip
    return finish(
        [*edges, {"type": "scatter", "mode": "lines", "x": x, "y": y, "connectgaps": False, "hoverinfo": "skip",
                  "line": {"color": INK, "width": 2}}, marks],
        300,
        xaxis=axis("attempts", range=[0, count + 0.6], dtick=max(1, nice_step(count)), showgrid=False),
        yaxis=axis("failures more than expected", range=[bottom - room, top + room]),
        annotations=notes,
    )  # fmt: skip
