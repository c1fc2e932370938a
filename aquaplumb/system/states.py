"""What the steady system holds, record by record: fish, beds, what they need, each line and each vessel; bare SI numbers.

`aquaplumb.system.balance` works them out. Ammonia is as N, alkalinity as CaCO3, all rates of the heaviest day.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from aquaplumb.air.breathing import FishRespiration
from aquaplumb.build import FallingLine, Pipe, PumpedLine
from aquaplumb.build.vessels import Vessel
from aquaplumb.plumbing.branches import Branches
from aquaplumb.plumbing.falls import Way
from aquaplumb.plumbing.line_records import Line
from aquaplumb.plumbing.pump_curve import Pump
from aquaplumb.plumbing.siphons import SiphonConditions
from aquaplumb.units import Bare

# --- what lives


@dataclass(frozen=True, slots=True)
class StockLoad:
    """One stock of fish, what it eats and breathes."""

    name: str
    stock: Bare  #: its `build.Stock`, bare
    species: Bare  #: its row of `species`, bare
    tank: str  #: the tank that it lives in
    biomass: float  #: [kg]
    count: float  #: how many
    feed: float  #: [kg/s]
    ammonia: float  #: that they give off [kg/s]
    respiration: FishRespiration  #: of a kilogram of them in the warmest water
    oxygen: float  #: that they use in a usual hour, the larger of what their feed and their size ask for [kg/s]
    fed_oxygen: float  #: … and after a meal [kg/s]


@dataclass(frozen=True, slots=True)
class TankLoad:
    """One fish tank, or all of them where one stock lives in all, and the fish in it."""

    name: str
    vessels: tuple[str, ...]  #: by name; one, but for one stock in several
    volume: float  #: of water at working depth [m³]
    stocks: tuple[StockLoad, ...]  #: that live in it; a tank may stand empty
    biomass: float  #: of all of them [kg]
    feed: float  #: [kg/s]
    respiration: FishRespiration  #: of a kilogram of them in the warmest water
    oxygen: float  #: that they use in a usual hour [kg/s]
    fed_oxygen: float  #: … and after a meal [kg/s]
    stays: float  #: share of their dirt that stays in the tank
    dirt_oxygen: float  #: that it takes there [kg/s]

    @property
    def density(self) -> float:
        """Fish in a volume of its water [kg/m³]."""
        return self.biomass / self.volume if self.volume > 0 else 0.0


@dataclass(frozen=True, slots=True)
class AllFish:
    """The fish in all tanks, what they eat, and what comes of it."""

    tank_volume: float  #: water in all fish tanks at their working depths [m³]
    biomass: float  #: fish in it [kg]
    count: float  #: how many
    feed: float  #: [kg/s]
    protein: float  #: part of it
    ammonia: float  #: that they give off [kg/s]
    respiration: FishRespiration  #: of a kilogram of them in the warmest water
    oxygen: float  #: that they use in a usual hour, the larger of what their feed and their size ask for [kg/s], the beds' left out
    fed_oxygen: float  #: … and after a meal [kg/s]
    stays: float  #: share of their dirt that stays in the tanks
    dirt_oxygen: float  #: that it takes there [kg/s]
    bed_oxygen: float  #: that the bacteria use in the beds [kg/s]
    carbon_dioxide: float  #: that they give off [kg/s]
    solids: float  #: that they leave [kg/s]
    alkalinity: float  #: that the bacteria use up [kg/s]


@dataclass(frozen=True, slots=True)
class GrowingVessel:
    """What grows in one vessel: a bed, raft, channel or tower."""

    kind: str
    area: float  #: that the plants stand on [m²]
    plants: float  #: how many it holds
    crops: dict[str, float]  #: by name, their shares of the places
    feed_per_area: dict[str, float]  #: by band, `typical` as the file has it [kg/s/m²]


@dataclass(frozen=True, slots=True)
class LivingVessel:
    """On what the bacteria of one vessel live."""

    kind: str
    media: float  #: volume of media [m³]
    medium: Bare | None  #: the row of `media`, bare; None for one without
    surface: dict[str, float]  #: that works, by band [m²]


@dataclass(frozen=True, slots=True)
class Living:
    """Where bacteria live and turn ammonia, and what the ammonia asks of it."""

    each: dict[str, LivingVessel]  #: by the vessel's name
    words: str  #: what they are, in the plural: "beds", "filters and rafts"
    first: tuple[str, ...]  #: those of them that get water from elsewhere: what comes into them is what passes the bacteria
    media: float  #: volume of all [m³]
    surface: dict[str, float]  #: of all [m²], by band
    surface_needed: dict[str, float]  #: for the ammonia [m²], by band, in the water in which the bacteria are slowest
    slowest: float  #: that water's temperature [K]


@dataclass(frozen=True, slots=True)
class Growing:
    """All that plants grow in, and what the feed asks of it."""

    each: dict[str, GrowingVessel]  #: by the vessel's name
    words: str  #: what they are, in the plural: "beds", "rafts and channels"
    crops: tuple[str, ...]  #: what grows in them
    area: float  #: of all [m²]
    area_needed: float  #: for plants that eat what the fish leave [m²]
    area_band: tuple[float, float]  #: … at the high and at the low feed per area of print [m²]
    feed_per_area: float  #: [kg/s/m²]
    plants: float  #: how many stand in all


@dataclass(frozen=True, slots=True)
class Need:
    """The mean flow that each need asks for [m³/s]: of one tank, or of all."""

    saturation: float  #: oxygen that the warmest water holds [kg/m³]
    inlet_oxygen: float  #: oxygen in the water that comes to the tanks [kg/m³]
    turnover: float
    oxygen: float  #: infinite where the water brings none
    ammonia: float  #: through the beds
    carbon_dioxide: float  #: for what air stones do not drive out
    stripping: float  #: water that the stones keep free of it
    tank: float  #: the largest of those that the tanks ask for
    tank_governs: str  #: which one that is


# --- what carries water


@dataclass(frozen=True, slots=True)
class Outlet:
    """One end of a pumped line."""

    name: str  #: of its stretch
    to: str  #: the vessel
    flow: float  #: while the pump runs [m³/s]
    share: float  #: of the line's flow
    wanted_share: float
    pipe: Pipe


@dataclass(frozen=True)
class PumpedPipes:
    """A pumped line while its pump runs, whatever comes to it."""

    name: str
    line: PumpedLine
    tree: Line  #: as the solver knows it
    pump: Pump  #: at its voltage and speed
    stretch_flow: dict[str, float]  #: [m³/s], by stretch
    stretch_speed: dict[str, float]  #: [m/s], by stretch
    suction_loss: float  #: head lost before the pump [m]
    source: Vessel
    flow: float  #: [m³/s]
    head: float  #: that the pump gives [m]
    low: float  #: flow where fittings lose the most that print has [m³/s]
    high: float  #: … and the least
    outlets: list[Outlet]
    start: float  #: head before any water moves [m]
    lift: float  #: from the lowest water to the highest outlet [m]


@dataclass(frozen=True)
class PumpedState(PumpedPipes):
    """A pumped line at work: how long its pump runs, what that brings, what it costs."""

    duty: float  #: part of the time that the pump runs: of the balance, or of the run where that was asked for (`Steady.in_time`)
    mean: float  #: flow over the hour [m³/s]
    wanted: float  #: flow to bring while the pump runs [m³/s]; infinite where it never does
    wanted_why: str  #: what for, as the end of a sentence
    power: float | None  #: while it runs [W]; None where its maker says nothing
    cost: float | None  #: of a year, in the build's money

    def at_work(self, share: float) -> PumpedState:
        """The same with its pump at work for another share of the time; its mean flow stays."""
        if not self.duty > 0:
            return self
        return replace(self, duty=share, cost=None if self.cost is None else self.cost * share / self.duty)


@dataclass(frozen=True)
class FallingPipe:
    """A falling line as it lies, whatever comes to it."""

    name: str
    line: FallingLine
    source: Vessel  #: or a junction
    to: Vessel  #: or a junction
    root: Vessel  #: the vessel that its water comes from: of a branch, that of the whole tree
    way: Way  #: mouth, screen and pipe
    k: float  #: of its fittings, mouth and end, check valves wide open
    room: float  #: from its lip up to the freeboard [m]
    bottom: float  #: elevation at which it ends: its outlet, or the water there [m]
    capacity: float  #: flow up to the freeboard [m³/s]
    drop: float  #: from lip to outlet [m]
    slope: float  #: drop over length
    siphon_flow: float | None  #: of a siphon at a full bed [m³/s]
    whole: Branches | None  #: of the first stretch of a tree, the tree

    @property
    def leaves_vessel(self) -> bool:
        """Whether it begins in a vessel, not at a tee: a way out of it."""
        return self.source is self.root


@dataclass(frozen=True)
class FallingState(FallingPipe):
    """A falling line at work."""

    mean: float  #: flow over the hour [m³/s]
    peak: float  #: flow while the pumps run [m³/s]
    load: float  #: that it has to carry: the peak, or for an emergency overflow all that comes in [m³/s]
    froude: float  #: at its load, pipe full
    regime: str  #: how water goes down it at its load
    depth: float  #: of the water over its lip at its load [m]
    speed: float  #: at its load, pipe full [m/s]
    screen_speed: float | None  #: through its screen at its load [m/s]
    siphon: SiphonConditions | None  #: of a siphon, at its load


@dataclass(frozen=True, slots=True)
class VesselState:
    """What comes into a vessel, and where its water stands."""

    name: str
    vessel: Vessel
    mean: float  #: over the hour [m³/s]
    peak: float  #: at most, siphons running [m³/s]
    level: float  #: elevation of its water over the hour; over its rim as if the walls went on [m]
    highest: float  #: … at most, whatever its pumps do [m]
    spilled: float  #: over its rim, all the time [m³/s]
