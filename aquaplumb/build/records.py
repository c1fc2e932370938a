"""The parts of a build as records: site, fish, plants, wanted water, pumped and falling lines.

`aquaplumb.build` puts them together; a vessel is in `aquaplumb.build.vessels`.
"""

from __future__ import annotations

from typing import Any, ClassVar

from aquaplumb.plausible import Told
from aquaplumb.plumbing.fittings import fitting
from aquaplumb.plumbing.line_records import Stretch
from aquaplumb.units import (
    Angle,
    AreaRate,
    BodyMass,
    Bore,
    Concentration,
    DesignError,
    FloorLoad,
    Flow,
    Head,
    Length,
    Number,
    Planting,
    Rate,
    Salinity,
    Stocking,
    Temperature,
    Time,
    Turnover,
    Voltage,
)

FROST = ("drained", "insulated", "indoors")  # what may be done about frost: emptied before it comes, under foam boards, never in the cold


class Site(Told):
    """Where the system stands: `floor_rating` is what the floor is built to carry, `power_price` per kWh.

    `frost_depth` is how deep the ground freezes in a hard winter; 0 where it never does. `yard_length` and `yard_width` are the
    place's, `door` and `socket` where its door and its power socket are, along and across from the yard's corner [m].
    """

    sections = ("site",)

    altitude: Length = 0.0
    coldest_water: Temperature
    warmest_water: Temperature
    floor_rating: FloorLoad | None = None
    power_price: Number = 0.30
    frost_depth: Length | None = None
    yard_length: Length | None = None
    yard_width: Length | None = None
    door: tuple = ()
    socket: tuple = ()

    def check(self) -> None:
        """Refuse a coldest above the warmest."""
        if self.si.coldest_water > self.si.warmest_water:
            raise DesignError("coldest_water is warmer than warmest_water; swap them.")


class Stock(Told):
    """The fish on the heaviest day: the most that the tank will hold, fed as on that day.

    One of several stocks has a `name`, its `tank`, and the `count` of its fish, or its `density` in its `share` of the
    tank's water. With a `count` its density is over the whole tank, whoever else lives there.
    """

    sections = ("fish",)

    species: str
    density: Stocking
    body_mass: BodyMass
    feeding_rate: Rate
    protein: Number
    name: str = ""
    tank: str = ""
    count: Number | None = None
    share: Number | None = None


class Plants(Told):
    """What grows in the beds."""

    sections = ("plants",)

    crop: str
    feed_per_area: AreaRate | None = None
    spacing: Planting | None = None


class Wanted(Told):
    """What the water has to be like. Ammonia is total ammonia as N.

    `removal` is the part of the ammonia that one pass through the beds takes out; `aerated_share` the part of the
    fish's oxygen that air stones bring, so that the flow need not; `oxygen_peak` how much
    more they use after a meal than over the day; `solids_stay` the part of their dirt that stays in the fish tank and rots
    there (left out: none where an outlet or a pump draws near its floor, else all); `inlet_saturation` how full of oxygen the water
    comes back; `salinity` the salt in it, which keeps oxygen out (the share of poisonous ammonia and the density are taken as in
    fresh water: the safe side, and under 1 %); and `inlet_carbon_dioxide` what is left in it after falling and splashing (common practice, no source).
    `origin` is where the water for filling and make-up comes from, `disinfectant` what the works put into tap water; `rested` says that it is
    aired, tested or collected as it has to be before it goes in.
    """

    sections = ("water",)

    turnovers: Turnover = 1 / 3600
    outlet_oxygen: Concentration = 5e-3
    inlet_saturation: Number = 0.9
    aerated_share: Number = 0.0
    oxygen_peak: Number = 1.4
    solids_stay: Number | None = None
    ammonia_limit: Concentration = 1e-3
    removal: Number = 0.4
    inlet_carbon_dioxide: Concentration = 5e-3
    carbon_dioxide_limit: Concentration = 15e-3
    ph: Number = 7.0
    salinity: Salinity = 0.0
    nitrification_rate: AreaRate | None = None
    origin: str = ""
    disinfectant: str = ""
    rested: bool = False

    choices: ClassVar[dict] = {"origin": ("tap", "well", "rain", "reverse osmosis"), "disinfectant": ("chlorine", "chloramine")}

    def check(self) -> None:
        """Refuse a disinfectant of nobody's tap."""
        if self.si.disinfectant and self.si.origin != "tap":
            raise DesignError('a disinfectant is what the waterworks put in: it goes with origin = "tap"; leave it out for other water.')


class Conduit(Told):
    """A tube with pipe and cables in it, under ground or hung. Which pipes run in it, they say themselves.

    `size` is of data/conduits.csv. `buried` is the depth of cover over it; without it hangs. `bends` is the sum of its
    turns between two places where one can pull, `boxes` how many boxes it has in which one can reach in. `cables` names
    and counts what else lies in it (data/cables.csv). `frost` as in a `Pipe`.
    """

    sections = ("conduits.*",)

    name: str
    size: str = ""
    bore: Bore | None = None
    length: Length
    buried: Length | None = None
    bends: Angle = 0.0
    boxes: Number = 0.0
    cables: dict = {}
    frost: str = ""

    choices: ClassVar[dict] = {"frost": FROST}


LEAST_OPEN = 0.001  # of a valve: a thousandth of its way, less than a hand can set (common practice, no source)


class PipePiece(Told):
    """What every piece of pipe has, whether its water is pumped or falls.

    `buried` is the depth of cover over it, or `conduit` the tube that it runs in; `boxes` how many boxes in the ground
    let one reach its fittings; `frost` what is done where it lies above the depth of frost. `route` are its legs and fittings
    in their order (`aquaplumb.build.routes`), where the file tells them.
    """

    sections: ClassVar[tuple[str, ...]] = ("lines.*",)

    name: str
    size: str = ""
    standard: str = ""
    wall: str = "average"
    bore: Bore | None = None
    length: Length
    fittings: dict = {}
    valve: str = ""
    opening: Number = 1.0
    buried: Length | None = None
    conduit: str = ""
    boxes: Number = 0.0
    frost: str = ""
    route: tuple = ()

    choices: ClassVar[dict] = {"wall": ("average", "minimum"), "frost": FROST}

    def check(self) -> None:
        """Refuse a valve that is neither open nor shut: no hand sets it, and its loss is beyond all reckoning."""
        if 0 < self.si.opening < LEAST_OPEN:
            raise DesignError(
                f"opening is {self.si.opening:.1g}, and the valve all but shut; write 0 where it is shut, or {LEAST_OPEN} at least."
            )


class Pipe(PipePiece):
    """A stretch of pipe. It follows the stretch named in `after`; it may end in a vessel (`to`).

    `outlet` is the elevation of its open end. Where that is under water, `break_hole` is the elevation of a hole in
    the pipe that lets air in, so that the vessel cannot drain back through it further than there. `nozzle_angle` says
    where the water points in a round tank: 0 along the wall, 90 degrees to the middle, 180 along the wall the other way
    round. Nozzles are along the wall unless it says otherwise; an open end without it falls straight down.
    `loss_factor` is how many times as much head it costs as reckoned, as the bucket showed.
    """

    sections = ("lines.*.pipe", "lines.*")

    after: str = ""
    to: str = ""
    outlet: Head | None = None
    break_hole: Head | None = None
    nozzle_bore: Bore | None = None
    nozzles: Number = 1.0
    nozzle_angle: Angle | None = None
    share: Number | None = None
    loss_factor: Number = 1.0

    def stretch(self, outlet: float | None = None, **changes: Any) -> Stretch:
        """The pipe as the solver knows it: its water lifted to `outlet` [m] where it ends, and with bare SI `changes`."""
        same = {name: value for name, value in vars(self.si).items() if name in Stretch._kinds}
        return Stretch.from_si(**{**same, "outlet": outlet, **changes})


class Control(Told):
    """When a pump runs: always, on a timer, or on a float switch in the vessel that it draws from.

    `least_run` is the shortest time that a relay lets it run. Whatever the control, a low-level switch at
    `cut_out_depth` stops the pump, and lets it start again at `cut_in_depth` (0.05 m higher unless given).
    """

    sections = ("lines.*.control",)

    kind: str = "always"
    on: Time | None = None
    off: Time | None = None
    on_depth: Length | None = None
    off_depth: Length | None = None
    least_run: Time = 0.0
    cut_out_depth: Length | None = None
    cut_in_depth: Length | None = None

    choices: ClassVar[dict] = {"kind": ("always", "timer", "float")}

    def check(self) -> None:
        """Refuse a control with a part missing or the wrong way round."""
        c = self.si
        if c.kind == "timer" and (c.on is None or c.off is None or c.on <= 0 or c.off < 0):
            raise DesignError('a timer needs on and off, such as on = "15 min", off = "45 min".')
        if c.kind == "float":
            if c.on_depth is None or c.off_depth is None:
                raise DesignError('a float switch needs on_depth and off_depth, such as on_depth = "35 cm", off_depth = "20 cm".')
            if c.on_depth <= c.off_depth:
                raise DesignError("a float switch that empties a vessel turns on at a higher depth than it turns off.")
        if c.cut_in_depth is not None and (c.cut_out_depth is None or c.cut_in_depth <= c.cut_out_depth):
            raise DesignError(
                'a low-level switch lets the pump start again above cut_out_depth, such as cut_out_depth = "10 cm", cut_in_depth = "15 cm".'
            )


class PumpedLine(Told):
    """A pump and its tree of pipe. `wanted` is the flow you need of it; `chosen_head` the head you reckoned with.

    `speed` is a speed control's setting as a share of full speed; `voltage` that which reaches a DC pump.
    `strainer_slot` is the width of the openings that all its water passes: what is smaller goes on to the nozzles.
    `pump_height` is the elevation of a dry-standing pump's inlet; left out for one that stands in its vessel.
    `inlet_depth` is the depth of water in the vessel at which air gets in: a submersible's least depth as its maker
    gives it, or how high the open end of a suction pipe is over the vessel's floor.
    `loss_factor` and `pump_factor` are what measuring put right: how many times as much head the pipes cost as reckoned,
    and how much of its points' flow and head the pump gives; `measured_on` is the day.
    """

    sections: ClassVar[tuple[str, ...]] = ("lines.*",)

    name: str
    source: str
    pump: str = ""
    pump_file: str = ""
    voltage: Voltage | None = None
    speed: Number = 1.0
    control: Control
    suction: tuple = ()
    pipe: tuple = ()
    wanted: Flow | None = None
    chosen_head: Head | None = None
    inlet_depth: Length | None = None
    pump_height: Head | None = None
    strainer_blocked: Number = 0.0
    strainer_slot: Bore | None = None
    loss_factor: Number = 1.0
    pump_factor: Number = 1.0
    measured_on: str = ""


def way_to(line, end: Pipe) -> list[Pipe]:
    """The stretches that water passes between a pumped line's source and one of its pipes: its suction, then from that pipe back to the pump.

    `line` is a bare `PumpedLine`; the pipe itself is among them.
    """
    pipes = {p.si.name: p for p in line.pipe}
    way: list[Pipe] = list(line.suction)
    here: Pipe | None = end
    while here is not None:
        way.append(here)
        here = pipes.get(here.si.after)
    return way


def check_valve_to(line, end: Pipe) -> bool:
    """Whether a check valve stands anywhere between a pumped line's source and one of its pipes; as `way_to`."""
    return any(count > 0 and fitting(name).is_check_valve for p in way_to(line, end) for name, count in p.si.fittings.items())
