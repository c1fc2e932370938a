"""The bucket talks back, on the page: write down what was measured, see why, and make it the build's own. Notebook 13.

build = my_build()
bucket.form(build)        # a form, a picture of bands before and after, causes and the check that tells them apart
"""

from __future__ import annotations

import base64
import html
import re
from collections.abc import Callable, Mapping
from datetime import datetime

from aquaplumb.build import Build, load
from aquaplumb.build.measured import BUCKETS
from aquaplumb.figures.bucket import BandRow, BandsPicture
from aquaplumb.figures.style import plain
from aquaplumb.measured import Bucket, bucket, days_of
from aquaplumb.measured.bands import Bands
from aquaplumb.review import copy_of
from aquaplumb.review.ranges import stretch_labels
from aquaplumb.system.steady import solved
from aquaplumb.tables import unknown
from aquaplumb.units import FLOW, DesignError
from aquaplumb.whatif import widgets
from aquaplumb.whatif.base import rich
from aquaplumb.whatif.pressed import pressed
from aquaplumb.whatif.screen import Fold, beside

_NONE, _AS_READ = "none", "unknown: as read"
_SUCH_AS = {  # what a box shows until it is written in, so that nobody asks for the unit
    "flow": ("31 s", "31 s"), "power": ("104 W", "104 W"), "running": ("45 cm", "17 1/2 in"), "rest": ("45 cm", "17 1/2 in"),
    "starts": ("300 L/h", "80 gal/h"), "stops": ("300 L/h", "80 gal/h"), "voltage": ("11.8 V", "11.8 V"),
}  # fmt: skip
_NUMBER = re.compile(r"\d+(?:\.\d+)?(?: \d+/\d+)?")
_SECONDS = re.compile(r"\d+(?:\.\d+)?(?:\s*s)?")
_POUR = re.compile(r"(.+?)\s+in\s+(.+)")
_SAY = {
    "flow": "{}: seconds", "power": "power of {}", "running": "depth of {}, running", "rest": "depth of {}, at rest",
    "starts": "{} starts at", "stops": "{} stops at", "voltage": "volts at the pump of {}",
}  # fmt: skip


class BucketForm:
    """The form and what the bucket says. `said` is that in words, `kept` what the last press did."""

    def __init__(self, build: Build, clock: Callable[[], datetime] = datetime.now):
        self.build, self._clock = build, clock
        self.seen: Bucket | None = None
        self.said, self.kept, self._png = "", "", b""
        labels = stretch_labels(build)
        outlets = [labels[line.si.name, p.si.name] for line in build.pumped.values() for p in line.si.pipe if p.si.to]
        self._labels = labels
        sources = list(dict.fromkeys(line.si.source for line in build.pumped.values()))
        direct = [name for name, line in solved(build).pumped.items() if line.pump.si.supply == "DC"]
        siphons = [name for name, line in build.lines.items() if name not in build.pumped and line.si.siphon]
        asked = [("flow", outlets), ("power", list(build.pumped)), ("voltage", direct), ("running", sources), ("rest", sources), ("starts", siphons), ("stops", siphons)]  # fmt: skip
        us = build.units == "US"
        self.fields = {
            (what, of): widgets.Text(description=_SAY[what].format(of), placeholder=_SUCH_AS[what][us])
            for what, names in asked for of in names
        }  # fmt: skip
        self.date = widgets.Text(value=f"{clock():%Y-%m-%d}", description="day")
        valves = [labels[line.si.name, p.si.name] for line in build.pumped.values() for p in line.si.pipe if p.si.valve]
        self.shut = widgets.Dropdown(options=[_NONE, *valves], description="valve shut meanwhile")
        self.true = widgets.Dropdown(options=[_AS_READ], description="it turned out to be")
        self.write_button = self._button("Write down", "pencil", self._write)
        self.keep_button = self._button("Make it my build's own", "check", self._keep)
        self._note, self._top, self._picture, self._why = (widgets.HTML() for _ in range(4))
        hint = widgets.HTML(
            f"Seconds for a bucket of {self.bucket}, or “{'5 gal in 41 s' if us else '20 L in 41 s'}”, or a flow. Leave blank what you did not measure."
        )
        often, rare = ([box for (what, _), box in self.fields.items() if (what == "flow") is flow] for flow in (True, False))
        more = Fold(rare, "power, depths, more …").parts
        left = widgets.VBox([hint, self.date, self.shut, *often, *more, self.write_button, self.true, self.keep_button, self._note])
        left.add_class("ap-form")
        self.widget = beside([left], [self._top], [self._picture, self._why], 700)
        self._guarded(lambda: "")

    @property
    def bucket(self) -> str:
        """The bucket whose seconds are meant."""
        return BUCKETS[self.build.units]

    # --- for code ---

    def type(self, cells: Mapping[tuple[str, str], str]) -> None:
        """Write into fields, as a hand does: ``form.type({("flow", "to bed 1"): "31"})``."""
        for key, text in cells.items():
            if key not in self.fields:
                raise DesignError(unknown("form", " of ".join(key), [" of ".join(one) for one in self.fields]))
            self.fields[key].value = text

    # --- what the buttons do ---

    def _button(self, label: str, icon: str, action: Callable[[], str]) -> widgets.Button:
        button = widgets.Button(description=label, icon=icon)
        button.on_click(lambda _: self._guarded(action))
        return button

    def _value(self, what: str, text: str):
        """What stands in a field as the build file has it."""
        if what == "flow" and _SECONDS.fullmatch(text):
            return {"volume": self.bucket, "time": text if text.endswith("s") else f"{text} s"}
        if what == "flow" and (pour := _POUR.fullmatch(text)):
            return {"volume": pour[1], "time": pour[2]}
        if _NUMBER.fullmatch(text):  # in the unit that the box shows
            return f"{text} {_SUCH_AS[what][self.build.units == 'US'].rpartition(' ')[2]}"
        return text

    def _write(self) -> str:
        typed = {key: field.value.strip() for key, field in self.fields.items() if field.value.strip()}
        if not typed:
            raise DesignError("nothing is written in the form yet; time a bucket at one outlet, and write its seconds.")
        label = self.date.value.strip() + (f", {self.shut.value} shut" if self.shut.value != _NONE else "")
        changes: dict[tuple, object] = {("measured", label, *key): self._value(key[0], text) for key, text in typed.items()}
        if self.shut.value != _NONE:
            changes["measured", label, "shut"] = [self.shut.value]
        copied = "" if self._on_disk else f" The rest of it is {copy_of(self.build)}: make it yours."
        self.build = self.build.keep(changes)
        for key in typed:
            self.fields[key].value = ""
        return f"{len(typed)} value{'s' * (len(typed) > 1)} written into {self.build.name}.{copied}"

    def _keep(self) -> str:
        if self.seen is None:
            raise DesignError("nothing is measured yet; write it down first.")
        line, _, cause = self.true.value.partition(": ")
        accepted = {line: cause} if self.true.value != _AS_READ else None
        date = self.seen.date
        self.build = self.seen.keep(accepted)
        return f"Kept in {self.build.name}, measured on {date}: all numbers stand on it from here on."

    @property
    def _on_disk(self) -> bool:
        return self.build.path is not None and self.build.path.exists()

    def _guarded(self, action: Callable[[], str]) -> None:
        """Do something to the file as it is now on disk, then show; what is wrong is said in place, and what was typed stays."""

        def done() -> str:
            if self.build.path is not None and self._on_disk:
                self.build = load(self.build.path)  # another panel, or a hand, may have changed it
            said = action()
            self._show()
            return said

        self.kept = pressed(done, file=self.build.name).said
        bad = self.kept.startswith("✖")
        self._note.value = (
            f'<div role="status" aria-live="polite"{" class=ap-bad" if bad else ""}>{rich(self.kept)}</div>' if self.kept else ""
        )

    # --- what is shown ---

    def _show(self) -> None:
        self.seen = bucket(self.build) if days_of(self.build) else None
        picture = BandsPicture(self._rows(), self.build.units)
        self._png = picture.png()
        first, *rest = str(self.seen).split("\n") if self.seen else ["Nothing is measured yet."]
        self.said = "\n".join([first, *rest])
        causes = [f"{line}: {one.name}" for line in (self.seen.fits if self.seen else ()) if self.seen and self.seen.asks(line)
                  for group in self.seen.causes(line) for one in group]  # fmt: skip
        self.true.options = [_AS_READ, *causes]
        for one in (self.true, self.keep_button):
            widgets.shown(one, bool(self.seen))
        self._top.value = f'<div class="ap-result" role="status" aria-live="polite"><b>{rich(first)}</b></div>'
        words = html.escape(plain(picture.alt(picture.record)))
        source = base64.b64encode(self._png).decode()
        image = f'<img alt="{words}" width="{picture.width}" height="{picture.height}" src="data:image/png;base64,{source}">'
        self._picture.value = f'<div class="ap-frame">{image}</div>'
        why = rest[len(self.seen.rows) :] if self.seen else []
        self._why.value = "".join(f'<p style="margin: 2px 12px">{rich(line.strip())}</p>' for line in why if line.strip())

    def _rows(self) -> list[BandRow]:
        if self.seen is None:
            bands = Bands(solved(self.build))
            return [BandRow(f"flow of “{said}”", FLOW, middle, (low, high)) for (line, stretch), said in self._labels.items()
                    if said in {key[1] for key in self.fields if key[0] == "flow"} for low, middle, high in [bands.of_end(line, stretch)]]  # fmt: skip
        own = self.seen.own()
        after = Bands(solved(self.build.changed(own))) if own else None
        rows = []
        for row in self.seen.rows:
            then = after.of(row.day, row.measured) if after else None
            label = row.text(self.build.units).partition(": ")[0]
            rows.append(
                BandRow(label, row.kind, row.middle, (row.low, row.high),
                        (then.low, then.high) if then else None, row.value, bool(row.outside))
            )  # fmt: skip
        return rows

    # --- display ---

    def __repr__(self) -> str:
        return self.said

    def _repr_mimebundle_(self, include=None, exclude=None):
        saved = {"image/png": self._png} if self._png else {}  # what a page without a kernel shows
        words = f"{self.said}\n(Run this cell to write down what you measured.)"
        return {**self.widget._repr_mimebundle_(), **saved, "text/plain": words}, {"image/png": {"alt": words}} if saved else {}


form = BucketForm
