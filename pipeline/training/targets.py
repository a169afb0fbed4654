"""What a programme asks for against what is in the log, and the pace that would still reach it."""

from calendar import isleap
from datetime import date, timedelta

from pipeline.training.programme import Programme, Target, Trainee

MONTH_DAYS = 365.25 / 12


def fits(row: dict, criteria: dict[str, tuple]) -> bool | None:
    """Whether a row of the log meets every criterion; None where an unknown value leaves it open.

    >>> fits({"species": "dog", "asa_class": None}, {"species": ("cat",), "asa_class": (3, 4, 5)})
    False
    >>> fits({"species": "cat", "asa_class": None}, {"species": ("cat",), "asa_class": (3, 4, 5)}) is None
    True
    """
    verdicts = [_meets(row[name], wanted) for name, wanted in criteria.items()]
    if False in verdicts:
        return False
    return None if None in verdicts else True


def _meets(value, wanted: tuple) -> bool | None:
    if isinstance(value, frozenset):
        return not value.isdisjoint(wanted)
    return None if value is None else value in wanted


def anniversary(start: date, years: int) -> date:
    """The day so many years later; 29 February becomes 28 February in a common year.

    >>> anniversary(date(2024, 2, 29), 1)
    datetime.date(2025, 2, 28)
    """
    day = 28 if (start.month, start.day) == (2, 29) and not isleap(start.year + years) else start.day
    return date(start.year + years, start.month, day)


def span(trainee: Trainee, year: int | None, years: int | None) -> tuple[date, date | None] | None:
    """First day and the day after the last of a year of training, or of all of it (year None).

    The end is None where nothing says how long the training lasts; the whole is None where that year
    was over before the trainee started here.
    """
    if year is not None:
        if year < trainee.year:
            return None
        first = anniversary(trainee.start, year - trainee.year)
        end = anniversary(trainee.start, year - trainee.year + 1)
    else:
        first = trainee.start
        end = None if years is None else anniversary(trainee.start, max(1, years - trainee.year + 1))
    if trainee.leaves is not None:
        left = trainee.leaves + timedelta(days=1)
        end = left if end is None or left < end else end
    return (first, end) if end is None or end > first else None


def amount(rows: list[dict], criteria: dict[str, tuple], unit: str) -> tuple[float, int]:
    """Cases, or hours, that fit; and the number of cases an unknown value leaves open.

    A case counts once, whatever the roles. Hours are of the parts that fit, never more than the person was in
    the case; a case whose time is unknown adds no hours and is counted as open.
    """
    minutes: dict[str, float | None] = {}
    most: dict[str, float | None] = {}
    open_cases = set()
    for row in rows:
        verdict = fits(row, criteria)
        if verdict is None:
            open_cases.add(row["case_id"])
        if not verdict:
            continue
        case = row["case_id"]
        before = minutes.get(case, 0.0)
        minutes[case] = None if before is None or row["minutes"] is None else before + row["minutes"]
        most[case] = row["case_minutes"]
    if unit == "cases":
        return float(len(minutes)), len(open_cases - minutes.keys())
    known = {case: value for case, value in minutes.items() if value is not None}
    hours = sum(value if most[case] is None else min(value, most[case]) for case, value in known.items()) / 60
    return hours, len(open_cases | minutes.keys()) - len(known)


def progress(
    trainee: Trainee, target: Target, asked: Programme, rows: list[dict], begins: date, until: date
) -> dict | None:
    """Where a trainee stands with one target; None where the target is not theirs.

    begins, until: days of the first and the last case loaded. pace_so_far, pace_needed: amount a month of
    30.4 days, from the first day the records cover to until, and from then to the end. state: not covered
    (over, and the records began after its first day), not begun, met, on pace, faster pace needed, open (no
    end known), ended short.
    """
    days = span(trainee, target.year, asked.years)
    if days is None:
        return None
    first, end = days
    criteria = {"role": asked.roles, **target.criteria}
    within = [row for row in rows if first <= row["start_day"] and (end is None or row["start_day"] < end)]
    done, undecided = amount(within, criteria, target.unit)
    missing = max(0.0, target.amount - done)
    last = until if end is None else min(until, end - timedelta(days=1))
    gone = ((last - max(first, begins)).days + 1) / MONTH_DAYS
    left = None if end is None else ((end - until).days - 1) / MONTH_DAYS
    so_far = done / gone if gone > 0 else None
    needed = missing / left if left is not None and left > 0 and missing > 0 else None
    if end is not None and end <= begins:
        state, so_far = "not covered", None
    elif missing == 0:
        state = "met"
    elif until < first:
        state = "not begun"
    elif end is None:
        state = "open"
    elif needed is None:
        state = "ended short" if first >= begins else "not covered"
    else:
        state = "on pace" if so_far is not None and so_far >= needed else "faster pace needed"
    return {
        "from_day": first, "to_day": None if end is None else end - timedelta(days=1), "wanted": target.amount,
        "done": done, "missing": missing, "undecided": undecided, "pace_so_far": so_far, "pace_needed": needed,
        "state": state,
    }  # fmt: skip


def table(asked: Programme, rows: list[dict], begins: date | None, until: date | None) -> list[tuple]:
    """Rows of trainee_targets: every trainee the programme lists with every target that is theirs."""
    if begins is None or until is None:
        return []
    found = []
    for person, trainee in asked.trainees.items():
        own = [row for row in rows if row["person"] == person]
        for position, target in enumerate(asked.targets, 1):
            one = progress(trainee, target, asked, own, begins, until)
            if one is not None:
                found.append(
                    (person, position, target.name, target.unit, target.year, one["from_day"], one["to_day"],
                     one["wanted"], one["done"], one["missing"], one["undecided"], one["pace_so_far"],
                     one["pace_needed"], one["state"])
                )  # fmt: skip
    return found
