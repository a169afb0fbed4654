"""A record as panels, lanes and stages for figures.timeline."""

from datetime import timedelta

from pipeline.figures.timeline import timeline
from pipeline.reporting.cases.record import Record
from pipeline.reporting.display import Display, words

# parameter, words at its right end, mark, quiet; pressures as on a paper chart: v above, caret below, dash between.
PANELS = (
    (
        "Circulation: heart rate /min, pressures mmHg",
        (20, 160),
        (
            ("heart_rate", "heart rate", "circle", False),
            ("sap", "systolic", "triangle-down-open", True),
            ("map", "mean", "line-ew-open", False),
            ("dap", "diastolic", "triangle-up-open", True),
        ),
    ),
    ("Oxygen saturation, %", (85, 100), (("spo2", "SpO₂", "line", False),)),
    (
        "Carbon dioxide, mmHg",
        (0, 60),
        (("etco2", "end-tidal CO₂", "line", False), ("fico2", "inspired CO₂", "line", True)),
    ),
    ("Temperature, {temperature}", (35.0, 39.5), (("temperature", "temperature", "line", False),)),
    ("Breaths, /min", (0, 30), (("respiratory_rate", "breaths", "circle-open", False),)),
    (
        "Vaporizer and agent, %",
        (0, 4),
        (("vaporizer_setting", "dial", "step", False), ("agent_et", "end-tidal", "line", True)),
    ),
    (
        "Flows, L/min",
        (0, 3),
        (
            ("o2_flow", "oxygen", "step", False),
            ("air_flow", "air", "step", True),
            ("n2o_flow", "nitrous oxide", "step", True),
        ),
    ),
)
COMPACT = 4
MEASURES_SHADED = ("hypotension", "hypoxemia", "hypoventilation", "hyperventilation", "bradycardia", "tachycardia")


def chart(record: Record, display: Display, compact: bool = False):
    """The drawing of one anesthetic; compact: the first four panels, small, without lanes."""
    panels = [panel(record, display, *one) for one in PANELS[: COMPACT if compact else None]]
    panels = [one for one in panels if one["series"]]
    span = record.span()
    lanes = [] if compact else lanes_of(record)
    return timeline(panels, lanes, record.stages, clock_ticks(record, span, 4 if compact else 9), span, compact=compact)


def panel(record: Record, display: Display, title: str, usual: tuple, series: tuple) -> dict:
    drawn, values, removed, episodes = [], [], ([], []), []
    for parameter, label, mark, quiet in series:
        shown = display.celsius if parameter == "temperature" else lambda value: value
        x, y = record.readings.get(parameter, ([], []))
        if not x:
            continue
        y = [shown(value) for value in y]
        values += y
        drawn.append({"label": label, "x": x, "y": y, "mark": mark, "quiet": quiet})
        out = record.removed.get(parameter, ([], [], []))
        removed[0].extend(out[0])
        removed[1].extend(shown(value) for value in out[1])
        episodes += [(one["start"], one["end"]) for one in record.episodes if one["parameter"] == parameter]
    if title.startswith("Temperature"):
        usual = tuple(display.celsius(edge) for edge in usual)
    low, high = min([usual[0], *values]), max([usual[1], *values])
    pad = (high - low) * 0.04
    return {
        "title": title.format(temperature=display.temperature_unit),
        "range": (low - pad, high + pad),
        "series": spread(drawn, low, high),
        "beyond": shaded(record, {parameter for parameter, *_ in series}, display, low - pad, high + pad),
        "episodes": episodes,
        "removed": removed,
    }


def spread(series: list[dict], low: float, high: float) -> list[dict]:
    """Moves labels at the right ends apart where their last values lie close together."""
    room = (high - low) * 0.11
    placed = -1e9
    for one in sorted(series, key=lambda one: one["y"][-1]):
        wanted = max(one["y"][-1], placed + room)
        one["shift"] = (wanted - one["y"][-1]) / (high - low) * 150
        placed = wanted
    return series


def shaded(record: Record, parameters: set, display: Display, low: float, high: float) -> list[tuple]:
    """Where a reading would lie beyond a limit that holds for this animal."""
    found = []
    for (parameter, measure), (above, below, _) in record.limits.items():
        if parameter not in parameters or measure not in MEASURES_SHADED or parameter == "sap":
            continue
        if above is not None and below is not None:
            found.append((above, below))
        elif below is not None:
            found.append((low, below))
        elif above is not None:
            found.append((above, high))
    if "temperature" in parameters and record.cold_below is not None:
        found.append((low, display.celsius(record.cold_below)))
    return found


def lanes_of(record: Record) -> list[dict]:
    """One lane a drug, in the order of first use, and one for what was charted as an event."""
    lanes: dict[str, list] = {}
    for dose in record.doses:
        if dose["minute"] is None:
            continue
        amount = dose["amount"]
        said = "" if amount is None else f"{float(f'{amount:.4g}'):g} {dose['unit'] or ''}".strip()
        lanes.setdefault(dose["drug"], []).append((dose["minute"], dose["until"], said))
    out = [{"label": drug, "marks": marks} for drug, marks in lanes.items()]
    events = [(one["minute"], None, words(one["event"])) for one in record.events if one["minute"] is not None]
    return out + ([{"label": "charted events", "marks": events, "event": True}] if events else [])


def clock_ticks(record: Record, span: tuple[float, float], about: int) -> list[tuple[float, str]]:
    """Round times of the clinic's clock within the span."""
    length = span[1] - span[0]
    step = next((step for step in (5, 10, 15, 30, 60, 120, 240) if length / step <= about), 480)
    first = record.local(record.origin_s + int(span[0] * 60))
    at = first.replace(minute=0, second=0) + timedelta(minutes=-(-first.minute // step) * step)
    ticks = []
    offset = (record.local(record.origin_s) - at).total_seconds() / 60
    while -offset <= span[1]:
        if -offset >= span[0]:
            ticks.append((round(-offset, 2), f"{at:%H:%M}"))
        at += timedelta(minutes=step)
        offset -= step
    return ticks
