"""The quality report: one month for the people who meet over it, section by section."""

from pipeline.reporting.frame import Page
from pipeline.reporting.quality import cases, harm, lead, physiology, recovery
from pipeline.reporting.review import Review

SECTIONS = (cases, harm, physiology, recovery)
METHODS = ["periods", "harm", "limits", "temperature", "recovery"]


def page(review: Review) -> Page:
    """The page of the month under review."""
    sections = [part.section(review) for part in SECTIONS]
    return Page(
        name="quality",
        title="Quality rounds",
        clinic=review.settings.name,
        period=review.month,
        sections=[section for section in sections if section and section.items],
        methods=METHODS,
        lead=lead.sentences(review),
        share=review.share,
    )
