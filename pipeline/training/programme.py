"""[programme] of clinic.toml: trainees, targets and learning curves, in a form that has been checked.

An invented example::

    [programme]
    years = 3
    roles = ["primary", "assisting"]     # what counts where a target names no role
    sheets = "quarter"                   # a sheet to sign each month, quarter or year

    [programme.trainees]
    r_ash = { start = 2024-09-01 }
    r_elm = { start = 2025-03-01, year = 2, leaves = 2026-02-28 }

    [[programme.targets]]
    name = "Sick cats as primary"
    cases = 12                           # or hours = 40
    year = 2                             # in that year of training; without it, in all of it
    species = "cat"
    asa_class = [3, 4, 5]
    role = "primary"

    [[programme.learning_curves]]
    name = "Intubation"
    trainees = ["r_ash"]                 # those who asked for it
    airway = "tracheal_tube"
    role = "primary"
    failure_events = ["difficult_intubation"]
    acceptable = 0.05                    # share of attempts that may fail
    unacceptable = 0.15
    source = "agreed by our supervisors in May 2024"

The training body's own rules decide what counts; nothing here knows them.
"""

from dataclasses import dataclass, field
from datetime import date, datetime

from pipeline.errors import SettingsFault
from pipeline.schema import AGENTS, CASES, EVENTS, SPECIES
from pipeline.settings import FILE, unknown_key

ROLES = ("primary", "assisting", "observing", "supervising")
PERIODS = ("month", "quarter", "year")

# What a target or a curve can pick cases by, and the words each may hold (empty: any text).
CRITERIA: dict[str, tuple] = {
    "species": SPECIES,
    "asa_class": (1, 2, 3, 4, 5),
    "emergency": (True, False),
    "procedure_group": (),
    "technique": (),
    "ventilation": CASES.column("ventilation").codes,
    "airway": CASES.column("airway").codes,
    "agent": AGENTS,
    "role": ROLES,
    "supervised": (True, False),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Trainee:
    """start: first day of training; year: which year of training began then; leaves: last day, if known."""

    person: str
    start: date
    year: int = 1
    leaves: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """So many cases or hours of cases that fit every criterion, in one year of training or (None) in all."""

    name: str
    amount: float
    unit: str
    year: int | None
    criteria: dict[str, tuple]


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A learning curve. acceptable, unacceptable: shares of attempts that fail; alpha, beta: chances of
    wrongly crossing the upper and the lower line."""

    name: str
    trainees: tuple[str, ...]
    criteria: dict[str, tuple]
    failure_events: tuple[str, ...]
    failure_techniques: tuple[str, ...]
    acceptable: float
    unacceptable: float
    source: str
    alpha: float = 0.1
    beta: float = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    name: str = ""
    years: int | None = None
    roles: tuple[str, ...] = ("primary", "assisting")
    sheets: str = "quarter"
    trainees: dict[str, Trainee] = field(default_factory=dict)
    targets: tuple[Target, ...] = ()
    curves: tuple[Curve, ...] = ()


def read(given: dict) -> Programme:
    """The programme in settings.programme. Raises SettingsFault that says which line to mend."""
    where = "programme"
    _known(given, ("name", "years", "roles", "sheets", "trainees", "targets", "learning_curves"), where)
    years = given.get("years")
    if years is not None:
        years = _whole(years, f"{where}.years")
    sheets = given.get("sheets", "quarter")
    if sheets not in PERIODS:
        raise _fault(f"{where}.sheets", repr(sheets), "one of " + ", ".join(PERIODS))
    trainees = _trainees(_typed(given.get("trainees", {}), dict, f"{where}.trainees"))
    targets = _list(given.get("targets", []), f"{where}.targets")
    curves = _list(given.get("learning_curves", []), f"{where}.learning_curves")
    return Programme(
        name=_typed(given.get("name", ""), str, f"{where}.name"),
        years=years,
        roles=_words(given.get("roles", ["primary", "assisting"]), ROLES, f"{where}.roles"),
        sheets=sheets,
        trainees=trainees,
        targets=tuple(_target(one, f"{where}.targets, no. {n}") for n, one in enumerate(targets, 1)),
        curves=tuple(_curve(one, f"{where}.learning_curves, no. {n}") for n, one in enumerate(curves, 1)),
    )


def _trainees(given: dict) -> dict[str, Trainee]:
    found = {}
    for number, (person, one) in enumerate(given.items(), 1):
        where = f"programme.trainees, no. {number}"  # by number: a message names nobody
        one = _typed(one, dict, where)
        _known(one, ("start", "year", "leaves"), where)
        if "start" not in one:
            raise _fault(where, "no start", "the first day of training, such as { start = 2024-09-01 }")
        trainee = Trainee(
            person=person,
            start=_day(one["start"], f"{where}.start"),
            year=_whole(one.get("year", 1), f"{where}.year"),
            leaves=_day(one["leaves"], f"{where}.leaves") if "leaves" in one else None,
        )
        if trainee.leaves is not None and trainee.leaves < trainee.start:
            raise _fault(f"{where}.leaves", f"{trainee.leaves}, before the start", "a day on or after the start")
        found[person] = trainee
    return found


def _target(given: dict, where: str) -> Target:
    _known(given, ("name", "cases", "hours", "year", *CRITERIA), where)
    units = [unit for unit in ("cases", "hours") if unit in given]
    if len(units) != 1:
        raise _fault(where, " and ".join(units) or "neither cases nor hours", "one of them, such as cases = 20")
    amount = given[units[0]]
    if isinstance(amount, bool) or not isinstance(amount, int | float) or not amount > 0:
        raise _fault(f"{where}.{units[0]}", repr(amount), "a number above 0")
    criteria = _criteria(given, where)
    return Target(
        name=_name(given, where),
        amount=float(amount),
        unit=units[0],
        year=_whole(given["year"], f"{where}.year") if "year" in given else None,
        criteria=criteria,
    )


def _curve(given: dict, where: str) -> Curve:
    _known(
        given,
        ("name", "trainees", "failure_events", "failure_techniques", "acceptable", "unacceptable", "alpha", "beta",
         "source", *CRITERIA),
        where,
    )  # fmt: skip
    events = _words(given.get("failure_events", []), EVENTS, f"{where}.failure_events")
    techniques = _words(given.get("failure_techniques", []), (), f"{where}.failure_techniques")
    if not events and not techniques:
        raise _fault(where, "nothing that says when an attempt failed", "failure_events or failure_techniques")
    shares = {}
    for name in ("acceptable", "unacceptable", "alpha", "beta"):
        value = given.get(name, 0.1 if name in ("alpha", "beta") else None)
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < 1:
            raise _fault(f"{where}.{name}", "nothing" if value is None else repr(value), "a share between 0 and 1")
        shares[name] = float(value)
    if shares["acceptable"] >= shares["unacceptable"]:
        raise _fault(
            where,
            f"acceptable {shares['acceptable']:g}, unacceptable {shares['unacceptable']:g}",
            "an acceptable share of failures below the unacceptable one",
        )
    if shares["alpha"] + shares["beta"] >= 1:
        raise _fault(where, "alpha and beta that add up to 1 or more", "chances of error such as 0.1 each")
    source = _typed(given.get("source", ""), str, f"{where}.source").strip()
    if not source:
        raise _fault(where, "no source", "who agreed on these rates, or the paper they come from")
    criteria = _criteria(given, where)
    if not criteria.keys() - {"role", "supervised"}:
        raise _fault(where, "no skill", "the cases that are attempts, such as technique or airway")
    return Curve(
        name=_name(given, where),
        trainees=_words(given.get("trainees", []), (), f"{where}.trainees"),
        criteria=criteria,
        failure_events=events,
        failure_techniques=techniques,
        source=source,
        **shares,
    )


def _criteria(given: dict, where: str) -> dict[str, tuple]:
    return {name: _words(given[name], codes, f"{where}.{name}") for name, codes in CRITERIA.items() if name in given}


def _words(given, codes: tuple, where: str) -> tuple:
    """One value or a list of values, each of the codes where there are any."""
    values = given if isinstance(given, list) else [given]
    for value in values:
        if not codes and not isinstance(value, str):
            raise _fault(where, repr(value), "text in quotes, or a list of it")
        if codes and (value not in codes or isinstance(value, bool) != isinstance(codes[0], bool)):
            if isinstance(codes[0], str) and isinstance(value, str):
                raise unknown_key(f"{where} = {value}", [f"{where} = {code}" for code in codes], FILE)
            raise _fault(where, repr(value), "one of " + ", ".join(str(code).lower() for code in codes))
    return tuple(values)


def _known(given: dict, known: tuple[str, ...], where: str) -> None:
    for name in given:
        if name not in known:
            raise unknown_key(f"{where}.{name}", [f"{where}.{key}" for key in known], FILE)


def _list(given, where: str) -> list[dict]:
    if not isinstance(given, list) or not all(isinstance(one, dict) for one in given):
        raise _fault(where, type(given).__name__, f"tables that each begin with [[{where}]]")
    return given


def _name(given: dict, where: str) -> str:
    name = _typed(given.get("name", ""), str, f"{where}.name").strip()
    if not name:
        raise _fault(where, "no name", 'a name for the page, such as name = "Cats as primary"')
    return name


def _typed(given, kind: type, where: str):
    if not isinstance(given, kind):
        raise _fault(where, repr(given), {dict: "a [table]", str: "text in quotes"}[kind])
    return given


def _whole(given, where: str) -> int:
    if isinstance(given, bool) or not isinstance(given, int) or given < 1:
        raise _fault(where, repr(given), "a whole number from 1")
    return given


def _day(given, where: str) -> date:
    if isinstance(given, datetime):
        return given.date()
    if isinstance(given, date):
        return given
    try:
        return date.fromisoformat(given)
    except (TypeError, ValueError) as cause:
        raise _fault(where, repr(given), "a date such as 2024-09-01") from cause


def _fault(where: str, found: str, wanted: str) -> SettingsFault:
    return SettingsFault(where=f"{FILE}, {where}", found=found, wanted=wanted, fix=f"correct {where} in {FILE}")
