"""Rows of cases in a mapped file: species by breed, ages in words or by birth date, agents with a percent."""

import re
from datetime import date
from decimal import Decimal

import pyarrow as pa

from pipeline.intake.mapping import numbers, words
from pipeline.intake.mapping.distinct import distinct
from pipeline.intake.mapping.nights import STAGES
from pipeline.intake.mapping.vocabulary import own_words
from pipeline.intake.mapping.work import Unreadable, Work

PART = re.compile(r"(\d+(?:[.,]\d+)?)\s*([^\W\d]+\.?)")
AGE = re.compile(rf"^(?:{PART.pattern}\s*)+$")
DAYS_A_YEAR = Decimal("365.25")


def read_words(work: Work) -> None:
    """Ages in words, species told by a breed, agents with their percent: before numbers and codes are read."""
    if "age_years" in work.cells:
        work.change("age_years", lambda text, count: age(work, text, count))
    if "species" in work.cells:
        work.change("species", lambda text, count: species(work, text, count))
    if "agent" in work.cells:
        work.change("agent", lambda text, count: agent(work, text, count))


def age(work: Work, text: str, count: int) -> str:
    """An age of several parts in years; others as they stood. Raises Unreadable for 'adult' and the like."""
    folded = words.fold(text)
    if folded in words.of_kind("unclear_age"):
        reason = f"age_years holds {text!r}, which is no age in figures"
        raise Unreadable("age_in_words", reason, flagged=True)
    parts = PART.findall(text) if AGE.match(text) else []
    units = [words.unit_of("years", unit) for _, unit in parts]
    if len(parts) < 2 or not all(units):
        return text
    exact = sum(
        Decimal(figure.replace(",", ".")) * _decimal(unit) for (figure, _), unit in zip(parts, units, strict=True)
    )
    years = numbers.plain(round(exact, 3))
    work.note("age_read", "A", "age_years", "age_years: ages of several parts were read.", count, f"{text} -> {years}")
    return years


def _decimal(unit: words.Unit) -> Decimal:
    return Decimal(unit.factor.numerator) / Decimal(unit.factor.denominator)


def species(work: Work, text: str, count: int) -> str:
    """The species, or, where a breed stands in its place, the species of the breed; blank stays unknown."""
    if words.is_missing(text) or words.code_of("species", text, own_words(work, "species")):
        return text
    named = breed_species(text)
    if named:
        work.note("species_by_breed", "A", "species", "species: told by the breed.", count, f"{text} -> {named}")
    return named or text


def breed_species(breed: str) -> str | None:
    """The species a breed belongs to.

    >>> breed_species("DSH"), breed_species("Golden retriever"), breed_species("mix")
    ('cat', 'dog', None)
    """
    return words.of_kind("breed_species").get(words.fold(breed))


def agent(work: Work, text: str, count: int) -> str:
    """The agent of a cell such as 'Iso 1.8 %'; the percent belongs to no time and is left out."""
    bare = re.sub(r"[\s,]*\d+(?:[.,]\d+)?\s*(?:vol\.?)?\s*%?\s*$", "", text, flags=re.IGNORECASE)
    if bare != text and (found := words.code_of("agent", bare, own_words(work, "agent"))):
        why = "agent: a percent beside the agent was left out, as it belongs to no time."
        work.note("agent_percent", "N", "agent", why, count, f"{text} -> {found}")
        return found
    return text


def check(work: Work) -> None:
    """Flags, after words, numbers and times are read: a breed of another species, an age against the birth date."""
    if "species" in work.cells and "breed" in work.cells:
        _breeds(work)
    if "birth_date" in work.cells or "age_years" in work.cells:
        _ages(work)


def _breeds(work: Work) -> None:
    found = distinct(work.cells["species"], work.cells["breed"])
    own, faults = own_words(work, "species"), {}
    for number, (kind, breed) in enumerate(found.keys):
        named = breed_species(breed) if breed else None
        code = words.code_of("species", kind, own) if kind else None
        if named and code and named != code:
            reason = f"species is {code}, but the breed {breed!r} is a {named}'s; one of them was copied down wrongly"
            faults[number] = (breed, Unreadable("breed_of_other_species", reason, flagged=True))
    work.fault_each("breed", found, faults)


def _impossible(given: str, years: Decimal, kind: str | None) -> Unreadable | None:
    """The fault of an age nobody reaches."""
    if years >= 0 and (kind not in ("dog", "cat") or years <= words.evidence("age_limit_years")):
        return None
    reason = f"age_years holds {given}, more than a {kind} lives" if years > 0 else "age_years lies in the future"
    return Unreadable("age_impossible", reason, flagged=True)


def _years(given: str | None) -> Decimal | None:
    number = numbers.parse(given) if given else None
    return number.value if number and not number.unit else None


def _ages(work: Work) -> None:
    """Ages nobody reaches are unknown, whatever the birth date."""
    if "birth_date" in work.cells:
        return _ages_by_birth(work)
    kinds = work.cells["species"] if "species" in work.cells else pa.nulls(len(work), pa.string())
    found, faults = distinct(work.cells["age_years"], kinds), {}
    for number, (given, kind) in enumerate(found.keys):
        years = _years(given)
        if years is not None and (fault := _impossible(given, years, kind)):
            faults[number] = (given, fault)
    work.fault_each("age_years", found, faults)
    if faults:
        ages = [None if number in faults else given for number, (given, _) in enumerate(found.keys)]
        work.cells["age_years"] = found.spread(ages)
    return None


def _ages_by_birth(work: Work) -> None:
    births = work.cells.pop("birth_date").to_pylist()
    ages = work.texts("age_years") if "age_years" in work.cells else [None] * len(work)
    kinds = work.texts("species") if "species" in work.cells else [None] * len(work)
    starts = _first_times(work)
    apart = words.evidence("age_differs_share")
    new = []
    for position, (given, birth, start, kind) in enumerate(zip(ages, births, starts, kinds, strict=True)):
        by_birth = _years_between(birth, start)
        years = _years(given)
        if given is None and by_birth is not None:
            work.note("age_by_birth", "A", "age_years", "age_years: reckoned from the birth date.", 1)
            given, years = numbers.plain(by_birth), by_birth
        elif years is not None and by_birth is not None and abs(years - by_birth) > apart * max(years, by_birth):
            reason = f"age_years holds {given}, but the birth date makes it {numbers.plain(by_birth)}"
            work.fault(position, "age_years", given, Unreadable("age_differs", reason, flagged=True))
        if years is not None and (fault := _impossible(given, years, kind)):
            work.fault(position, "age_years", given, fault)
            given = None
        new.append(given)
    if any(new) or "age_years" in work.cells:
        work.cells["age_years"] = pa.array(new, pa.string())


def _first_times(work: Work) -> list[str | None]:
    columns = [work.texts(name) for name in STAGES if name in work.cells]
    return [next((text for text in row if text), None) for row in zip(*columns, strict=True)] or [None] * len(work)


def _years_between(birth: str | None, start: str | None) -> Decimal | None:
    """Years from a birth date to a case, to two decimals; a two-digit year that lies ahead is of the last century."""
    try:
        born, case = date.fromisoformat((birth or "")[:10]), date.fromisoformat((start or "")[:10])
    except ValueError:
        return None
    if born > case and born.year >= 2000:
        born = born.replace(year=born.year - 100)
    return round(Decimal((case - born).days) / DAYS_A_YEAR, 2)
