"""The build sheet as a PDF: its page, printed by a Chromium browser that is on this machine."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

from aquaplumb.units import DesignError
from aquaplumb.workshop.sheet.records import Sheet
from aquaplumb.workshop.sheet.web_page import html

BROWSERS = (
    "chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge", "microsoft-edge",
    "microsoft-edge-stable", "brave-browser",
)  # fmt: skip
_PATIENCE = 120  # s
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
    program = browser()
    page = html(sheet, paper=paper or ("letter" if sheet.units == "US" else "A4"))
    with tempfile.TemporaryDirectory(prefix="aquaplumb-", ignore_cleanup_errors=True) as place:
        here, out = Path(place) / "sheet.html", Path(place) / "sheet.pdf"
        here.write_text(page, encoding="utf-8")
        root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []  # the sandbox refuses to run as root
        command = [program, "--headless", *root, "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-extensions",
                   f"--user-data-dir={Path(place) / 'profile'}", "--no-pdf-header-footer", f"--print-to-pdf={out}", here.as_uri()]  # fmt: skip
        try:
            subprocess.run(command, capture_output=True, timeout=_PATIENCE, check=False, stdin=subprocess.DEVNULL)
            data = out.read_bytes()
        except (OSError, subprocess.TimeoutExpired):
            data = b""
    if not data.startswith(b"%PDF"):
        raise DesignError(
            f"{Path(program).name} did not make a PDF; make sheet.html instead, open it in any browser and print it from there."
        )
    return _DATES.sub(rb"/\1 (D:" + _SAME_DATE, data)
