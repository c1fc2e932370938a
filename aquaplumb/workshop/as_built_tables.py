"""The tables of a build as built: the vessels' under the drawing, and the lines', under it too or on sheets of their own."""

from __future__ import annotations

from aquaplumb.workshop.as_built_words import AsBuiltWords
from aquaplumb.workshop.paper import HIGH, ROW, SIZE, WIDE

MARGIN = 4.0  # points of the paper's edge
NOTES = (
    "Heights to scale, widths not, from the zero mark; depths of switches from the vessel's inside bottom. Pieces of falling lines: labels, or 1-2 for the second of line 1; all under Cut list.",
    "Running, lowest (a thin line): where the level goes up and down. Highest in a power cut: at any moment of 8 h, for several moments at which it begins; at rest: at its end.",
    "Flow in brackets: only while another way out is blocked. Can carry: with the water at its freeboard; of a siphon, while it runs; ! is too little.",
)  # fmt: skip
_PUMPED = ["", "pumped", "size", "flow", ""]
_FALLING = ["", "falls by itself", "to", "size", "lip", "outlet", "vent", "flow", "can carry"]
_APART = 6.0  # points from one column to the next, at the least
_HEAD = 30.0  # points over the tables on a sheet of their own


class LinesAsBuilt(AsBuiltWords):
    """The tables of all lines; as a drawing, one sheet of them.

    build : Build
    system : str
        "metric" or "US"; the build's own by default.
    page : int
        Which sheet, from 0 on.
    """

    def __init__(self, build, *, system: str | None = None, page: int = 0):
        super().__init__(build, system=system)
        self.page = page

    def title(self) -> str:
        """Whose lines they are."""
        return AsBuiltWords.title(self).replace("Elevation as built", "Lines as built")

    @property
    def pages(self) -> int:
        """How many sheets they take."""
        rows = max(len(self._pumped_rows()), len(self._falling_rows()))
        return -(-rows // self._rows_a_page)

    @property
    def _rows_a_page(self) -> int:
        return int((HIGH - _HEAD - len(NOTES) * ROW) // ROW) - 1

    def draw(self) -> None:
        """The tables' rows of this sheet."""
        many = self._rows_a_page
        rows = slice(self.page * many, (self.page + 1) * many)
        pumped, falling = self._pumped_rows()[rows], self._falling_rows()[rows]
        self.height = min(HIGH, _HEAD + (1 + max(len(pumped), len(falling)) + len(NOTES)) * ROW + 8)
        name = self.title() + (f", sheet {self.page + 1} of {self.pages}" if self.pages > 1 else "")
        self.word(MARGIN, self.height - 10, name, room=self.width - 2 * MARGIN, size=10, weight="bold")
        self._line_tables(pumped, falling, self.height - _HEAD + 6)

    def _line_tables(self, pumped: list, falling: list, top: float) -> None:
        """The two tables side by side, each column as wide as what stands in it; names are shortened where there is no room for them."""
        columns = [self._columns(heads, rows) if rows else [] for heads, rows in ((_PUMPED, pumped), (_FALLING, falling))]
        spare = WIDE - 2 * MARGIN - sum(map(sum, columns)) - _APART
        many = sum(map(len, columns))
        if spare >= 0:
            columns = [[wide + spare / many for wide in one] for one in columns]
        else:  # the names give way
            names = sum(one[1] for one in columns if one)
            columns = [[wide + (spare * wide / names if j == 1 else 0.0) for j, wide in enumerate(one)] for one in columns]
        x = MARGIN
        for heads, rows, wide in zip((_PUMPED, _FALLING), (pumped, falling), columns):
            if rows:
                self._table(x, top, heads, rows, wide)
                x += sum(wide) + _APART
        self._notes()

    def _columns(self, heads: list, rows: list) -> list[float]:
        """How wide each column wants to be [points]; words with nothing beside them may run on."""
        weights = [["bold" if j == 0 or cell.endswith("!") else "normal" for j, cell in enumerate(row)] for row in rows]
        return [
            _APART
            + max(
                self.measured(heads[j], weight="bold"),
                *(self.measured(row[j], weight=weights[k][j]) for k, row in enumerate(rows) if j != 1 or any(row[2:])),
                0.0,
            )
            for j in range(len(heads))
        ]

    def _notes(self) -> None:
        for k, words in enumerate(reversed(NOTES)):
            self.word(MARGIN, 4 + (k + 0.5) * ROW, words, room=self.width - 2 * MARGIN)

    def _table(self, x: float, top: float, heads: list, rows: list, columns: list[float]) -> None:
        y = top - 0.5 * ROW
        for k, cells in enumerate([heads, *rows]):
            place = x
            for j, (words, wide) in enumerate(zip(cells, columns)):
                bold = k == 0 or j == 0 or words.endswith("!")
                colour = "wrong" if words.endswith(" !") else "ink"
                alone = k > 0 and j == 1 and not any(cells[2:])
                room = sum(columns[1:]) if alone else wide
                self.word(place, y - k * ROW, words, room=room - 2.5, weight="bold" if bold else "normal", colour=colour, size=SIZE)
                place += wide
        self.line([(x, y - ROW / 2), (x + sum(columns), y - ROW / 2)], width=0.6)
