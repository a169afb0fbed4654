"""The page of the cases put forward for discussion: each drawn whole, on one file."""

from pipeline.reporting.cases.chart import chart
from pipeline.reporting.cases.page import charted, describe, detected, file_part, parameter_words
from pipeline.reporting.cases.record import read
from pipeline.reporting.frame import Column, Figure, Page, Section, Table
from pipeline.reporting.quality.discuss import foremost, put_forward
from pipeline.reporting.review import Review

CAPTION = (
    "Shaded: beyond a limit that holds for this animal. Thick line under a panel: beyond it long enough to count. Cross: a "
    "reading left out. A gap in a line is a gap in the record. Dotted uprights: stages."
)


def page(review: Review) -> Page | None:
    """None where no case is put forward, and for a shared copy, which shows no single case."""
    chosen = {} if review.share else foremost(put_forward(review))
    if not chosen:
        return None
    sections = []
    for case_id, why in chosen.items():
        record, part = read(review.db, review.settings, case_id), file_part(case_id)
        counts = [[parameter_words(name), len(times), len(record.removed.get(name, ([], [], []))[0]), min(values), max(values)]
                  for name, (times, values) in record.readings.items()]  # fmt: skip
        table = Table(f"case-{part}-readings", f"Readings of case {case_id}", [Column("Reading"), Column("Used", "count"),
                      Column("Left out", "count"), Column("Lowest", "number"), Column("Highest", "number")], counts)  # fmt: skip
        figure = Figure(
            f"case-{part}-figure", detected(record).rstrip("."), chart(record, review.display), table, CAPTION, "limits"
        )
        sections.append(Section(f"case-{part}", f"Case {case_id}", "; ".join(why).capitalize(),
                                [f"{describe(record, review.display)} {charted(record)}", figure]))  # fmt: skip
    return Page(
        "cases", "Cases to discuss", review.settings.name, review.month, sections, ["discuss", "limits", "temperature"]
    )
