"""What a builder's own siphons did, as anonymous rows that anybody may take into ``data/measured/siphons.csv``."""

from __future__ import annotations

import csv
import io
from typing import Any

from aquaplumb.build import Build
from aquaplumb.given import takes_things
from aquaplumb.system.steady import solved
from aquaplumb.units import DesignError

COLUMNS = ("bore [mm]", "bell [mm]", "vent [mm]", "fall [mm]", "starts [L/h]", "stops [L/h]")


@takes_things
def siphon_rows(build: Build | Any) -> str:
    """A CSV text with one row for each siphon whose starting or stopping flow was measured: bore, bell, vent, fall, flows; nothing else.

    build: One with `starts` or `stops` in its [measured] section, or kept with a siphon.
    raises: Where no siphon was measured.

    Source: none; they are the builder's own.
    """
    system, rows = solved(build), []
    flows = {(one.si.of, one.si.what): one.si.flow for day in build.measured for one in day.of("starts", "stops")}
    for name, fall in system.falling.items():
        siphon = fall.line.si.siphon
        if siphon is None:
            continue
        read = [flows.get((name, what), getattr(siphon.si, what)) for what in ("starts", "stops")]
        if read != [None, None]:
            f = fall.line.si
            lengths = (f.bore, siphon.si.bell, f.lip - siphon.si.vent, f.lip - fall.bottom)
            rows.append([*(_number(one, 1000.0) for one in lengths), *(_number(one, 3.6e6) for one in read)])
    if not rows:
        raise DesignError(
            'no siphon of this build was measured: write [measured."2026-05-03"] with starts = { "bed 1 siphon" = "310 L/h" } into its file.'
        )
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([COLUMNS, *rows])
    return text.getvalue()


def _number(si: float | None, times: float) -> str:
    """A number with three figures, blank where it is not known."""
    return "" if si is None else f"{float(f'{times * si:.3g}'):g}"
