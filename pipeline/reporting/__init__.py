"""Pages, sheets and the index in a clinic's reports folder. The only folder that imports jinja2."""

from pipeline.reporting.cases.page import case_page
from pipeline.reporting.summary import summary_text
from pipeline.reporting.write import write, write_beside

__all__ = ["case_page", "summary_text", "write", "write_beside"]
