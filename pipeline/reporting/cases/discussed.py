"""The page of the cases put forward for discussion: each drawn whole, on one file."""

from pipeline.reporting.cases.chart import chart
from pipeline.reporting.cases.record import read_all
from pipeline.reporting.cases.words import CAPTION, charted, describe, detected, file_part, readings_table
from pipeline.reporting.display import first_upper
from pipeline.reporting.frame import Figure, Page, Section
from pipeline.reporting.quality.discuss import foremost, put_forward
from pipeline.reporting.review import Review


def page(review: Review) -> Page | None:
    """None where no case is put forward, and for a shared copy, which shows no single case."""
    chosen = {} if review.share else foremost(put_forward(review))
    if not chosen:
        return None
    sections, records = [], read_all(review.db, review.settings, list(chosen))
    for case_id, why in chosen.items():
        record, part = records[case_id], file_part(case_id)
        table = readings_table(record, f"case-{part}-readings", review.display)
        figure = Figure(
            f"case-{part}-figure", detected(record).rstrip("."), chart(record, review.display), table, CAPTION, "limits"
        )
        sections.append(Section(f"case-{part}", f"Case {case_id}", first_upper("; ".join(why)),
                                [f"{describe(record, review.display)} {charted(record)}", figure]))  # fmt: skip
    return Page(
        "cases", "Cases to discuss", review.settings.name, review.month, sections, ["discuss", "limits", "temperature"]
    )
