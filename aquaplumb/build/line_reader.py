"""What a build file says of its lines and conduits, as records; every refusal names the key, its line and what is possible."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

from aquaplumb import tables
from aquaplumb.build import beside, between, routes
from aquaplumb.build.falling_records import FallingLine, FallingTree, Leg, Siphon
from aquaplumb.build.records import Conduit, Control, Pipe, PumpedLine, Site
from aquaplumb.plumbing import conduits, pipe_sizes, pumps
from aquaplumb.records import said
from aquaplumb.units import BORE, LENGTH, DesignError


class LineReader:
    """The part of `aquaplumb.build.reader.Reader` that reads lines and conduits."""

    doc: dict
    name: str
    unusual: dict
    pipe_defaults: dict
    refuse: Callable[..., Any]
    known: Callable[..., None]
    named: Callable[..., dict]
    head: Callable[..., tuple]
    record: Callable[..., Any]
    named_row: Callable[..., Any]

    # conduits

    def conduits(self) -> dict[str, Conduit]:
        """The conduits by name; a file may have none."""
        result: dict[str, Conduit] = {}
        given = self.doc.get("conduits", {})
        for name, found in given.items() if isinstance(given, dict) else [("garden duct", given)]:
            keys = ("conduits", name)
            if not isinstance(found, dict):
                self.refuse(keys, f'is {found!r:.60}; write a section [conduits."{name}"].')
            made = self.record(keys, found, Conduit, name=name)
            if made.si.size:
                self.known((*keys, "size"), functools.partial(conduits.conduit_size, made.si.size))
                bore = conduits.conduit_size(made.si.size).si.bore
                made = made if made.si.bore is not None else made.with_si(bore=bore)
            if made.si.bore is None:
                self.refuse(keys, 'size is missing: size = "63 mm cable duct" (see data/conduits.csv), or bore = "47 mm".')
            result[name] = made
        return result

    def laid(self, keys: tuple, piece) -> None:
        """Refuse a pipe whose conduit is not there, is too thin for it, or has another depth beside it."""
        s = piece.si
        if not s.conduit:
            return
        if s.conduit not in self.ducts:
            known = (
                tables.unknown("list of conduits", s.conduit, self.ducts)
                if self.ducts
                else f'there is no [conduits."{s.conduit}"] section.'
            )
            self.refuse((*keys, "conduit"), known)
        if s.buried is not None:
            self.refuse((*keys, "buried"), f"it runs in {s.conduit}, and the depth of that is given there; leave buried out here.")
        inside, outside = self.ducts[s.conduit].si.bore, conduits.pipe_outside.si(s.bore, size=s.size, standard=s.standard)
        if outside >= inside:
            wide, pipe = (BORE.text(width, self.doc.get("units", "metric")) for width in (inside, outside))
            self.refuse((*keys, "conduit"), f"{s.conduit} is {wide} wide inside and the pipe {pipe} outside; take a wider conduit.")

    # lines

    def lines(self, vessels: dict, ducts: dict, site: Site) -> dict:
        self.ducts = ducts
        result = {}
        for name, found in self.named("lines").items():
            keys = ("lines", name)
            if not isinstance(found, dict):
                self.refuse(keys, f'is {found!r:.60}; write a section [lines."{name}"].')
            kinds = ("pumped", *FallingLine.choices["kind"])
            if found.get("kind") not in kinds:
                self.refuse(
                    (*keys, "kind"),
                    tables.unknown("list of kinds of line", found["kind"], kinds) if "kind" in found
                    else f'is missing; it is one of {", ".join(kinds)}.',
                )  # fmt: skip
            make = self.pumped if found["kind"] == "pumped" else self.branching if "pipe" in found else self.falling
            result[name] = make(keys, name, found, vessels)
            if isinstance(result[name], PumpedLine):
                self.drawn(keys, result[name].si, vessels, site.si)
        between.checked(self, vessels, result)
        beside.noted(self, vessels, result)
        return result

    def drawn(self, keys: tuple, line, vessels: dict, site) -> None:
        """A pump that no water can reach is refused: its inlet over the rim, or itself higher than the air can push water."""
        source, units = vessels[line.source], self.head()[2]
        if line.inlet_depth is not None and line.inlet_depth >= source.si.height:
            self.refuse(
                (*keys, "inlet_depth"),
                f"{line.source} is {said(source.si.height, LENGTH, units)} high, and the pump needs water {said(line.inlet_depth, LENGTH, units)} deep in it: "
                "it never runs. Count inlet_depth from the vessel's floor, or draw from a deeper vessel.",
            )
        if line.pump_height is None:
            return
        lift = line.pump_height - (source.si.floor + line.control.si.off_depth if line.control.si.kind == "float" else source.level)
        most = pumps.suction_head_available.si(0.0, 0.0, altitude=site.altitude, temperature=site.warmest_water)
        if lift >= most:
            self.refuse(
                (*keys, "pump_height"),
                f"the pump stands {LENGTH.text(lift, units)} over the water of {line.source}; the air pushes water up {LENGTH.text(most, units)} at most. "
                "Set the pump lower, or take one that stands in the water and leave pump_height out.",
            )

    def vessel_named(self, keys: tuple, name, vessels: dict) -> None:
        if name not in vessels:
            self.refuse(keys, tables.unknown("list of vessels", name, vessels))

    def pumped(self, keys: tuple, name: str, found: dict, vessels: dict) -> PumpedLine:
        own = {k: v for k, v in found.items() if k not in ("kind", "control", "pipe", "suction")}
        control = self.record((*keys, "control"), found.get("control", {}), Control)
        pipe = self.stretches((*keys, "pipe"), found.get("pipe"), vessels)
        suction = self.stretches((*keys, "suction"), found.get("suction", []), vessels)
        line = self.record(keys, own, PumpedLine, name=name, control=control, pipe=pipe, suction=suction)
        self.vessel_named((*keys, "from"), line.si.source, vessels)
        if not (line.si.pump or line.si.pump_file):
            self.refuse(keys, 'pump is missing: a name from data/pumps.csv, or pump_file = "my-pump.csv" with its maker\'s points.')
        if not line.si.pump_file:
            self.known((*keys, "pump"), lambda: pumps.pump(line.si.pump))
        self.tree((*keys, "pipe"), pipe, "the pump")
        return line

    def stretches(self, keys: tuple, found, vessels: dict) -> tuple:
        if not isinstance(found, list) or (not found and keys[-1] == "pipe"):
            self.refuse(keys, f"is missing; a pumped line needs at least one stretch of pipe: [[{'.'.join(keys)}]].")
        stretches = []
        for place, each in enumerate(found):
            stretch = self.piece((*keys, place), each, Pipe)
            if stretch.si.to:
                self.vessel_named((*keys, place, "to"), stretch.si.to, vessels)
            hole, end, units = stretch.si.break_hole, stretch.si.outlet, self.head()[2]
            if hole is not None and end is not None and hole < end:
                self.refuse(
                    (*keys, place, "break_hole"),
                    f"the hole at {said(hole, LENGTH, units)} is lower than the pipe's end at {said(end, LENGTH, units)}, where air gets in anyhow. "
                    "Set it above the water, or leave it out.",
                )
            stretches.append(self.with_bore((*keys, place), stretch))
        return tuple(stretches)

    def tree(self, keys: tuple, pipe: tuple, start: str) -> None:
        """Each stretch follows another, once; the first follows none; each way ends in a vessel."""
        names = [p.si.name for p in pipe]
        parent = {p.si.name: p.si.after for p in pipe}
        for place, p in enumerate(pipe):
            if names.count(p.si.name) > 1:
                self.refuse((*keys, place, "name"), f"'{p.si.name}' is there twice; each stretch needs a name of its own.")
            if p.si.after and p.si.after not in names:
                self.refuse((*keys, place, "after"), tables.unknown("line", p.si.after, names))
            seen, here = {p.si.name}, p.si.after
            while here:
                if here in seen:
                    self.refuse((*keys, place, "after"), f"'{p.si.name}' follows itself in a loop; water must have one way from {start}.")
                seen.add(here)
                here = parent.get(here, "")
            feeds = any(q.si.after == p.si.name for q in pipe)
            if not feeds and not p.si.to:
                self.refuse((*keys, place), f"'{p.si.name}' leads nowhere; give it to = a vessel, or let a stretch follow it.")
            if feeds and p.si.to:
                self.refuse((*keys, place, "to"), f"'{p.si.name}' ends in {p.si.to} and feeds more pipe; end a branch of its own there.")
        if (first := [p.si.name for p in pipe if not p.si.after]) and len(first) > 1:
            self.refuse((*keys, 1, "after"), f"{' and '.join(first)} both start at {start}; let all but one follow another stretch.")

    def falling(self, keys: tuple, name: str, found: dict, vessels: dict) -> FallingLine:
        own = {k: v for k, v in found.items() if k != "siphon"}
        line = self.piece(keys, own, FallingLine, name=name, siphon=self.siphon(keys, found))
        for key, vessel in (("from", line.si.source), ("to", line.si.to)):
            self.vessel_named((*keys, key), vessel, vessels)
        if line.si.source == line.si.to:
            self.refuse((*keys, "to"), f"the line comes from and goes to {line.si.to}.")
        self.trips(keys, line.si)
        return self.with_bore(keys, line)

    def branching(self, keys: tuple, name: str, found: dict, vessels: dict) -> FallingTree:
        """A falling line with branches: its stretches in `pipe`."""
        if not isinstance(found["pipe"], list) or not found["pipe"]:
            self.refuse((*keys, "pipe"), f"needs at least one stretch of pipe: [[{'.'.join(keys)}.pipe]].")
        legs = []
        for place, each in enumerate(found["pipe"]):
            leg = self.piece((*keys, "pipe", place), each, Leg)
            if leg.si.to:
                self.vessel_named((*keys, "pipe", place, "to"), leg.si.to, vessels)
            legs.append(self.with_bore((*keys, "pipe", place), leg))
        self.tree((*keys, "pipe"), tuple(legs), "the lip")
        own = {k: v for k, v in found.items() if k not in ("siphon", "pipe")}
        for key in own:
            if key in Leg._kinds and key not in FallingTree._kinds:
                self.refuse((*keys, key), f"this line has branches: say it of a stretch, under [[{'.'.join(keys)}.pipe]].")
        line = self.record(keys, own, FallingTree, name=name, siphon=self.siphon(keys, found), pipe=tuple(legs))
        self.vessel_named((*keys, "from"), line.si.source, vessels)
        for place, leg in enumerate(legs):
            if leg.si.to == line.si.source:
                self.refuse((*keys, "pipe", place, "to"), f"the line comes from {line.si.source} and this stretch goes back to it.")
        self.trips(keys, line.si)
        return line

    def siphon(self, keys: tuple, found: dict) -> Siphon | None:
        return self.record((*keys, "siphon"), found["siphon"], Siphon) if "siphon" in found else None

    def trips(self, keys: tuple, line) -> None:
        """Refuse a siphon that would never run."""
        if line.siphon and line.siphon.si.vent >= line.lip:
            vent, lip = (said(at, LENGTH, self.head()[2]) for at in (line.siphon.si.vent, line.lip))
            self.refuse(
                (*keys, "siphon", "vent"),
                f"its vent at {vent} is not below its lip at {lip}: it would never run. Air must come in lower, near the bed's floor.",
            )

    def piece(self, keys: tuple, found, cls, **fixed):
        """The record of a stretch or falling line, with its route where it tells one."""
        found = self.sized(found)
        if not isinstance(found, dict) or "route" not in found:
            return self.record(keys, found, cls, **fixed)
        at, units = (*keys, "route"), self.doc.get("units", "metric")
        try:
            told, steps = routes.told(found, functools.partial(self.named_row, "fittings"), units)
        except DesignError as wrong:
            self.refuse(at, str(wrong))
        made = self.record(keys, told, cls, route=steps, **fixed)
        self.known(at, lambda: routes.check(made.si, units))
        return made

    def sized(self, found):
        """A stretch with the file's usual standard filled in."""
        if not isinstance(found, dict):
            return found
        return {**({} if "bore" in found else self.pipe_defaults), **found}

    def with_bore(self, keys: tuple, piece):
        """The record with its bore looked up from size and standard, where it is not given."""
        if piece.si.bore is not None:
            self.laid(keys, piece)
            return piece
        if not piece.si.size or not piece.si.standard:
            missing = "standard" if piece.si.size else "size"
            self.refuse(keys, f'{missing} is missing: size = "1 in" and standard = "Sch 40", or bore = "25 mm".')
        try:
            bore = pipe_sizes.bore.si(piece.si.size, piece.si.standard, wall=piece.si.wall)
        except DesignError as wrong:
            self.refuse((*keys, "size"), str(wrong))
        piece = piece.with_si(bore=bore)
        self.laid(keys, piece)
        return piece
