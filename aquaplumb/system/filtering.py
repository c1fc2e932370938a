"""How the filters of a solved build work: what they get, what sinks or sticks there, what they turn, what is nearest its limit; bare SI numbers.

`Steady.filters` has one `FilterWork` by vessel, `Steady.loops` what each pump's loop does with ammonia and solids. A filter is judged
at what comes to it at most; what it turns at what comes over the hour.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from aquaplumb.build import Build
from aquaplumb.build.vessels import SETTLES, SIEVES, TRICKLES, Vessel, plan_area, water_volume
from aquaplumb.fish import beds
from aquaplumb.system.balance import Balance
from aquaplumb.units import Bare
from aquaplumb.water import filters, startup
from aquaplumb.water.upkeep import USUAL_FEED


@dataclass(frozen=True, slots=True)
class FilterWork:
    """What one filter does, as far as it has to do with it; None where it has not, or where the file does not say."""

    name: str
    does: tuple[str, ...]
    count: float  #: how many alike
    area: float  #: of all, seen from above [m²]
    water: float  #: in all, while they run [m³]
    flow: float  #: over the hour [m³/s]
    peak: float  #: at most [m³/s]
    rise: float | None  #: over its plan area [m/s]
    rise_limit: float | None  #: of the strictest that it does [m/s]
    stay: float | None  #: of the water [s]
    caught: float | None  #: the smallest grain that it keeps [m]
    catches: float | None  #: part of the solids, where print has measured it
    speed: float | None  #: through mat, brushes or screen [m/s]
    wetting: float | None  #: on trickling media [m/s]
    fall: float | None  #: that water falls through media, or from its inlet [m]
    fill: float | None  #: of a moving bed's water by carriers
    air: float | None  #: volumes of air in a time for one of a moving bed's water [1/s]
    air_to_water: float | None  #: of a degasser
    stripped: float | None  #: of the carbon dioxide over the air's
    turns: float  #: ammonia, at the typical rate in the water in which bacteria are slowest [kg/s]

    @property
    def solid(self) -> bool:
        """Whether it takes out solids."""
        return bool(set(self.does) & {*SETTLES, *SIEVES})

    def margins(self) -> dict[str, float]:
        """By what it hangs on: what it bears over what it gets; under 1 it is too small."""
        found = {}
        if self.rise and self.rise_limit:
            found["rise"] = self.rise_limit / self.rise
        if self.stay is not None and "settling" in self.does:
            found["stay"] = self.stay / filters.LEAST_STAY
        if self.speed:
            found["speed through its face"] = filters.FACE_LIMIT / self.speed
        if self.wetting is not None and "trickling" in self.does:
            found["wetting"] = self.wetting / filters.LEAST_WETTING
        if self.air is not None:
            found["air"] = self.air / filters.LEAST_AIR
        if self.air_to_water is not None:
            found["air"] = self.air_to_water / filters.AIR_TO_WATER
        return found


@dataclass(frozen=True, slots=True)
class FilterLoop:
    """What happens to the water of one pump until it is back."""

    line: str
    turns: tuple[str, ...]  #: the vessels in which its ammonia is turned, the most first
    turned: float  #: in them, at the typical rate [kg/s]
    solids: tuple[str, ...]  #: the filters by which its solids leave
    first: str  #: what is nearest its limit, in words
    margin: float  #: what it bears over what it gets


def filter_works(system: Balance) -> dict[str, FilterWork]:
    """Each filter of a solved build, by its vessel's name."""
    return {name: _work(system, v) for name, v in system.build.vessels.items() if v.cleans}


def _work(system: Balance, vessel: Vessel) -> FilterWork:
    v, does, area = vessel.si, set(vessel.cleans), plan_area.si(vessel)
    state = system.vessels[v.name]
    water = water_volume.si(vessel, system.running_depth(v.name))
    settles = [one for one in SETTLES if one in does]
    rise = filters.rise.si(state.peak, area) if settles else None
    limit = min(filters.RISE_LIMIT[one] for one in settles) if settles else None
    caught = filters.settled_size.si(rise, system.cold) if rise else None
    if v.mesh and "screen" in does:
        caught = min(v.mesh, caught) if caught else v.mesh
    through = _face(vessel) if does & set(SIEVES) else None
    falls = does & set(TRICKLES)
    fall = (v.media_depth or (v.media_volume or 0.0) / (area / v.count) or _drop(system, v)) if falls else None
    degasses = "degassing" in does
    blown = v.air_flow * v.count if v.air_flow is not None else None
    to_water = (blown / state.mean if blown is not None else filters.OWN_AIR) if degasses and state.mean > 0 else None
    return FilterWork(
        name=v.name, does=vessel.cleans, count=v.count, area=area, water=water, flow=state.mean, peak=state.peak, rise=rise, rise_limit=limit,
        stay=filters.stay.si(water, state.mean) if settles and state.mean > 0 else None, caught=caught,
        catches=max((filters.CATCHES[one] for one in settles if one in filters.CATCHES), default=None),
        speed=state.peak / through if through else None, wetting=state.mean / area if falls else None, fall=fall,
        fill=vessel.media / water if "moving bed" in does and vessel.media and water > 0 else None,
        air=(blown or 0.0) / water if "moving bed" in does and water > 0 else None,
        air_to_water=to_water, stripped=float(filters.stripped.si(fall, to_water)) if degasses and to_water is not None else None,
        turns=_turned(system, [v.name]),
    )  # fmt: skip


def _face(vessel: Vessel) -> float | None:
    """The area that water passes a mat, brushes or a screen [m²]: as told, else for brushes and mats across the water of a long vessel."""
    v = vessel.si
    if v.face:
        return v.count * v.face
    across = v.width or v.diameter
    return (
        None if "screen" in v.does and not {"mat", "brushes"} & set(v.does) else v.count * min(across, v.length or across) * v.working_depth
    )


def _drop(system: Balance, v) -> float:
    """How far water falls from the pipes into a vessel [m]."""
    ends = [p.si.outlet for line in system.build.pumped.values() for p in line.si.pipe if p.si.to == v.name and p.si.outlet is not None]
    ends += [line.si.outlet for line in system.build.drops.values() if line.si.to == v.name]
    return max([0.0, *(end - v.floor - v.working_depth for end in ends)])


def _turned(system: Balance, names) -> float:
    """The ammonia that some vessels turn [kg/s]: as their surface, at the typical rate or at the build's own."""
    live, own = system.living, system.build.water.si.nitrification_rate
    rate = beds.nitrification_rate.si(live.slowest).si.typical if own is None else own
    return rate * sum(live.each[name].surface["typical"] for name in names if name in live.each)


def upkeep_tasks(system: Balance) -> list[Bare]:
    """What to do and how often at the heaviest feed, for the filters and media that are there; none without feed."""
    feed, media = system.fish.feed, system.living.media
    if feed <= 0:
        return []
    does = {one for v in system.build.vessels.values() for one in v.cleans}
    slimy = [
        *(["air stones"] if _stones(system.build) else []),
        *(["siphon pipes"] if any(f.siphon for f in system.falling.values()) else []),
    ]
    there = {
        "",
        *({"trap"} if does & set(SETTLES) else ()),
        *(does & {"mat", "brushes"}),
        *({"media"} if media > 0 else ()),
        *({"drippers"} if system.build.of_kind("tower") else ()),
        *({"stones or siphons"} if slimy else ()),
        *({"spare air"} if system.build.air and system.build.air.si.backup_pump else ()),
    }
    water = system.build.water.si
    plan = startup.upkeep_plan.si(feed, media if media > 0 else feed / USUAL_FEED, water=water.disinfectant or water.origin)
    tasks = [task for task in plan if task.si.of in there]
    return [(task.with_si(name=f"clean {' and '.join(slimy)}") if task.si.of == "stones or siphons" else task).si for task in tasks]


def _stones(build: Build) -> bool:
    """Whether an air stone hangs anywhere."""
    return bool(build.air and build.air.si.stones) or any(v.si.air_stones for v in build.vessels.values())


def loops(system: Balance, works: dict[str, FilterWork]) -> dict[str, FilterLoop]:
    """What happens in the loop of each pump, by its line."""
    found = {}
    for line in system.pumped.values():
        names = _round(system, line)
        turns = sorted((n for n in names if _turned(system, [n]) > 0), key=lambda n: -_turned(system, [n]))
        margins = {f"{what} of {n}": m for n in names if n in works for what, m in works[n].margins().items()}
        live, need = system.living, system.living.surface_needed["typical"]
        if turns and need > 0:
            margins["surface for bacteria"] = live.surface["typical"] / need if math.isfinite(need) else 0.0
        if turns and system.need.ammonia > 0:
            margins[f"flow through the {live.words}"] = system.living_flow() / system.need.ammonia
        first, margin = min(margins.items(), key=lambda item: item[1], default=("nothing that is judged", math.inf))
        solids = tuple(n for n in names if n in works and works[n].solid)
        found[line.name] = FilterLoop(line.name, tuple(turns), _turned(system, turns), solids, first, margin)
    return found


def _round(system: Balance, line) -> list[str]:
    """The vessels that the water of a pumped line passes until it is back at its source, that one last."""
    source, seen = line.line.si.source, []
    ahead = [o.to for o in line.outlets]
    while ahead:
        name = ahead.pop(0)
        if name in seen or name == source:
            continue
        seen.append(name)
        ahead += [line.si.to for line in system.build.drops.values() if line.si.source == name and not line.si.emergency]
    return [*seen, source]
