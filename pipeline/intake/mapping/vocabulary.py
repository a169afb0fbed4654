"""Words of a mapped file that are no fixed codes: the clinic's own lists, routes, drugs, people, machines.

Codes of the schema (species, outcome, ...) are read by the typing from the same seeds; here come only what
mapping.toml adds to them, and the free columns for which a word must mean the same in every file.
"""

import re
from difflib import get_close_matches

from pipeline.intake.mapping import words
from pipeline.intake.mapping.work import Unreadable, Work

SALT = re.compile(
    r"\s+(?:hcl|hydrochlorid[e]?|sulfate?|sulphate|citrat[e]?|maleate?|tartrate?|bromid[e]?|sodium|natrium)$"
)
NOTHING_GIVEN = frozenset({"", "0", "none"})


def own_words(work: Work, name: str) -> dict[str, str]:
    """The clinic's own words for a column, folded: of this kind of file first, then of every file."""
    both = {**work.mapping.words.get(name, {}), **work.kind.codes.get(name, {})}
    return {words.fold(str(word)): str(code) for word, code in both.items()}


def read(work: Work) -> None:
    """The clinic's own words everywhere, then routes, techniques, yes and no of blanks, and people."""
    for name in work.cells:
        if own := own_words(work, name):
            work.change(name, lambda text, count, own=own: own.get(words.fold(text), text))
    for name in work.kind.blank_is_no:
        if name in work.cells:
            blank = work.cells[name].null_count
            work.cells[name] = work.cells[name].fill_null("no")
            why = f"{name}: blank was read as no, as mapping.toml says."
            work.note("blank_is_no", "N", name, why, blank)
    if "route" in work.cells:
        work.change("route", lambda text, count: route(work, text, count))
    for name in ("techniques", "warming"):
        if name in work.cells:
            work.change(name, lambda text, count, name=name: several(text, own_words(work, name)))
    for name in work.cells:
        column = work.column(name)
        if column and column.personal == "person":
            people(work, name)


def route(work: Work, text: str, count: int) -> str:
    """A route in our word; as charted where we have none. Raises Unreadable for one that may mean two."""
    if words.fold(text) in words.of_kind("unclear_route"):
        reason = f"route holds {text!r}, which may mean two things; write it out"
        raise Unreadable("route_unclear", reason, flagged=True)
    found = words.code_of("route", text)
    if found and found != text:
        work.note("route_word", "A", "route", "route: words for a route were read.", count, f"{text} -> {found}")
    return found or text


def several(text: str, own: dict[str, str]) -> str | None:
    """A list of words joined by ';', each in lower case with underscores.

    >>> several("Nerve block, Epidural", {})
    'nerve_block;epidural'
    """
    parts = [part for part in re.split(r"[;,+/|]", text) if not words.is_missing(part)]
    coded = [own.get(words.fold(part)) or re.sub(r"[\s-]+", "_", words.tidy(part).casefold()) for part in parts]
    return ";".join(dict.fromkeys(coded)) or None


def person(text: str) -> str:
    """A person's spelling as it is compared: no points, spaces or case.

    >>> person("A. B."), person("ab")
    ('ab', 'ab')
    """
    return re.sub(r"[.\s]", "", text).casefold()


def people(work: Work, name: str) -> None:
    """Spellings of one person brought to one code: mapping.toml's, else the commonest spelling in the column."""
    aliases = {person(str(spelling)): str(code) for spelling, code in work.mapping.people.items()}
    counts: dict[str, dict[str, int]] = {}
    encoded = work.cells[name].value_counts()
    for text, count in zip(encoded.field(0).to_pylist(), encoded.field(1).to_pylist(), strict=True):
        if text:
            tidied = words.tidy(text)
            spellings = counts.setdefault(person(tidied), {})
            spellings[tidied] = spellings.get(tidied, 0) + count
    usual = {key: min(found, key=lambda one, found=found: (-found[one], one)) for key, found in counts.items()}

    def one(text, count):
        key = person(words.tidy(text))
        code = aliases.get(key)
        if code is None and re.search(r"[/&+]|\band\b", text):
            reason = f"{name} names two people; give each their own column, or add the pair under [people]"
            raise Unreadable("two_people", reason, flagged=True)
        code = code or usual[key]
        if code != text:
            why = f"{name}: spellings of one person were brought to one code."
            work.note("person_alias", "A", name, why, count)
        return code

    work.change(name, one)


def drug(work: Work, text: str, count: int) -> str:
    """A drug's name in lower case: the clinic's own trade names, then names, salts and translations we know.

    A name we do not know stays as charted; the nearest is suggested, never taken.
    """
    trade = {words.fold(str(name)): str(inn) for name, inn in work.mapping.trade_names.items()}
    folded = words.fold(text)
    bare = SALT.sub("", folded)
    known = words.of_kind("drug")
    found = trade.get(folded) or known.get(folded) or known.get(bare)
    if found:
        if found != text:
            why = "drug: translations, salts, abbreviations and the clinic's trade names were read."
            work.note("drug_name", "A", "drug", why, count, f"{text} -> {found}")
        return found
    near = get_close_matches(bare, known, 2, 0.8)
    meant = {known[one] for one in near}
    hint = (
        f" Did the clinic mean {meant.pop()}? Then add it under [trade_names] or [words.drug]."
        if len(meant) == 1
        else ""
    )
    if hint or not work.kind.plain:
        why = f"drug: a name we do not know was kept as charted.{hint}"
        work.note("drug_unknown", "W", "drug", why, count, f"{text} -> {text.casefold()}")
    return words.tidy(text).casefold()
