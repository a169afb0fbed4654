"""Whether a column name is one that a kind of file, or any clinic, would use, and what it may mean."""

import re
from collections.abc import Callable

from pipeline.intake.mapping import layout, words
from pipeline.intake.mapping.clinic_file import FileKind

# What stands between the languages of a bilingual name.
BETWEEN = re.compile(r"\s+[/|]\s+|\n|(?<=\w{3})/(?=\w{3})")


def knows(kind: FileKind) -> Callable[[str], bool]:
    """Whether a column name is one that mapping.toml gives this kind of file."""
    given = {words.fold_header(name) for name in (*kind.columns, *kind.events)}
    return lambda name: words.fold_header(name) in given


def meanings(name: str) -> set[tuple[str, str]]:
    """The (table, column) a clinic may mean by a column name, in any of our languages, unit left aside.

    Of a name of two lines the lower counts, unless only the upper is known; of two languages both.

    >>> sorted(meanings("Gewicht / Weight (kg)")), meanings("Vitals > HR"), meanings("mood")
    ([('cases', 'weight_kg')], {('reading', 'heart_rate')}, set())
    """
    for part in reversed(re.sub(r" \(\d+\)$", "", name).split(layout.JOINT)):
        bare, _ = layout.unit_in(part)
        whole = words.headers().get(words.fold_header(part)) or words.headers().get(words.fold_header(bare))
        if whole:
            return set(whole)
        found = [set(words.headers().get(words.fold_header(one), ())) for one in BETWEEN.split(bare)]
        found = [one for one in found if one]
        if found:
            return set.intersection(*found) or set.union(*found)
    return set()


def event_of(name: str) -> str | None:
    """The event a column of ticks is named for.

    >>> event_of("Hypotonie"), event_of("Tierart")
    ('hypotension', None)
    """
    return words.of_kind("event").get(words.fold(name.rpartition(layout.JOINT)[2]))
