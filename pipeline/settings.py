"""clinic.toml: what this clinic decided. Read once, checked whole, never changed by a run.

Every setting but the zone has a default; thresholds and factors default to the rows of sql/seeds/.
"""

import tomllib
from dataclasses import MISSING, dataclass, field, fields, is_dataclass
from datetime import date, datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.errors import SettingsFault

FILE = "clinic.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Absorbent:
    """minutes_per_mark: use that one charted mark stands for [min]; no default, clinics differ."""

    minutes_per_mark: float | None = None
    max_hours: float = 8.0
    max_days: float = 14.0
    grams: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Events:
    """recorded: true, false or a list of sites that chart complications even when a file holds none;
    from: first day they did."""

    recorded: bool | list | None = None
    from_: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Deaths:
    """assume_alive: an animal nobody wrote dead is taken to be alive 48 h after the end."""

    assume_alive: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Recovery:
    """hypnotics: drugs whose last maintenance infusion ends an anesthetic without an inhalant."""

    hypnotics: list = field(default_factory=lambda: ["propofol", "alfaxalone"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A stock item. drug: the drug it holds; control: its class under the law that applies, or ''."""

    drug: str | None = None
    consumable: str | None = None
    concentration_mg_ml: float | None = None
    pack_ml: float | None = None
    unit: str | None = None
    pack_units: float | None = None
    lead_days: float | None = None
    service_level: float = 0.95
    minimum: float | None = None
    shelf_days: float | None = None
    open_days: float | None = None
    price: float | None = None
    control: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Controlled:
    """Rules of the controlled-drug book where the clinic works; None: not stated, and nothing is judged by it.

    witness_waste: waste needs a second person; count_days: the cupboard is counted at least so often [d];
    keep_years: how long the book must be kept [years].
    """

    witness_waste: bool | None = None
    count_days: float | None = None
    keep_years: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Display:
    """Units on pages; stored values never change. dates: 'iso', 'dmy' or 'mdy'; decimal: '.' or ','."""

    temperature: str = "C"
    weight: str = "kg"
    dates: str = "iso"
    decimal: str = "."


@dataclass(frozen=True, slots=True, kw_only=True)
class Privacy:
    """patient_ids: 'hash' or 'keep'; people_on_pages: show checks by person code; free_text: load notes."""

    patient_ids: str = "hash"
    people_on_pages: bool = False
    free_text: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """One clinic's settings. The tables left as dicts are read by the step they belong to."""

    zone: str
    name: str = "This clinic"
    schema: int = 1
    absorbent: Absorbent = Absorbent()
    events: Events = Events()
    deaths: Deaths = Deaths()
    recovery: Recovery = Recovery()
    limits: dict = field(default_factory=dict)
    windows: dict = field(default_factory=dict)
    artefacts: dict = field(default_factory=dict)
    temperature: dict = field(default_factory=dict)
    items: dict[str, Item] = field(default_factory=dict)
    controlled: Controlled = Controlled()
    people: dict = field(default_factory=dict)
    programme: dict = field(default_factory=dict)
    changes: dict = field(default_factory=dict)
    planned: dict = field(default_factory=dict)
    display: Display = Display()
    privacy: Privacy = Privacy()


def read(path: Path) -> Settings:
    """The settings in a clinic.toml. Raises SettingsFault naming the line to mend."""
    try:
        given = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError as cause:
        raise SettingsFault(
            where=str(path),
            found="no such file",
            wanted=f"a clinic folder with a {FILE}",
            fix="run `rounds start DIR` to make one, or give the folder with --clinic DIR",
        ) from cause
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as cause:
        raise SettingsFault(
            where=path.name, found=str(cause), wanted="a readable TOML file", fix="mend the line named above"
        ) from cause
    return from_dict(given, path.name)


def from_dict(given: dict[str, Any], where: str = FILE) -> Settings:
    """Settings from a parsed clinic.toml; unknown keys and wrong types raise SettingsFault."""
    given = dict(given)
    items = given.pop("items", {})
    _must_be(items, dict, where, "items")
    settings = _build(Settings, given, where, "")
    for name, table in items.items():
        _must_be(table, dict, where, f"items.{name}")
        settings.items[name] = _build(Item, table, where, f"items.{name}.")
    try:
        ZoneInfo(settings.zone)
    except (KeyError, ValueError, OSError) as cause:
        raise SettingsFault(
            where=f"{where}, zone",
            found=repr(settings.zone),
            wanted='a time zone of the IANA list, such as "Europe/Berlin"',
            fix="correct the zone: every local time in the exports is read in it",
        ) from cause
    _one_of(settings.display.temperature, ("C", "F"), where, "display.temperature")
    _one_of(settings.display.weight, ("kg", "lb"), where, "display.weight")
    _one_of(settings.display.dates, ("iso", "dmy", "mdy"), where, "display.dates")
    _one_of(settings.display.decimal, (".", ","), where, "display.decimal")
    _one_of(settings.privacy.patient_ids, ("hash", "keep"), where, "privacy.patient_ids")
    _read_by_steps(settings)
    return settings


def _read_by_steps(settings: Settings) -> None:
    """Lets the steps that have tables of their own read them now: a fault is said before an hour of loading."""
    from pipeline.forecasting import planned
    from pipeline.training import programme

    programme.read(settings.programme)
    planned.read(settings.planned)


def _build(kind, given: dict, where: str, prefix: str):
    known = {spec.name.rstrip("_"): spec for spec in fields(kind)}
    for name in given:
        if name not in known:
            raise unknown_key(f"{prefix}{name}", [f"{prefix}{key}" for key in known], where)
    values = {}
    for name, spec in known.items():
        if name in given:
            values[spec.name] = _typed(given[name], spec, where, f"{prefix}{name}")
        elif spec.default is MISSING and spec.default_factory is MISSING:
            raise SettingsFault(
                where=where,
                found=f"no {prefix}{name}",
                wanted=f'a line such as {name} = "Europe/Berlin"',
                fix=f"add the line to {where}, above the first [table]",
            )
    return kind(**values)


def _typed(value, spec, where: str, name: str):
    kind = spec.type
    if is_dataclass(kind):
        _must_be(value, dict, where, name)
        return _build(kind, value, where, f"{name}.")
    kind = getattr(kind, "__origin__", kind)
    accepted = getattr(kind, "__args__", (kind,))
    if date in accepted and isinstance(value, str):
        try:
            return date.fromisoformat(value)
        except ValueError:
            _must_be(value, date, where, name)
    if date in accepted and isinstance(value, datetime):
        return value.date()
    if float in accepted and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    if isinstance(value, bool) and bool not in accepted:
        _must_be(value, accepted[0], where, name)
    if not isinstance(value, accepted):
        _must_be(value, accepted[0], where, name)
    return value


WORDS = {str: "text in quotes", float: "a number", int: "a whole number", bool: "true or false",
         dict: "a [table]", list: "a list in [brackets]", date: "a date such as 2025-08-01"}  # fmt: skip


def _must_be(value, kind, where: str, name: str) -> None:
    if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
        raise SettingsFault(
            where=f"{where}, {name}", found=repr(value), wanted=WORDS[kind], fix=f"correct the value of {name}"
        )


def _one_of(value, known: tuple, where: str, name: str) -> None:
    if value not in known:
        raise SettingsFault(
            where=f"{where}, {name}",
            found=repr(value),
            wanted="one of " + ", ".join(repr(word) for word in known),
            fix=f"correct the value of {name}",
        )


def unknown_key(name: str, known: list[str], where: str) -> SettingsFault:
    """The fault for a key that is not ours, naming the nearest one that is."""
    near = get_close_matches(name, known, n=1, cutoff=0.5)
    return SettingsFault(
        where=where,
        found=f"a setting called {name}",
        wanted="one of " + ", ".join(sorted(known)),
        fix=f"did you mean {near[0]}?" if near else "remove the line",
    )
