"""Anesthetics that pass midnight: times charted on the day they began on belong to the next; midnights that were
only dates are unknown."""

from datetime import datetime, timedelta
from math import ceil

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake.mapping import words
from pipeline.intake.mapping.work import Unreadable, Work

# The stages of an anesthetic, in the order they follow each other.
STAGES = (
    "premed_at", "preoxygenation_start_at", "induction_at", "intubation_at", "vaporizer_on_at", "procedure_start_at",
    "procedure_end_at", "vaporizer_off_at", "ventilator_off_at", "spontaneous_breathing_at", "extubation_at",
    "sternal_at", "standing_at", "recovery_end_at",
)  # fmt: skip
DAY = timedelta(days=1)
LOCAL = r"^\d{4}-\d\d-\d\d[ T]\d\d:\d\d(:\d\d)?$"


def _moment(text: str | None) -> datetime | None:
    """A local time; None for a blank cell, a clock or a day alone, and a time with an offset."""
    try:
        return datetime.fromisoformat(text) if _is_local(text) else None
    except ValueError:
        return None


def _moments(work: Work, name: str) -> list[datetime | None]:
    """The local times of a column."""
    found = work.cells[name].dictionary_encode()
    read = [_moment(text) for text in found.dictionary.to_pylist()]
    return [None if code is None else read[code] for code in found.indices.to_pylist()]


def _out_of_step(work: Work, names: list[str]) -> np.ndarray:
    """Rows of cases to look at: with a stage so far before one ahead of it that it may be of the next day (or half
    day), at midnight, or that is no local time."""
    least, day = np.iinfo(np.int64).min, int(DAY.total_seconds())
    longest = ceil(work.kind.roll_hours * 3600)
    odd, last = np.zeros(len(work), bool), np.full(len(work), least)
    first = last
    for name in names:
        cells = work.cells[name]
        plain = pc.fill_null(pc.match_substring_regex(cells, LOCAL), False)
        try:
            times = pc.if_else(plain, cells, None).cast(pa.timestamp("s")).cast(pa.int64())
        except pa.ArrowInvalid:
            return np.arange(len(work))
        known = plain.to_numpy(zero_copy_only=False)
        seconds = np.where(known, times.fill_null(0).to_numpy(zero_copy_only=False), last)
        odd |= ~known & cells.is_valid().to_numpy(zero_copy_only=False)
        first = np.where(known & (first == least), seconds, first)
        rolls = (seconds < last) & ((work.kind.clock == 12) | (seconds + day - longest <= first))
        odd |= known & (rolls | (seconds % day == 0))
        last = np.maximum(last, seconds)
    return np.flatnonzero(odd)


def roll_stages(work: Work) -> None:
    """A stage before the one ahead of it, on the same day, is on the next day if the anesthetic stays shorter than
    roll_hours; so are all later ones. A midnight that fits no order was only a date."""
    names = [name for name in STAGES if name in work.cells]
    rows = _out_of_step(work, names)
    if not len(rows):
        return
    stood = {name: work.cells[name].take(pa.array(rows)).to_pylist() for name in names}
    columns = {name: dict(zip(rows.tolist(), map(_moment, texts), strict=True)) for name, texts in stood.items()}
    longest, changed = timedelta(hours=work.kind.roll_hours), set()
    for row in rows.tolist():
        moments = [(name, columns[name][row]) for name in names if columns[name][row]]
        real = [name for name, moment in moments if not _is_placeholder(moment, moments)]
        for name, moment in moments:
            if name not in real:
                reason = f"{name} holds {moment:%Y-%m-%d %H:%M}, a midnight out of order: a date without its time"
                work.fault(row, name, str(moment), Unreadable("midnight_placeholder", reason, flagged=True))
                columns[name][row] = None
                changed.add(name)
        first = last = None
        for name in real:
            moment = columns[name][row]
            if last and moment < last and moment.date() == first.date():
                half, day = moment + DAY / 2, moment + DAY
                later = half if work.kind.clock == 12 and half >= last and half - first <= longest else day
                if later >= last and later - first <= longest:
                    what = "twelve hours later" if later == half else "the next day"
                    why = f"A time before the one ahead of it was put on {what}."
                    work.note("past_midnight", "N", name, why, 1, f"{moment} -> {later}")
                    columns[name][row] = moment = later
                    changed.add(name)
            first = first or moment
            last = max(last, moment) if last else moment
    for name in changed:
        moments = _moments(work, name)
        for row, moment in columns[name].items():
            moments[row] = moment
        texts = [
            (moment.isoformat(" ") if moment else None) if moment or _is_local(text) else text
            for moment, text in zip(moments, work.texts(name), strict=True)
        ]
        work.cells[name] = pa.array(texts, pa.string())


def _is_local(text: str | None) -> bool:
    """Whether a text is a day with its clock and no offset, in our form."""
    return text is not None and len(text) in (16, 19) and text[4:5] == "-" and text[13:14] == ":"


def _is_placeholder(moment: datetime, moments: list[tuple[str, datetime]]) -> bool:
    """A midnight on the day of other stages, hours before all of them."""
    if moment.time() != datetime.min.time():
        return False
    others = [other for _, other in moments if other != moment and other.date() == moment.date()]
    return bool(others) and min(others) - moment >= timedelta(hours=float(words.evidence("clock_step_back_h")))


def roll_readings(work: Work, name: str) -> None:
    """Clocks bound to one day that belong to the next: of a case whose times span more than roll_hours, those before
    its longest gap; else those after a step back of hours in the order of the file."""
    moments = pd.Series(_moments(work, name), dtype="datetime64[us]")
    case = pd.Series(pd.factorize(pd.Series(work.texts("case_id"), dtype=object))[0])
    longest = pd.Timedelta(hours=work.kind.roll_hours)
    step = pd.Timedelta(hours=float(words.evidence("clock_step_back_h")))
    known = moments.notna() & (case >= 0)
    by_case = moments[known].groupby(case[known])
    wide = by_case.max() - by_case.min() >= min(step, longest)
    rolled = np.zeros(len(moments), bool)
    for number in wide.index[wide]:
        mine = moments[known & (case == number)]
        late = _after_midnight(mine, longest, step)
        rolled[late] = True
    if rolled.any():
        texts = np.array(work.texts(name), object)
        texts[rolled] = (moments[rolled] + pd.Timedelta(days=1)).dt.strftime("%Y-%m-%d %H:%M:%S")
        work.cells[name] = pa.array(list(texts), pa.string())
        why = f"{name}: clocks after midnight were put on the day after their case's."
        work.note("past_midnight", "N", name, why, rolled.sum())


def _after_midnight(mine: pd.Series, longest: pd.Timedelta, step: pd.Timedelta) -> np.ndarray:
    """Rows of one case that belong to the next day; none if that would not make one anesthetic of it."""
    if mine.dt.normalize().nunique() != 1:
        return np.array([], np.int64)
    if mine.max() - mine.min() > longest:
        ordered = mine.sort_values()
        gap = (
            ordered.diff().to_numpy().argmax()
            if len(ordered) < 2
            else int(np.nanargmax(ordered.diff().dt.total_seconds()))
        )
        late = ordered.index[:gap]
    else:
        back = np.flatnonzero((mine.diff() <= -step).to_numpy())
        if len(back) != 1:
            return np.array([], np.int64)
        late = mine.index[back[0] :]
    moved = mine.copy()
    moved[late] += pd.Timedelta(days=1)
    return late.to_numpy() if moved.max() - moved.min() <= longest else np.array([], np.int64)
