"""What page 13 hands over as tables: what to buy, how to set the valves, and what has changed since an older copy of the build."""

from __future__ import annotations

import html
from collections.abc import Sequence
from pathlib import Path

from aquaplumb.build import Build, load
from aquaplumb.build.measured import BUCKETS
from aquaplumb.files import write
from aquaplumb.review import not_seen, review
from aquaplumb.review.compare import comparison
from aquaplumb.system.steady import solved
from aquaplumb.units import VOLUME, DesignError, folded, rounded, si_value
from aquaplumb.whatif.found import SIGNS, told
from aquaplumb.workshop.cut_list import shown_name
from aquaplumb.workshop.parts import parts_list
from aquaplumb.workshop.sheet import adjusting

MOST = 15  # numbers of a comparison that a page shows


class Table:
    """A table on a page: what stands in the first column is told once for the rows under it that share it. With a `title` those after the first `seen` are folded under it."""

    def __init__(self, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]], *, title: str = "", seen: int = 0):
        self.heads, self.rows, self.title, self.seen = heads, rows, title, seen if title else len(rows)

    def _html(self, rows: Sequence[tuple[str, ...]]) -> str:
        heads = "".join(f'<th scope="col" style="text-align: left">{html.escape(head)}</th>' for head in self.heads)
        cells = "".join(
            "<tr>" + "".join(f'<td style="text-align: left">{html.escape(cell)}</td>' for cell in row) + "</tr>" for row in _told(rows)
        )
        return f'<div style="overflow-x: auto"><table><thead><tr>{heads}</tr></thead><tbody>{cells}</tbody></table></div>'

    def _repr_html_(self) -> str:
        first, rest = self.rows[: self.seen], self.rows[self.seen :]
        return (self._html(first) if first else "") + (folded(self.title, self._html(rest)) if rest else "")

    def __repr__(self) -> str:
        lines = [self.heads, *_told(self.rows)]
        wide = [max(len(line[place]) for line in lines) for place in range(len(self.heads))]
        return "\n".join("  ".join(f"{cell:<{width}}" for cell, width in zip(line, wide)).rstrip() for line in lines)


def _told(rows: Sequence[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Rows, what repeats in the first column left out."""
    return [("" if row[0] == before else row[0], *row[1:]) for row, before in zip(rows, ["", *(row[0] for row in rows)])]


def reviewed(build: Build) -> Table:
    """What the review says, worst first, in the words of the pages: which of them sets what it names; and what no review sees.

    Notes are folded, and what no review sees; what says stop or fix never is, accepted or not.
    """
    seen = review(build)
    said = [(f.severity, (SIGNS[f.severity], f.where, told(f, "13"))) for f in seen.findings]
    said += [
        (one.finding.severity, (f"accepted ({one.finding.severity})", one.finding.where, f"{one.finding.sentence} {one.said}"))
        for one in seen.accepted
        if not one.back
    ]
    loud, quiet = ([row for severity, row in said if (severity == "note") is soft] for soft in (False, True))
    head = f"{build.title or build.name}: {seen.verdict}"
    rows = [*loud, *quiet, ("not seen", "", " ".join(not_seen(build)))]
    return Table(("", "where", head), rows, title="Notes, and what no review sees" if loud else head, seen=len(loud))


def _spare(part) -> str:
    """What to take to spare: a count, or an amount with its unit."""
    counted = part.unit.split(" ")[0] in ("piece", "length", "can", "roll", "pack", "pair")
    return rounded(part.spare) if counted else f"{rounded(part.spare)} {part.unit}"


def shopping(build: Build) -> Table:
    """What to buy, a row each, without the reasons; what is needed, and what to take to spare."""
    rows = [(p.group, p.what, p.size, p.needed, _spare(p) if p.spare else "") for p in parts_list(build)]
    return Table(("", "what", "size", "needed", "spare"), rows, title=f"What to buy: {len(rows)} things")


def settings(build: Build) -> Table:
    """How far each valve of the pumped lines stands open so that every end gets its share, and how fast it then fills a bucket."""
    bucket = si_value(BUCKETS[build.units], VOLUME, "bucket")
    rows = []
    for name, found in adjusting.settings(solved(build)).items():
        if isinstance(found, str):
            rows.append((shown_name(name), "", found, ""))
            continue
        for end, valve, opening, flow in zip(found.ends, found.valves, found.opening, found.end_flow):
            stands = f"{round(100 * float(opening))} % open" if valve else "no valve"
            stands += "; nearly shut: take narrower pipe there" if end in found.nearly_shut else ""
            rows.append((shown_name(name), shown_name(end), stands, f"{bucket / flow:.0f} s"))
    heads = ("line", "to", "valve", f"a bucket of {VOLUME.text(bucket, build.units)} takes")
    return Table(heads, rows, title="How far to open each valve")


def older_copy(build: Build) -> Path | None:
    """Where the copy stands that was made when the sheet was written last: `my-build.before.toml` beside `my-build.toml`."""
    return build.path.with_suffix(".before.toml") if build.path else None


def copied(build: Build) -> str:
    """Put a copy of a build beside its file, to compare with later; returns what was done, in a sentence."""
    path = older_copy(build)
    if path is None:
        return ""
    try:
        write(path, build.text)
    except DesignError as wrong:
        return f"No copy to compare with: {wrong}"
    return f"A copy to compare with is {path.name}."


def since_then(build: Build) -> str:
    """What has changed in a build since its sheet was written last, and what that did, in words."""
    path = older_copy(build)
    if path is None or not path.exists():
        return "When this page was run there was no older copy of your build: Keep above makes one. Change something on another page, run this page again, and what it did stands here."
    try:
        return comparison(load(path), build).text(MOST)
    except DesignError as wrong:
        return f"The older copy, {path.name}, cannot be compared: {wrong}"
