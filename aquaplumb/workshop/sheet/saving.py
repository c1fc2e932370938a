"""Saves a build sheet in one step, and never over anything but a sheet as it was saved here.

Each file carries a mark with a fingerprint of itself. One that a person has written in since no longer fits its mark,
and is left alone unless forced.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
import zlib
from pathlib import Path

from aquaplumb.files import write
from aquaplumb.units import DesignError

MARK = "aquaplumb sheet"
LIST = "aquaplumb-sheet.txt"  # in a folder of tables: what was written, with fingerprints
_TAIL = re.compile(rb"\n(?:<!-- |%)" + MARK.encode() + rb" ([0-9a-f]{32})(?: -->)?\n\Z")
_LARGEST = 200_000_000  # bytes


def fingerprint(data: bytes) -> str:
    """A fingerprint of some bytes."""
    return hashlib.sha256(data).hexdigest()[:32]


def stamped(data: bytes, *, pdf: bool = False) -> bytes:
    """A page or a PDF with its mark at the end."""
    mark = f"{MARK} {fingerprint(data)}"
    return data + (f"\n%{mark}\n" if pdf else f"\n<!-- {mark} -->\n").encode()


def cells_fingerprint(data: bytes) -> str:
    """The fingerprint of a workbook's cells, whatever its properties."""
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        names = sorted(name for name in book.namelist() if name.startswith(("xl/worksheets/", "xl/sharedStrings")))
        return fingerprint(b"\n".join(book.read(name) for name in names))


def is_ours(path: Path) -> bool:
    """Whether a file is a sheet, just as it was saved here."""
    try:
        if not path.is_file() or path.stat().st_size > _LARGEST:
            return False
        data = path.read_bytes()
        if path.suffix.lower() == ".xlsx":
            with zipfile.ZipFile(io.BytesIO(data)) as book:
                if sum(part.file_size for part in book.infolist()) > _LARGEST:
                    return False
                said = book.read("docProps/core.xml").decode("utf-8")
            return f"{MARK} {cells_fingerprint(data)}" in said
    except (OSError, EOFError, KeyError, ValueError, RuntimeError, zipfile.BadZipFile, zlib.error):  # damaged, encrypted, no workbook
        return False
    found = _TAIL.search(data)
    return found is not None and found[1].decode() == fingerprint(data[: found.start()])


def save(path: Path, data: bytes, *, force: bool = False) -> None:
    """Replace a file in one step: the old one or the new, never half of it.

    Raises
    ------
    DesignError
        Where something else is there, or the file cannot be written.
    """
    _check(Path(path), force)
    write(Path(path), data)


def _check(path: Path, force: bool) -> None:
    """Refuse a file that is no sheet of ours, or that has no folder."""
    if path.is_dir():
        raise DesignError(f"{path.name} is a folder; give the name of a file, or a folder's name with a / at its end for tables.")
    if path.exists() and not force and not is_ours(path):
        raise DesignError(
            f"{path.name} is there already and is no sheet as it was saved here (somebody may have written in it); give another name, or add --force to replace it."
        )
    if not path.resolve().parent.is_dir():
        raise DesignError(f"there is no folder {path.resolve().parent.name} for {path.name}; make it first.")


def save_folder(folder: Path, files: dict[str, bytes], *, force: bool = False) -> None:
    """Put table files into a folder; those of an earlier sheet that are no longer needed go.

    Raises
    ------
    DesignError
        Where a file that is there is not as it was saved here, or the folder cannot be written.
    """
    folder = Path(folder)
    _check_folder(folder)
    before = _listed(folder)
    for name in {*files, *before}:
        path = folder / name
        if (
            path.exists()
            and not force
            and not (path.is_file() and (path.read_bytes() == files.get(name) or fingerprint(path.read_bytes()) in before.get(name, ())))
        ):
            raise DesignError(
                f"{folder.name}/{name} is there already and is not as it was saved here (somebody may have written in it); give another folder, or add --force to replace it."
            )
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as wrong:
        raise DesignError(f"the folder {folder.name} cannot be made: {wrong.strerror}.") from None
    fresh = {name: [fingerprint(data)] for name, data in files.items()}
    _list(
        folder, {name: [*before.get(name, ()), *fresh.get(name, ())] for name in {**before, **fresh}}
    )  # killed from here on, it is still ours
    for name, data in files.items():
        write(folder / name, data)
    for name in before.keys() - files.keys():
        (folder / name).unlink(missing_ok=True)
    _list(folder, fresh)


def _list(folder: Path, prints: dict[str, list[str]]) -> None:
    """Write down which tables are ours, with their fingerprints."""
    told = f"{MARK}: these tables were made from a build file; what you write in them is never overwritten unless you say so."
    write(folder / LIST, "\n".join([told, *(f"{mark} {name}" for name, marks in prints.items() for mark in marks)]) + "\n")


def _check_folder(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise DesignError(f"{folder.name} is a file; tables go into a folder. Give another name.")


def target(out: str, *, force: bool = False) -> tuple[str, Path]:
    """What a name asks for, and where it goes: "html", "pdf", "xlsx", or "csv" with the folder of the tables.

    Raises
    ------
    DesignError
        Where the name asks for none of them, a sheet must not go there (as `save`), or there is no browser to make a PDF with.
    """
    path = Path(out)
    end = path.suffix.lower()
    if out.endswith(("/", "\\")) or end == ".csv" or path.is_dir():
        folder = path.with_suffix("") if end == ".csv" and not path.is_dir() else path
        if folder.name in ("", ".."):  # "." too: tables would lie strewn among what else is there
            raise DesignError(f"tables go into a folder of their own, and {out!r:.60} is none; name one, such as sheet/.")
        _check_folder(folder)
        return "csv", folder
    if end not in (".html", ".htm", ".pdf", ".xlsx"):
        raise DesignError(f"'{path.name}' does not say what to make; end it in .html, .pdf or .xlsx, or in / for a folder of CSV tables.")
    _check(path, force)
    if end == ".pdf":
        from aquaplumb.workshop.sheet.pdf import browser

        browser()
    return "html" if end == ".htm" else end[1:], path


def saved(sheet, out: str, *, paper: str = "", force: bool = False) -> str:
    """Write a sheet in the form that the name asks for; returns what was done, in a sentence."""
    from aquaplumb.workshop.sheet import pdf, web_page, workbook

    form, path = target(out, force=force)
    if form == "csv":
        files = workbook.tables(sheet)
        save_folder(path, files, force=force)
        return f"Written: {len(files)} tables in the folder {path.name}."
    if form == "xlsx":
        data, then = workbook.workbook(sheet), "open it in any spreadsheet"
    elif form == "pdf":
        data, then = stamped(pdf.pdf(sheet, paper=paper), pdf=True), "print it"
    else:
        data, then = stamped(web_page.html(sheet, paper=paper).encode("utf-8")), "open it in any browser, and print it from there"
    save(path, data, force=force)
    return f"Written: {path.name}; {then}."


def _listed(folder: Path) -> dict[str, list[str]]:
    """What an earlier sheet left in a folder: fingerprints by name, two where it was stopped; plain names of table files only."""
    try:
        lines = (folder / LIST).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return {}
    listed: dict[str, list[str]] = {}
    for line in lines:
        if one := re.fullmatch(r"([0-9a-f]{32}) ([a-z0-9-]{1,60}\.csv)", line):
            listed.setdefault(one[2], []).append(one[1])
    return listed
