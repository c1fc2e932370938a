"""A person's own prices: a small CSV file with the columns what, size, price. No price is ever made up here."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

from aquaplumb.files import alone, contents, named_file, write
from aquaplumb.units import DesignError

COLUMNS = ("what", "size", "price")
_LARGEST = 1_000_000  # bytes; a list of a few hundred parts takes some thousands
_PLAIN = re.compile(r"\d{1,9}(\.\d{1,4})?")
_ACTIVE = ("=", "+", "-", "@", "\t")  # what a spreadsheet would take for a formula


def price_key(what: str, size: str) -> tuple[str, str]:
    """What and size without regard to case or spaces, so that a spreadsheet's tidying does no harm."""
    return " ".join(what.split()).casefold(), " ".join(size.split()).casefold()


def price_form(keys: list[tuple[str, str]]) -> str:
    """The empty form as text: one line for each part, its price left blank."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows([_guarded(what), _guarded(size), ""] for what, size in dict.fromkeys(keys))
    return out.getvalue()


def save_form(path: str | Path, text: str) -> None:
    """Save the form as a new file; a file that is there is never written over.

    Raises
    ------
    DesignError
        Where the file is there already or cannot be written.
    """
    path = named_file(path)
    with alone(path):
        if path.exists():
            raise DesignError(f"there is already a file '{path.name}'; it may hold your prices. Give another name.")
        write(path, text)


def prices(path: str | Path) -> dict[tuple[str, str], float]:
    """The prices in a file, by what and size; lines without a price are left out.

    Raises
    ------
    DesignError
        With the line and what to write there: a decimal comma, no number, a price below 0, the same thing twice.
    """
    path = Path(path)
    where = f"price file {path.name}"
    lines = _lines(path, where)
    header = tuple(cell.strip().casefold() for cell in lines[0]) if lines else ()
    if len(header) == 1 and ";" in header[0]:
        raise DesignError(
            f"{where}: its columns are parted by semicolons; save it with commas between them, and prices with a decimal point."
        )
    if header != COLUMNS:
        raise DesignError(f"{where}: the first line is '{','.join(header)[:80]}'; it has to be {','.join(COLUMNS)}.")
    found: dict[tuple[str, str], float] = {}
    for number, cells in enumerate(lines[1:], start=2):
        if not any(cell.strip() for cell in cells):
            continue
        at = f"{where}, line {number}"
        if len(cells) != 3:
            raise DesignError(
                f"{at}: {len(cells)} cells where there should be 3; write a price with a decimal point, 1.50 and not 1,50, and put names with a comma in quotes."
            )
        what, size, price = (cell.strip() for cell in cells)
        key = price_key(_bared(what), _bared(size))
        if not price:
            continue
        if "," in price:
            raise DesignError(
                f"{at}: the price is '{price[:40]}', with a comma; write it with a decimal point and no thousands comma, such as 1.50."
            )
        if not _PLAIN.fullmatch(price):
            raise DesignError(f"{at}: the price is '{price[:40]}'; write a plain number of 0 or more, such as 1.50, without a currency.")
        if key in found:
            raise DesignError(f"{at}: '{what[:60]} {size[:60]}' is there twice; keep one of them.")
        found[key] = float(price)
    return found


def _lines(path: Path, where: str) -> list[list[str]]:
    try:
        text = contents(path, _LARGEST, "a price list takes a few kB").decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
        return list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except DesignError:
        raise
    except FileNotFoundError:
        raise DesignError(f'there is no {where}; write one with price_form("{path.name}").') from None
    except (OSError, UnicodeDecodeError, ValueError, csv.Error):
        raise DesignError(f"{where} cannot be read as a table; from a spreadsheet, save it as CSV (UTF-8).") from None


def _guarded(cell: str) -> str:
    """A name as a spreadsheet takes it for text and not for a formula."""
    return f"'{cell}" if cell.startswith(_ACTIVE) else cell


def _bared(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(_ACTIVE) else cell
