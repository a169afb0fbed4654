"""The quality report: one month for the people who meet over it, section by section."""

from pipeline.reporting.frame import Page
from pipeline.reporting.quality import (
    actions,
    agreement,
    cases,
    change,
    discuss,
    expected,
    harm,
    lead,
    physiology,
    recovery,
)
from pipeline.reporting.review import Review

METHODS = ["periods", "harm", "change", "limits", "temperature", "recovery", "expected", "agreement", "discuss"]


def page(review: Review) -> Page:
    """The page of the month under review."""
    watched = change.watch(review)
    if not review.share:
        change.keep(review, watched)
    sections = [
        cases.section(review),
        harm.section(review),
        change.section(review, watched),
        physiology.section(review),
        recovery.section(review),
        expected.section(review),
        agreement.section(review),
        discuss.section(review),
        actions.section(review),
    ]
    return Page(
        name="quality",
        title="Quality rounds",
        clinic=review.settings.name,
        period=review.month,
        sections=[section for section in sections if section and section.items],
        methods=METHODS,
        lead=lead.sentences(review, watched),
        lead_order=lead.ORDER,
        share=review.share,
    )
