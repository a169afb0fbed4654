"""Pages as PDF, printed by the Chromium-family browser this machine already has. Nothing is installed or fetched."""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from pipeline.errors import UserFault

NAMES = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "brave-browser",
    "microsoft-edge",
    "msedge",
)
PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    r"%ProgramFiles%\Google\Chrome\Application\chrome.exe",
    r"%ProgramFiles(x86)%\Google\Chrome\Application\chrome.exe",
    r"%LocalAppData%\Google\Chrome\Application\chrome.exe",
    r"%ProgramFiles(x86)%\Microsoft\Edge\Application\msedge.exe",
    r"%ProgramFiles%\Microsoft\Edge\Application\msedge.exe",
)
# The page itself asks for nothing; these keep the browser from asking either.
FLAGS = (
    "--headless",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-pdf-header-footer",
    "--proxy-server=127.0.0.1:9",
)
TIMEOUT_S = 180


def find_browser() -> str | None:
    """Path of an installed Chromium-family browser, None where there is none."""
    named = (shutil.which(name) for name in NAMES)
    placed = (path for place in PLACES if Path(path := os.path.expandvars(place)).is_file())
    return next((path for path in (*named, *placed) if path), None)


def print_pages(paths: list[Path]) -> list[Path]:
    """Prints every HTML page to a PDF beside it; returns the PDFs. Paper size is the browser's own default.

    Raises UserFault where no browser is found or it does not print.
    """
    browser = find_browser()
    if browser is None:
        raise UserFault(
            where="--pdf",
            found="no Chromium, Chrome, Edge or Brave on this machine",
            wanted="one of these browsers, installed",
            fix="open the page in any browser and print it to PDF there; the pages themselves are written",
        )
    return [
        print_page(browser, path)
        for path in paths
        if path.suffix == ".html" and not path.name.endswith("_summary.html")
    ]


def print_page(browser: str, page: Path) -> Path:
    made = page.with_suffix(".pdf")
    root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        unfinished = Path(profile) / "page.pdf"
        command = [
            browser,
            *FLAGS,
            *root,
            f"--user-data-dir={profile}",
            f"--print-to-pdf={unfinished}",
            page.resolve().as_uri(),
        ]
        try:
            subprocess.run(command, check=True, timeout=TIMEOUT_S, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            made.write_bytes(unfinished.read_bytes())
        except (OSError, subprocess.SubprocessError) as cause:
            raise UserFault(
                where=f"--pdf, {page.name}",
                found=f"{Path(browser).name} did not print it",
                wanted="a PDF of the page",
                fix="open the page in the browser and print it to PDF there",
            ) from cause
    return made
