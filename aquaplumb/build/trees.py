"""A falling tree of pipe, taken apart: each stretch a falling line of its own, each tee a junction that holds next to no water.

The rest of the library knows falling lines and vessels; with these two a tree is no special case. A stretch is called
"line › stretch". Bare SI numbers.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Mapping

from aquaplumb.build.falling_records import FallingLine, FallingTree, Leg
from aquaplumb.build.records import PipePiece
from aquaplumb.build.vessels import JUNCTION, Vessel

_WIDE = 0.0113  # m, 1 cm²: so little that what stands in a junction does not count, and enough for its level to be reckoned with
_ROOM = 1.0  # m below and above all that it has to do with, so that it never runs dry or over
_COPIED = ("crown", *PipePiece._kinds)


def _called(tree: str, stretch: str) -> str:
    return f"{tree} › {stretch}"


def _tee(tree: str, stretch: str) -> str:
    return f"{tree} › end of {stretch}"


@functools.lru_cache(maxsize=256)  # the same records each time: drawings know a pipe by its record
def pieces(tree: FallingTree) -> dict[str, FallingLine]:
    """Each stretch as a falling line, by name, in the file's order. The first has the mouth, the screen and the siphon of the whole."""
    t, found = tree.si, {}
    ends = {leg.si.name: leg.si.outlet for leg in t.pipe}
    for leg in t.pipe:
        own, first = leg.si, not leg.si.after
        whole = {name: getattr(t, name) for name in ("intake", "siphon", "screen_open_area", "screen_blocked", "entry")} if first else {}
        name = _called(t.name, own.name)
        found[name] = FallingLine.from_si(
            **{
                **{field: getattr(own, field) for field in _COPIED}, "entry": "tee", **whole,
                "name": name, "kind": t.kind, "emergency": t.emergency, "vented": own.vented or (first and t.vented),
                "source": t.source if first else _tee(t.name, own.after), "to": own.to or _tee(t.name, own.name),
                "lip": t.lip if first else ends[own.after], "outlet": own.outlet,
            }
        )  # fmt: skip
    return found


@functools.lru_cache(maxsize=256)
def drops(tree: FallingTree) -> dict[str, FallingLine]:
    """The tree from vessel to vessel: each of its ends as a line from the lip down, by the name of its last stretch; to draw, not to reckon with."""
    own = pieces(tree)
    return {
        name: piece.with_si(source=tree.si.source, lip=tree.si.lip, length=_along(tree, leg))
        for leg, (name, piece) in zip(tree.si.pipe, own.items())
        if leg.si.to
    }


def _along(tree: FallingTree, leg: Leg) -> float:
    """The length of pipe [m] from the lip to the end of a stretch."""
    by_name = {one.si.name: one for one in tree.si.pipe}
    length, here = 0.0, leg
    while True:
        length += here.si.length
        if not here.si.after:
            return length
        here = by_name[here.si.after]


def junctions(trees: Iterable[FallingTree], vessels: Mapping[str, Vessel]) -> dict[str, Vessel]:
    """The tees of falling trees, by name: vessels of next to no water, as high and as deep as all that they have to do with."""
    found = {}
    for tree in trees:
        t = tree.si
        near = [vessels[t.source], *(vessels[leg.si.to] for leg in t.pipe if leg.si.to)]
        heights = [t.lip, *(leg.si.outlet for leg in t.pipe)]
        low = min([v.si.floor for v in near] + heights) - _ROOM
        high = max([v.rim for v in near] + heights) + _ROOM
        for leg in t.pipe:
            if not leg.si.to:
                name = _tee(t.name, leg.si.name)
                found[name] = Vessel.from_si(
                    name=name, kind=JUNCTION, shape="round", diameter=_WIDE, floor=low, height=high - low, working_depth=leg.si.outlet - low,
                )  # fmt: skip
    return found
