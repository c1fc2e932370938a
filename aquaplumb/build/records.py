"""The parts of a build as records: site, fish, plants, wanted water, pumped and falling lines.

`aquaplumb.build` puts them together; a vessel is in `aquaplumb.build.vessels`.
"""

from __future__ import annotations

import math
from typing import Any, ClassVar

from aquaplumb.plumbing.fittings import fitting
from aquaplumb.plumbing.line_records import Stretch
from aquaplumb.units import (
    ANGLE,
    PART,
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
    Record,
    Salinity,
    Stocking,
    Temperature,
    Time,
    Turnover,
    Voltage,
)

# The least and the most, and what to type. Below: feed without protein makes no ammonia; 10 % is common practice, no source.
_PROTEIN = (0.1, 0.7, 'feed has between a tenth and 70 % of protein; write it as on the bag, such as "32 %"')
# Up to twice: tap water of 0 °C warmed to 30 °C holds 1.9 times what it can keep (14.6 over 7.6 mg/L, from memory of the
# standard tables). More takes oxygen under pressure, which nothing here reckons. Water that fell through air has a tenth at least.
_SATURATION = (
    0.1,
    2.0,
    'it is the part of the oxygen that water can hold from the air, from "10 %" to "200 %" (only pure oxygen or warmed tap water is over 100 %), such as "90 %"',
)
# As `respiration.after_meal`, which holds from 1 to 4.
_PEAK = (1.0, 4.0, "it is how many times as much oxygen fish use after a meal as over the day, from 1 to 4, such as 1.4")

_SALTIEST = 40.0  # g/kg: the end of `water.oxygen_saturation`; the sea has 35
FROST = ("drained", "insulated", "indoors")  # what may be done about frost: emptied before it comes, under foam boards, never in the cold


class Site(Record):
    """Where the system stands: `floor_rating` is what the floor is built to carry, `power_price` per kWh.

    `frost_depth` is how deep the ground freezes in a hard winter; 0 where it never does. `yard_length` and `yard_width` are the
    place's, `door` and `socket` where its door and its power socket are, along and across from the yard's corner [m].
    """

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


class Stock(Record):
    """The fish on the heaviest day: the most that the tank will hold, fed as on that day.

    One of several stocks has a `name`, its `tank`, and the `count` of its fish, or its `density` in its `share` of the
    tank's water. With a `count` its density is over the whole tank, whoever else lives there.
    """

    species: str
    density: Stocking
    body_mass: BodyMass
    feeding_rate: Rate
    protein: Number
    name: str = ""
    tank: str = ""
    count: Number | None = None
    share: Number | None = None

    limits: ClassVar[dict] = {"protein": _PROTEIN, "share": PART}

    def check(self) -> None:
        """Refuse fish of no mass."""
        if not self.si.body_mass > 0:
            raise DesignError('body_mass is 0; the fish need a mass, such as body_mass = "350 g".')


class Plants(Record):
    """What grows in the beds."""

    crop: str
    feed_per_area: AreaRate | None = None
    spacing: Planting | None = None


class Wanted(Record):
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
        """Refuse water saltier than the oxygen tables know, and a disinfectant of nobody's tap."""
        if self.si.disinfectant and self.si.origin != "tap":
            raise DesignError('a disinfectant is what the waterworks put in: it goes with origin = "tap"; leave it out for other water.')
        if self.si.salinity > _SALTIEST:
            raise DesignError(
                f'salinity is {self.si.salinity:g} g/kg, saltier than the sea; write it in grams of salt in a kilogram of water, such as "2 g/kg".'
            )

    limits: ClassVar[dict] = {
        "inlet_saturation": _SATURATION,
        "oxygen_peak": _PEAK,
        "solids_stay": PART,
        "aerated_share": PART,
        "removal": PART,
    }


class Conduit(Record):
    """A tube with pipe and cables in it, under ground or hung. Which pipes run in it, they say themselves.

    `size` is of data/conduits.csv. `buried` is the depth of cover over it; without it hangs. `bends` is the sum of its
    turns between two places where one can pull, `boxes` how many boxes it has in which one can reach in. `cables` names
    and counts what else lies in it (data/cables.csv). `frost` as in a `Pipe`.
    """

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

    def check(self) -> None:
        """Refuse bends of less than none."""
        if self.si.bends < 0:
            raise DesignError('bends is less than 0; add up the turns between two places to pull at, such as bends = "180 deg".')


LEAST_OPEN = 0.001  # of a valve: a thousandth of its way, less than a hand can set (common practice, no source)


class PipePiece(Record):
    """What every piece of pipe has, whether its water is pumped or falls.

    `buried` is the depth of cover over it, or `conduit` the tube that it runs in; `boxes` how many boxes in the ground
    let one reach its fittings; `frost` what is done where it lies above the depth of frost. `route` are its legs and fittings
    in their order (`aquaplumb.build.routes`), where the file tells them.
    """

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
    limits: ClassVar[dict] = {"opening": PART}

    def check(self) -> None:
        """Refuse a valve that is neither open nor shut: no hand sets it, and its loss is beyond all reckoning."""
        if 0 < self.si.opening < LEAST_OPEN:
            raise DesignError(
                f"opening is {self.si.opening:.1g}, and the valve all but shut; write 0 where it is shut, or {LEAST_OPEN} at least."
            )


MEASURED = {  # limits of what measuring put right: the least and the most, and what to type
    "loss_factor": (0.05, 1000.0, "it is how many times as much head the pipe costs as reckoned, from 0.05 to 1000, such as 1.3"),
    "pump_factor": (0.2, 2.0, "it is how much of its points' flow and head the pump gives, from 0.2 to 2, such as 0.93"),
}


class Pipe(PipePiece):
    """A stretch of pipe. It follows the stretch named in `after`; it may end in a vessel (`to`).

    `outlet` is the elevation of its open end. Where that is under water, `break_hole` is the elevation of a hole in
    the pipe that lets air in, so that the vessel cannot drain back through it further than there. `nozzle_angle` says
    where the water points in a round tank: 0 along the wall, 90 degrees to the middle, 180 along the wall the other way
    round. Nozzles are along the wall unless it says otherwise; an open end without it falls straight down.
    `loss_factor` is how many times as much head it costs as reckoned, as the bucket showed.
    """

    after: str = ""
    to: str = ""
    outlet: Head | None = None
    break_hole: Head | None = None
    nozzle_bore: Bore | None = None
    nozzles: Number = 1.0
    nozzle_angle: Angle | None = None
    share: Number | None = None
    loss_factor: Number = 1.0

    limits: ClassVar[dict] = {**PipePiece.limits, "share": PART, "loss_factor": MEASURED["loss_factor"]}

    def check(self) -> None:
        """Refuse a nozzle that points nowhere, too."""
        super().check()
        angle = self.si.nozzle_angle
        if angle is not None and not -1e-9 <= angle <= math.pi + 1e-9:
            raise DesignError(
                f"nozzle_angle is {ANGLE.text(angle)}; it goes from 0 (along the wall) over 90 (to the middle) to 180 (along the wall the other "
                'way round), such as nozzle_angle = "20 deg".'
            )

    def stretch(self, outlet: float | None = None, **changes: Any) -> Stretch:
        """The pipe as the solver knows it: its water lifted to `outlet` [m] where it ends, and with bare SI `changes`."""
        same = {name: value for name, value in vars(self.si).items() if name in Stretch._kinds}
        return Stretch.from_si(**{**same, "outlet": outlet, **changes})


class Control(Record):
    """When a pump runs: always, on a timer, or on a float switch in the vessel that it draws from.

    `least_run` is the shortest time that a relay lets it run. Whatever the control, a low-level switch at
    `cut_out_depth` stops the pump, and lets it start again at `cut_in_depth` (0.05 m higher unless given).
    """

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


class PumpedLine(Record):
    """A pump and its tree of pipe. `wanted` is the flow you need of it; `chosen_head` the head you reckoned with.

    `speed` is a speed control's setting as a share of full speed; `voltage` that which reaches a DC pump.
    `strainer_slot` is the width of the openings that all its water passes: what is smaller goes on to the nozzles.
    `pump_height` is the elevation of a dry-standing pump's inlet; left out for one that stands in its vessel.
    `inlet_depth` is the depth of water in the vessel at which air gets in: a submersible's least depth as its maker
    gives it, or how high the open end of a suction pipe is over the vessel's floor.
    `loss_factor` and `pump_factor` are what measuring put right: how many times as much head the pipes cost as reckoned,
    and how much of its points' flow and head the pump gives; `measured_on` is the day.
    """

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

    limits: ClassVar[dict] = {"strainer_blocked": PART, **MEASURED}


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
