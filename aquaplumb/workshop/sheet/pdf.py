"""The build sheet as a PDF: its page, printed by a Chromium browser that is on this machine."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

from filelock import FileLock, Timeout

from aquaplumb.units import DesignError
from aquaplumb.workshop.sheet.records import Sheet
from aquaplumb.workshop.sheet.web_page import html

BROWSERS = (
    "chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge", "microsoft-edge",
    "microsoft-edge-stable", "brave-browser",
)  # fmt: skip
_PATIENCE = 120  # s
_PREFIX, _HELD = "aquaplumb-pdf-", "held.lock"  # a folder to print in, and the lock that says that somebody does
_LEFT = 3600  # s
_ALONE = (  # it prints a page that loads nothing, and has nobody to ask
    "--disable-background-networking", "--disable-component-update", "--disable-domain-reliability", "--disable-sync",
    "--disable-default-apps", "--disable-extensions", "--host-resolver-rules=MAP * ~NOTFOUND",
)  # fmt: skip
_END = re.compile(rb"startxref\s+\d+\s+%%EOF\s*\Z")  # ISO 32000-1, 7.5.5: the last lines of a whole file
_DATES = re.compile(rb"/(CreationDate|ModDate) \(D:(\d{14})")
_SAME_DATE = b"20000101000000"


def browser() -> str:
    """Where a browser is that can print.

    Raises
    ------
    DesignError
        Where there is none, with what to do.
    """
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if not found:
        raise DesignError(
            "there is no Chromium, Chrome or Edge here to make a PDF with; make sheet.html instead, open it in any browser and print it from there."
        )
    return found


def pdf(sheet: Sheet, *, paper: str = "") -> bytes:
    """The sheet as a PDF on A4, or on letter paper for a build in US units, unless you say which.

    Raises
    ------
    DesignError
        Where there is no browser to print with, or it fails.

    Source: none; a layout.
    """
    return printed(html(sheet, paper=paper or ("letter" if sheet.units == "US" else "A4")))


def printed(page: str) -> bytes:
    """A page that holds all it shows, as a PDF on the paper that it names; the same bytes each time.

    Raises
    ------
    DesignError
        Where there is no browser to print with, or it fails.

    Source: none; a layout.
    """
    program = browser()
    _clear(Path(tempfile.gettempdir()))
    with (
        tempfile.TemporaryDirectory(prefix=_PREFIX, ignore_cleanup_errors=True) as place,
        FileLock(Path(place) / _HELD),
    ):
        here, out = Path(place) / "sheet.html", Path(place) / "sheet.pdf"
        here.write_text(page, encoding="utf-8")
        root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []  # the sandbox refuses to run as root
        command = [program, "--headless", *root, "--disable-gpu", "--no-first-run", *_ALONE, f"--user-data-dir={Path(place) / 'profile'}", "--no-pdf-header-footer", f"--print-to-pdf={out}", here.as_uri()]  # fmt: skip
        try:
            subprocess.run(command, capture_output=True, timeout=_PATIENCE, check=False, stdin=subprocess.DEVNULL)
            data = out.read_bytes()
        except (OSError, subprocess.TimeoutExpired):
            data = b""
    if not data.startswith(b"%PDF") or not _END.search(data[-1024:]):
        raise DesignError(
            f"{Path(program).name} did not make a PDF; make sheet.html instead, open it in any browser and print it from there."
        )
    return _DATES.sub(rb"/\1 (D:" + _SAME_DATE, data)


def _clear(folder: Path) -> None:
    """Take away what runs that were killed have left: folders of an hour ago that nobody holds any more."""
    for place in folder.glob(f"{_PREFIX}*"):
        try:
            if place.is_symlink() or time.time() - place.stat().st_mtime < _LEFT:
                continue
            with FileLock(place / _HELD, timeout=0):
                pass
        except (OSError, Timeout):
            continue  # somebody else's, or in use
        shutil.rmtree(place, ignore_errors=True)
