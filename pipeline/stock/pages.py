"""Writes stock.html with its tables, the order sheet by itself, and the long lists, as XLSX and CSV."""

from pathlib import Path

from pipeline.database import tables
from pipeline.reporting import sheets
from pipeline.reporting.display import Display
from pipeline.reporting.frame import Page, write_page
from pipeline.reporting.results import Results
from pipeline.reporting.write import folder_of
from pipeline.stock.compute import as_of
from pipeline.stock.report import book, climate, forecast, lead, machines, orders, shelf, used
from pipeline.stock.report.view import View

METHODS = ["periods", "consumption", "forecast", "orders", "drug_book"]


def write(
    db, settings, clinic: Path, month: str | None = None, share: bool = False, results: Results | None = None
) -> list[Path]:
    """The stock page of a month and its tables; order_sheet.xlsx; stock_details.xlsx with what is too long to print.

    db: with the tables of stock.compute and the results; results: those of the month where they are read already.
    A shared copy goes to a folder of its own, without details.
    """
    folder = folder_of(clinic, share)
    results = results or Results(db, month, share)
    view = View(db, settings, Display(settings.display), results, as_of(db, settings), share, files(db))
    made = page(view)
    written = write_page(made, settings, db, folder)
    ordered = next(section for section in made.sections if section.id == "orders")
    sheet = [item for item in ordered.items if getattr(item, "id", "") == "order-sheet"]
    written += sheets.write_tables("order_sheet", sheet, folder, view.display)
    if not share:
        written += write_details(view, folder)
    return written


def write_details(view: View, folder: Path) -> list[Path]:
    """stock_details.xlsx with the recent lines of the drug book; each table whole as CSV."""
    tables = [used.item_months(view), orders.each_item(view), book.lines(view)]
    flats = [(table.id, *sheets.flat(table, view.display)) for table in tables]
    id, headings, rows = flats[-1]
    made = sheets.write_workbook("stock_details", [*flats[:-1], (id, headings, book.recent(view, rows))], folder)
    return [made, *(sheets.write_csv("stock_details", one, folder) for one in flats)]


def files(db) -> dict[int, str]:
    """Names of the loaded files by number."""
    return dict(db.execute("SELECT file_id, name FROM files").fetchall()) if "files" in tables(db) else {}


def page(view: View) -> Page:
    """The stock report: what to order, what comes, what the shelf says, what was used, machines, book, climate."""
    sections = [
        orders.section(view),
        forecast.section(view),
        shelf.section(view),
        used.section(view),
        machines.section(view),
        book.section(view),
        climate.section(view),
    ]
    return Page(
        name="stock",
        title="Stock and orders",
        clinic=view.settings.name,
        period=f"{view.month}; shelf of {view.display.day(view.today)}",
        sections=sections,
        methods=METHODS,
        lead=lead.sentences(view),
        share=view.share,
    )
