"""A small invented clinic through to its pages, once a session, and a browser to open them in."""

import os
from types import SimpleNamespace

import browser
import pytest
import small_clinic
from page_figures import figures_of

from pipeline.reporting import case_page, write


@pytest.fixture(scope="session")
def small():
    """The small clinic: db (models and results computed), settings."""
    given = small_clinic.settings()
    with_records = small_clinic.connection(given=given)
    yield SimpleNamespace(db=with_records, settings=given)
    with_records.close()


@pytest.fixture(scope="session")
def pages(small, tmp_path_factory):
    """The quality report and its neighbours, whole and for sharing, and one case page: name -> path."""
    folder = tmp_path_factory.mktemp("clinic Größe & Sohn's")
    (folder / "actions.csv").write_text("action;who;due;state\nBuy probes;B2;2026-10-15;open\n", encoding="utf-8")
    written = write(small.db, small.settings, folder, ["quality"])
    write(small.db, small.settings, folder, ["quality"], share=True)
    case_id = small.db.execute("SELECT case_id FROM case_windows WHERE month_no = 2026 * 12 + 9 ORDER BY 1").fetchone()[
        0
    ]
    reports = folder / "reports"
    return SimpleNamespace(
        folder=reports, written=written, quality=reports / "quality.html", cases=reports / "cases.html",
        index=reports / "index.html", summary=reports / "quality_summary.html", case_id=case_id,
        shared=reports / "shared" / "quality.html", case=case_page(small.db, small.settings, folder, case_id),
    )  # fmt: skip


@pytest.fixture(scope="session")
def hostile_page(tmp_path_factory):
    """The pages of a clinic whose every free text tries to run."""
    folder = tmp_path_factory.mktemp("hostile")
    given = small_clinic.settings(name=small_clinic.HOSTILE, changes={small_clinic.HOSTILE: "2026-04-01"})
    db = small_clinic.connection(cases=300, hostile=True, given=given)
    (folder / "actions.csv").write_text(
        f'action,who\n"{small_clinic.HOSTILE.replace(chr(34), chr(34) * 2)}",B2\n', encoding="utf-8"
    )
    write(db, given, folder, ["quality"])
    case_id = db.execute("SELECT min(case_id) FROM case_windows WHERE case_id LIKE '<img%'").fetchone()[0]
    found = SimpleNamespace(quality=folder / "reports" / "quality.html", cases=folder / "reports" / "cases.html",
                            case=case_page(db, given, folder, case_id), folder=folder / "reports")  # fmt: skip
    db.close()
    return found


@pytest.fixture(scope="session")
def chromium():
    """A running headless Chromium."""
    if browser.find() is None:
        if os.environ.get("ROUNDS_REQUIRE_BROWSER") == "1":
            pytest.fail("ROUNDS_REQUIRE_BROWSER=1, and no Chromium on this machine")
        pytest.skip("no Chromium on this machine; install one to check the pages in it")
    with browser.Browser() as running:
        yield running


@pytest.fixture(scope="session")
def drawn(pages):
    """The figures of the quality page."""
    return figures_of(pages.quality)
