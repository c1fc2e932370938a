"""The build sheet's tables as a workbook (XLSX) or as table files (CSV): numbers are numbers, words are words.

Nothing that a person wrote is ever taken for a formula or a link.
"""

from __future__ import annotations

import csv
import datetime
import io
import math

from aquaplumb.workshop.sheet.records import Caution, Grid, GridColumn, Heading, NumberedSteps, Points, Sheet, Words, bare
from aquaplumb.workshop.sheet.saving import MARK, cells_fingerprint

_MADE = datetime.datetime(2000, 1, 1)  # the same for all, so that the same sheet gives the same bytes
_WIDEST, _NARROWEST = 60, 8  # characters of a column
_ACTIVE = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")  # what a spreadsheet would take for a formula
_FIGURES = 9  # of a number in a cell: what is left is noise of the arithmetic


def workbook(sheet: Sheet) -> bytes:
    """The tables as XLSX: a tab for each, and one for the words. The same sheet gives the same bytes.

    Source: none; a layout.

    Examples
    --------
    >>> from aquaplumb.workshop.sheet import sheet
    >>> workbook(sheet("courtyard", designs=50))[:2]
    b'PK'
    """
    return _written(sheet, f"{MARK} {cells_fingerprint(_written(sheet, ''))}")


def _written(sheet: Sheet, mark: str) -> bytes:
    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(
        out,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
            "nan_inf_to_errors": False,
        },
    )
    book.set_properties({"title": bare(sheet.title)[:255], "comments": mark, "created": _MADE})
    head = book.add_format(
        {"bold": True, "bg_color": "#EEF2F5", "text_wrap": True, "valign": "bottom", "border": 1, "border_color": "#9AA7B0"}
    )
    text = book.add_format({"text_wrap": True, "valign": "top"})
    strong = book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
    formats = {
        form: book.add_format({"num_format": form, "valign": "top"})
        for form in ("#,##0", "#,##0.0", "#,##0.00", "#,##0.######", "0.###E+00")
    }
    _words(book.add_worksheet("Read first"), sheet, text, strong)
    for grid in sheet.grids:
        page = book.add_worksheet(grid.key.capitalize()[:31])
        page.set_landscape()
        page.fit_to_pages(1, 0)
        page.repeat_rows(0)
        page.freeze_panes(1, 0)
        page.set_footer("&L&A&R&P / &N")
        for place, column in enumerate(grid.columns):
            page.set_column(place, place, _width(grid, place))
            page.write_string(0, place, column.header, head)
            for number, row in enumerate(grid.rows, start=1):
                cell = row[place] if place < len(row) else None
                if cell is None or cell == "":
                    continue
                if isinstance(cell, str):
                    page.write_string(number, place, bare(cell), text)
                elif math.isfinite(cell):
                    page.write_number(number, place, float(f"{cell:.{_FIGURES}g}"), formats[_form(column, cell)])
                else:
                    page.write_string(number, place, "not possible", text)
    book.close()
    return out.getvalue()


def _words(page, sheet: Sheet, text, strong) -> None:
    """All that is said in sentences, chapter by chapter."""
    page.set_column(0, 0, 110)
    page.set_portrait()
    page.fit_to_pages(1, 0)
    lines = [(sheet.title, strong), (f"Build sheet: {sheet.verdict}", text), (sheet.about, text)]
    for number, chapter in enumerate(sheet.chapters, start=1):
        said = []
        for block in chapter.blocks:
            if isinstance(block, (Words, Caution)):
                said.append((block.text, strong if isinstance(block, Caution) else text))
            elif isinstance(block, Heading):
                said.append((block.text, strong))
            elif isinstance(block, (NumberedSteps, Points)):
                said += [
                    (f"{place}. {line}" if isinstance(block, NumberedSteps) else f"• {line}", text)
                    for place, line in enumerate(block.lines, start=1)
                ]
        if said:
            lines += [("", text), (f"{number}. {chapter.title}", strong), *said]
    for row, (line, look) in enumerate(lines):
        if line:
            page.write_string(row, 0, bare(line), look)
    page.freeze_panes(1, 0)


def _form(column: GridColumn, cell: float) -> str:
    if column.decimals is not None:
        return ("#,##0", "#,##0.0", "#,##0.00")[min(column.decimals, 2)]
    if cell != 0 and abs(cell) < 1e-4:
        return "0.###E+00"
    shown = column.text(cell)
    return (
        "#,##0"
        if "." not in shown
        else "#,##0.0"
        if len(shown.partition(".")[2]) == 1
        else "#,##0.00"
        if len(shown.partition(".")[2]) == 2
        else "#,##0.######"
    )


def _width(grid: Grid, place: int) -> float:
    column = grid.columns[place]
    longest = max((len(bare(column.text(row[place]))) for row in grid.rows if place < len(row)), default=0)
    header = max(map(len, column.header.split()), default=0)
    return min(_WIDEST, max(_NARROWEST, header + 2, longest + 2))


def tables(sheet: Sheet) -> dict[str, bytes]:
    """The tables as CSV files by name: UTF-8 with a mark at the start that spreadsheets know, a header with units.

    A cell of words that a spreadsheet would take for a formula gets an apostrophe before it.

    Source: none; a layout.

    Examples
    --------
    >>> from aquaplumb.workshop.sheet import sheet
    >>> sorted(tables(sheet("courtyard", designs=50)))[0]
    '01-wall-heights.csv'
    """
    return {f"{number:02d}-{grid.key.replace(' ', '-')}.csv": _table(grid) for number, grid in enumerate(sheet.grids, start=1)}


def _table(grid: Grid) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n", quoting=csv.QUOTE_NONNUMERIC)
    writer.writerow([column.header for column in grid.columns])
    for row in grid.rows:
        cells = [*row, *[None] * (len(grid.columns) - len(row))]
        writer.writerow([_cell(cell) for cell in cells])
    return out.getvalue().encode("utf-8-sig")


def _cell(cell):
    if cell is None:
        return ""
    if isinstance(cell, str):
        plain = bare(cell)
        return f"'{plain}" if plain.startswith(_ACTIVE) else plain
    return float(f"{cell:.{_FIGURES}g}") if math.isfinite(cell) else "not possible"
