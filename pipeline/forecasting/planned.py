"""Changes a clinic knows of before its records do: clinic.toml `[planned.NAME]`, read and checked.

    [planned.dental_days]
    from = "2026-03"                # first month of the change
    until = "2026-12"               # last month; without it, for good
    procedure_group = "dental"      # and, or, species = "dog"; without either, all cases
    more_days_a_month = 6           # with cases_a_day = 4; or more_cases_a_month = 24; fewer: a minus
    why = "a second dental chair"

`closed = true` in place of the number says that the clinic does not work in those months.
"""

from dataclasses import dataclass
from datetime import date

from pipeline.errors import SettingsFault
from pipeline.schema import SPECIES
from pipeline.settings import FILE, unknown_key

KEYS = (
    "from",
    "until",
    "species",
    "procedure_group",
    "more_cases_a_month",
    "more_days_a_month",
    "cases_a_day",
    "closed",
    "why",
)


@dataclass(frozen=True, slots=True)
class Plan:
    """first, last: months as year * 12 + month - 1, last None for good; more_cases: a month, None where
    more_days times the usual number of such cases a day says it."""

    name: str
    first: int
    last: int | None
    species: str | None
    procedure_group: str | None
    more_cases: float | None
    more_days: float | None
    closed: bool
    why: str

    def holds(self, month: int) -> bool:
        """Whether the change is in force in that month."""
        return self.first <= month and (self.last is None or month <= self.last)

    def covers(self, species: str | None, procedure_group: str | None) -> bool:
        """Whether cases of that species and group are among those the change is about."""
        return self.species in (None, species) and self.procedure_group in (None, procedure_group)


def read(planned: dict) -> list[Plan]:
    """The plans of a clinic.toml. Raises SettingsFault naming the key to mend."""
    return [_plan(name, table) for name, table in planned.items()]


def _plan(name: str, table) -> Plan:
    here = f"planned.{name}"
    if not isinstance(table, dict):
        raise _fault(here, table, "a [table]")
    for key in table:
        if key not in KEYS:
            raise unknown_key(f"{here}.{key}", [f"{here}.{known}" for known in KEYS], FILE)
    for key in ("more_cases_a_month", "more_days_a_month", "cases_a_day"):
        if isinstance(table.get(key, 0), bool) or not isinstance(table.get(key, 0), int | float):
            raise _fault(f"{here}.{key}", table[key], "a number")
    for key in ("procedure_group", "why"):
        if not isinstance(table.get(key, ""), str):
            raise _fault(f"{here}.{key}", table[key], "text in quotes")
    if table.get("species", SPECIES[0]) not in SPECIES:
        raise _fault(f"{here}.species", table["species"], "one of " + ", ".join(SPECIES))
    if table.get("closed", True) is not True:
        raise _fault(f"{here}.closed", table["closed"], "true, or no such line")
    said = [key for key in ("more_cases_a_month", "more_days_a_month", "closed") if key in table]
    if len(said) != 1:
        raise _fault(
            here,
            " and ".join(said) or "neither a number of cases nor of days",
            "one of more_cases_a_month, more_days_a_month, closed",
        )
    if "cases_a_day" in table and "more_days_a_month" not in table:
        raise _fault(f"{here}.cases_a_day", table["cases_a_day"], "more_days_a_month beside it")
    if "from" not in table:
        raise _fault(here, "no from", 'a line such as from = "2026-03"')
    first, last = _month(table["from"], f"{here}.from"), None
    if "until" in table:
        last = _month(table["until"], f"{here}.until")
        if last < first:
            raise _fault(f"{here}.until", table["until"], "a month not before from")
    days = table.get("more_days_a_month")
    cases = table.get("more_cases_a_month")
    if days is not None and "cases_a_day" in table:
        cases = days * table["cases_a_day"]
    return Plan(
        name=name,
        first=first,
        last=last,
        species=table.get("species"),
        procedure_group=table.get("procedure_group"),
        more_cases=cases,
        more_days=days,
        closed="closed" in table,
        why=table.get("why", ""),
    )


def _month(value, where: str) -> int:
    """Month number of "2026-03", "2026-03-01" or a TOML date."""
    text = value.isoformat() if isinstance(value, date) else value
    try:
        day = date.fromisoformat(f"{text[:7]}-01")
    except (TypeError, ValueError) as cause:
        raise _fault(where, value, 'a month such as "2026-03"') from cause
    return day.year * 12 + day.month - 1


def _fault(where: str, found, wanted: str) -> SettingsFault:
    return SettingsFault(
        where=f"{FILE}, {where}", found=str(found), wanted=wanted, fix=f"correct {where}, or remove it"
    )
