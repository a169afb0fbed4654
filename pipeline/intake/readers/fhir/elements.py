"""Parts of HL7 FHIR R4 resources as plain texts: codes, references, quantities, times, extensions."""

import re
from functools import cache

from pipeline.intake import words as cell_words


@cache
def _known(kind: str) -> dict[tuple[str, str], str]:
    return {
        (row["system"], row["code"]): row["meaning"] for row in cell_words.rows("words_fhir") if row["kind"] == kind
    }


def counts(resource: dict) -> tuple[bool, str]:
    """Whether a resource counts by its status, and the status: cancelled and entered in error never do."""
    kind = resource["resourceType"]
    status = resource.get("actuality" if kind == "AdverseEvent" else "status", "")
    return (kind, status) in _known("counts"), status or "without a status"


def meaning(kind: str, concept: dict | None) -> str | None:
    """Our word for a CodeableConcept, by the first of its codings that words_fhir.csv has."""
    for coding in (concept or {}).get("coding", []):
        found = _known(kind).get((coding.get("system", ""), coding.get("code", "")))
        if found:
            return found
    return None


def codes(concept: dict | None) -> list[str]:
    """The codes of a CodeableConcept and its text, for the clinic's own lists."""
    concept = concept or {}
    found = [coding.get("code") for coding in concept.get("coding", [])]
    return [code for code in [*found, concept.get("text")] if code]


def text(concept: dict | None) -> str | None:
    """A CodeableConcept in words: its text, else the first display, else the first code."""
    concept = concept or {}
    codings = concept.get("coding", [])
    found = [concept.get("text"), *(one.get("display") for one in codings), *(one.get("code") for one in codings)]
    return next((one for one in found if one), None)


def reference(element: dict | None) -> str | None:
    """The id a Reference points to: 'A12' of 'Procedure/A12' or 'https://server/fhir/Procedure/A12/_history/2'."""
    target = re.sub(r"/_history/.*$", "", (element or {}).get("reference", ""))
    return target.rstrip("/").rpartition("/")[2] or None


def references(resource: dict, *names: str) -> list[tuple[str, str]]:
    """(resource type or '', id) of every Reference under these names, single or in lists."""
    found = []
    for name in names:
        value = resource.get(name) or []
        for one in value if isinstance(value, list) else [value]:
            if isinstance(one, dict) and (target := reference(one)):
                parts = one["reference"].partition("/_history/")[0].rstrip("/").split("/")
                found.append((parts[-2] if len(parts) > 1 else "", target))
    return found


def identifier(resource: dict | None) -> str | None:
    """The business identifier of a resource, else its id."""
    if not resource:
        return None
    given = resource.get("identifier") or []
    values = [one.get("value") for one in (given if isinstance(given, list) else [given])]
    return next((value for value in values if value), resource.get("id"))


def quantity(value: dict | None) -> tuple[str | None, str]:
    """(number with its comparator, unit) of a Quantity: the UCUM code where there is one, else the unit's text."""
    if not value or value.get("value") is None:
        return None, ""
    comparator = (value.get("comparator") or "").rstrip("=")
    return f"{comparator}{value['value']}", value.get("code") or value.get("unit") or ""


def ratio(value: dict | None) -> tuple[str | None, str]:
    """(number, unit) of a Ratio with a denominator of one."""
    number, top = quantity((value or {}).get("numerator"))
    below, bottom = quantity((value or {}).get("denominator"))
    return (number, f"{top}/{bottom}") if number and below in ("1", "1.0") else (None, "")


def times(resource: dict, name: str) -> tuple[str | None, str | None]:
    """(start, end) of a choice such as effective[x]: a dateTime or instant has no end, a Period may have both."""
    period = resource.get(f"{name}Period") or {}
    start = resource.get(f"{name}DateTime") or resource.get(f"{name}Instant") or period.get("start")
    return start, period.get("end")


def value(element: dict, prefix: str = "value") -> tuple[str | None, str]:
    """(text, unit) of a choice value[x], of an Observation or an Extension."""
    for key, found in element.items():
        if not key.startswith(prefix) or found is None:
            continue
        kind = key.removeprefix(prefix)
        if kind == "Quantity":
            return quantity(found)
        if kind == "Ratio":
            return ratio(found)
        if kind == "CodeableConcept":
            return meaning("asa_class", found) or text(found), ""
        if kind == "Coding":
            return found.get("code"), ""
        if kind == "Reference":
            return reference(found), ""
        if kind == "Boolean":
            return ("true" if found else "false"), ""
        if isinstance(found, str):
            return found, ""
    return None, ""


def extensions(element: dict, wanted: dict[str, str]) -> dict[str, tuple[str | None, str]]:
    """Our column -> (text, unit) of the extensions whose url the clinic names; several of one url joined by ';'."""
    found: dict[str, tuple[str | None, str]] = {}
    for one in element.get("extension", []):
        column = wanted.get(one.get("url", ""))
        if column:
            content, unit = value(one)
            before = found.get(column, (None, ""))[0]
            found[column] = (f"{before};{content}" if before and content else content or before, unit)
    return found
