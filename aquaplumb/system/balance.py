"""The steady system: everything that can be known of a build when nothing changes, worked out once, in order.

each pumped line with its pump → where the water settles → fish load → beds → what flow each need asks for → each line
at work. All numbers in here are bare SI; `aquaplumb.review` gives them names, units and sources, `aquaplumb.review.findings` reads
them for faults.

Mean and peak: a pump on a timer or a float switch moves its flow only part of the hour. Fish and bacteria see the
mean; pipes and drains have to carry the peak.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from aquaplumb import fish, tables, water
from aquaplumb.build import Build, PumpedLine
from aquaplumb.build.vessels import footprint, water_volume
from aquaplumb.fish import beds, circulation
from aquaplumb.plumbing import drains, full_pipe, lines, pipes, pumps, siphons
from aquaplumb.system import blown, each_line, films
from aquaplumb.system.flow_tables import Network
from aquaplumb.system.growing import growing
from aquaplumb.system.living import living_of
from aquaplumb.system.means import Means
from aquaplumb.system.settling import loads
from aquaplumb.system.states import (
    AllFish,
    FallingPipe,
    FallingState,
    Growing,
    Living,
    Need,
    PumpedPipes,
    PumpedState,
    StockLoad,
    TankLoad,
    VesselState,
)
from aquaplumb.system.stock_loads import all_fish, strictest, tank_loads
from aquaplumb.system.supplies import billed
from aquaplumb.units import GRAVITY, Bare, DesignError, in_percent
from aquaplumb.water.filters import IN_AIR

if TYPE_CHECKING:
    from aquaplumb.system.running import Running

# m: how far the water may stand off the working depth in a file, which is often the height of the lip; common practice, no source
AS_SAID = 0.05
_ARRIVES = 1e-3  # of what a line brings: where less gets on to what it is for, no stronger pump helps; common practice, no source
_HANGS = 0.3  # of the room in a tower: water that hangs in its roots and medium; common practice, no source


@dataclass(frozen=True, eq=False, init=False)
class Balance:
    """A build, solved: what `aquaplumb.system.steady.Steady` knows from the first."""

    build: Build
    crop: beds.Crop
    cold: float  #: the coldest water [K]
    warm: float  #: the warmest [K]
    tanks: dict[str, TankLoad]  #: each fish tank with its stocks, by its name; one stock in all of them counts as in one
    fish: AllFish  #: all fish together
    beds: Growing  #: all that plants grow in
    living: Living  #: where bacteria live
    needs: dict[str, Need]  #: of each of the `tanks`
    need: Need  #: of all
    pumped: dict[str, PumpedState]  #: by the line's name
    falling: dict[str, FallingState]  #: by the line's name
    vessels: dict[str, VesselState]  #: by the vessel's name
    network: Network  #: its lines as tables of flow against level
    means: Means  #: where its water settles
    shown: Running | None  #: what its run shows while nothing fails; None before anybody looks

    def __init__(self, build: Build, *, inflow: dict[str, float] | None = None):
        known = vars(self)  # frozen: filled here and nowhere else, each from those before it
        known["build"] = build
        known["crop"] = tables.row("crops", build.plants.crop)
        known["cold"], known["warm"] = build.site.si.coldest_water, build.site.si.warmest_water
        pumped = {name: each_line.pumped_pipes(build, line) for name, line in build.pumped.items()}
        known["network"] = Network(build)
        falls = each_line.falling_pipes(build)
        known["means"] = means = Means(self.network, pumped, falls, inflow or {})
        usual = means.usual
        known["shown"] = None
        known["vessels"] = self._vessels()
        known["tanks"] = tank_loads(build, self.running_depth, self.warm)
        known["fish"] = all_fish(self.tanks.values())
        known["beds"] = growing(build, self.fish.feed)
        flows = {name: v.mean for name, v in self.vessels.items()}
        known["living"] = living_of(build, flows, self.fish.ammonia, cold=self.cold, warm=self.warm)
        stripping = blown.stripping(
            build, {name: tank.oxygen + tank.dirt_oxygen for name, tank in self.tanks.items()}, cold=self.cold, warm=self.warm
        )
        known["needs"] = {name: self._need(tank, stripping[name]) for name, tank in self.tanks.items()}
        known["need"] = self._all_needs()
        known["falling"] = self._fallen()
        known["pumped"] = {name: self._pumped(p, float(usual.share[i])) for i, (name, p) in enumerate(pumped.items())}

    def _vessels(self) -> dict[str, VesselState]:
        usual, means = self.means.usual, self.means
        return {
            name: VesselState(
                name, v, mean=float(usual.comes[i]), peak=float(means.comes_most[i]), level=float(usual.level[i]),
                highest=float(means.highest[i]), spilled=float(max(usual.spilled[i], means.spilled_most[i] if self.shown else 0.0)),
            )
            for i, (name, v) in enumerate(self.build.vessels.items())
        }  # fmt: skip

    def _fallen(self) -> dict[str, FallingState]:
        usual, means, n = self.means.usual, self.means, self.network
        emergency = np.array([line.si.emergency for line in self.build.falling.values()], bool)
        load = loads(n, emergency, means.comes_most, means.fall_most, means.spilled_most)
        return {
            name: self._falling(pipe, float(usual.fall[i]), float(means.fall_most[i]), float(load[i]))
            for i, (name, pipe) in enumerate(means.falling.items())
        }

    def running_depth(self, name: str) -> float:
        """How deep a vessel stands while the system runs [m]: its working depth, where that is as near as a person says it."""
        v, settled = self.build.vessels[name].si, self.vessels[name].level - self.build.vessels[name].si.floor
        return v.working_depth if abs(settled - v.working_depth) <= AS_SAID else min(settled, v.height)

    @property
    def water(self) -> float:
        """All water of the system [m³]: at its working depths, media allowed for, and what is on its way through channels, towers and filters."""
        return sum(
            float(water_volume.si(v, v.si.working_depth) + films.film(v, self.vessels[name].mean, self.cold, v.si.working_depth))
            for name, v in self.build.vessels.items()
        )

    # --- biology

    @property
    def stocks(self) -> dict[str, StockLoad]:
        """Each stock of fish by its name."""
        return {stock.name: stock for tank in self.tanks.values() for stock in tank.stocks}

    def strictest(self, limit: str) -> Bare:
        """The species, a bare row, that bears the least of a limit, such as "oxygen_minimum"."""
        return strictest(self.stocks.values(), limit)

    def _need(self, f: TankLoad, stripping: float) -> Need:
        """What one fish tank asks for, of which air stones keep so much water free of carbon dioxide [m³/s]."""
        w = self.build.water.si
        saturation = water.oxygen_saturation.si(self.warm, salinity=w.salinity, altitude=self.build.site.si.altitude)
        inlet = w.inlet_saturation * saturation
        demand = (f.fed_oxygen + f.dirt_oxygen) * (1 - w.aerated_share)
        oxygen = circulation.oxygen_flow.si(demand, inlet=inlet, outlet=w.outlet_oxygen) if inlet > w.outlet_oxygen else math.inf
        exhaled = fish.carbon_dioxide_production.si(f.oxygen) + fish.carbon_dioxide_production.si(f.dirt_oxygen)
        left = max(0.0, exhaled - stripping * max(0.0, w.carbon_dioxide_limit - IN_AIR))
        carbon_dioxide = circulation.carbon_dioxide_flow.si(left, inlet=w.inlet_carbon_dioxide, limit=w.carbon_dioxide_limit)
        tank = {
            "turnover": circulation.turnover_flow.si(f.volume, w.turnovers),
            "oxygen": oxygen if demand > 0 else 0.0,
            "carbon dioxide": carbon_dioxide,
        }
        governs, most = max(tank.items(), key=lambda item: item[1])
        ammonia = sum(stock.ammonia for stock in f.stocks)
        return Need(
            saturation=saturation, inlet_oxygen=inlet, turnover=tank["turnover"], oxygen=tank["oxygen"], carbon_dioxide=carbon_dioxide, stripping=stripping,
            ammonia=circulation.ammonia_flow.si(ammonia, limit=w.ammonia_limit, removal=w.removal), tank=most, tank_governs=governs,
        )  # fmt: skip

    def _all_needs(self) -> Need:
        """What all fish tanks ask for together: each has to get its own."""
        one = max(self.needs.values(), key=lambda need: need.tank)
        flows = ("turnover", "oxygen", "carbon_dioxide", "ammonia", "stripping", "tank")
        return replace(one, **{flow: sum(getattr(need, flow) for need in self.needs.values()) for flow in flows})

    def living_flow(self) -> float:
        """The water that passes the bacteria [m³/s], counted where it first meets them."""
        return sum(self.vessels[name].mean for name in self.living.first)

    def floor_loads(self) -> dict[str, float]:
        """The pressure [Pa] of each vessel that stands above ground, brimful, on its own footprint."""
        return {
            name: beds.floor_load.si(self.full_mass(vessel), footprint.si(vessel))
            for name, vessel in self.build.vessels.items()
            if vessel.si.floor >= 0 or vessel.grows
        }

    def leg_loads(self) -> dict[str, tuple[float, float | None]]:
        """(the force [N] of one leg, its pressure [Pa] under its foot, None where that is not told) of each brimful vessel on legs."""
        found = {}
        for name, vessel in self.build.vessels.items():
            v = vessel.si
            if v.legs:
                force = self.full_mass(vessel) * GRAVITY / (v.count * v.legs)
                found[name] = force, force / v.foot if v.foot else None
        return found

    def masses(self, vessel) -> tuple[float, float, float]:
        """The masses [kg] of a vessel full to the rim: itself, its media and its water."""
        v, each = vessel.si, self.living.each.get(vessel.si.name)
        bulk = (each.medium.bulk_density_high or each.medium.bulk_density_typical) if each and each.medium else 0.0
        media = each.media * bulk if each else 0.0
        water = 1000.0 * water_volume.si(vessel, v.height)
        return v.count * v.empty_mass, media, water * (_HANGS if v.kind == "tower" else 1.0)  # a tower's runs out of its sites

    def full_mass(self, vessel) -> float:
        """All of them together [kg]."""
        return sum(self.masses(vessel))

    # --- pumped lines

    def _pumped(self, p: PumpedPipes, duty: float) -> PumpedState:
        """A pumped line with its duty, what it has to bring, and what it costs."""
        wanted, why = self._wanted(p, duty)
        runs = p.pump.si.power is not None
        power = pumps.power.si(p.pump, p.flow) if runs else None
        bill = billed(self.build, p.pump)  # nothing for a pump that the sun feeds
        cost = pumps.annual_cost.si(power * bill, self.build.site.si.power_price, duty=duty) if power is not None and bill else None
        return PumpedState(**vars(p), duty=duty, mean=p.flow * duty, wanted=wanted, wanted_why=why, power=power, cost=cost)

    def pump_of(self, line: PumpedLine) -> pumps.Pump:
        """The pump of a line, at its voltage."""
        return each_line.pump_of(self.build, line)

    def tree(self, line: PumpedLine) -> lines.Line:
        """The pumped line as the tree of pipe that the solver knows."""
        return each_line.tree(self.build, line)

    # --- falling lines

    def _falling(self, pipe: FallingPipe, mean: float, peak: float, load: float) -> FallingState:
        """What a falling line does at the flow that it has to carry."""
        f = pipe.line.si
        siphon = None
        if f.siphon:
            vent = f.siphon.si.vent
            if vent >= f.lip:
                raise DesignError(f"{f.name}: the vent is at {vent:g} m, not below the lip at {f.lip:g} m; air must come in lower.")
            siphon = siphons.siphon_conditions.si(
                load, f.bore, fall_at_full=f.lip - pipe.bottom, fall_at_vent=vent - pipe.bottom,
                length=f.length, k=pipe.k, temperature=self.cold, starting=siphons.SiphonStart.from_si(**vars(each_line.siphon_start(f))), stopping=f.siphon.si.stops,
            )  # fmt: skip
        return FallingState(
            **vars(pipe), mean=mean, peak=peak, load=load, siphon=siphon,
            froude=full_pipe.froude.si(load, f.bore),
            regime=drains.standpipe_regime.si(load, f.bore),
            depth=drains.standpipe_depth.si(load, f.bore),
            speed=pipes.speed.si(load, f.bore),
            screen_speed=drains.screen_speed.si(load, f.screen_open_area * (1 - f.screen_blocked)) if f.screen_open_area else None,
        )  # fmt: skip

    def feeds_itself(self, line: PumpedPipes) -> bool:
        """Whether the water that a pump moves falls back to the vessel that it draws from."""
        seen, ahead = set(), [o.to for o in line.outlets if o.flow > 0]
        while ahead:
            name = ahead.pop()
            if name not in seen:
                seen.add(name)
                ahead += [f.line.si.to for f in self.falling.values() if f.line.si.source == name and not f.line.si.emergency]
        return line.line.si.source in seen

    # --- what each pumped line has to bring

    def reaches(self, vessel: str, asks: set[str]) -> bool:
        """Whether water that comes into a vessel gets to one of these by itself: that one, or one below it, before a pump draws it."""
        drawn, seen = {line.si.source for line in self.build.pumped.values()}, set[str]()
        ahead = [vessel]
        while ahead:
            here = ahead.pop()
            if here in seen:
                continue
            seen.add(here)
            if here in asks:
                return True
            if here not in drawn:
                ahead += [f.line.si.to for f in self.falling.values() if f.line.si.source == here and not f.line.si.emergency]
        return False

    def _tank_reason(self, tank: str) -> str:
        """What a tank has to be brought water for, as the end of a sentence."""
        governs = self.needs[tank].tank_governs
        return f"for the {governs} of {tank}" if len(self.tanks) > 1 else f"for the tank's {governs}"

    def _wanted(self, line: PumpedPipes, duty: float) -> tuple[float, str]:
        """The flow that a line has to bring while its pump runs, and what for, as the end of a sentence."""
        if line.line.si.wanted is not None:
            return line.line.si.wanted, "as you asked"
        needs = [
            (set(t.vessels), self.needs[name].tank, self._tank_reason(name), name if len(self.tanks) > 1 else "the tank")
            for name, t in self.tanks.items()
        ]
        needs.append((set(self.living.first), self.need.ammonia, "for the ammonia", f"the {self.living.words}"))
        best, why = 0.0, "for nothing in particular"
        for asks, need, reason, where in needs:
            own = [o for o in line.outlets if self.reaches(o.to, asks)]
            share = sum(o.wanted_share for o in own)
            if share <= 0:
                continue
            inflow = sum(v.mean for name, v in self.vessels.items() if name in asks)
            brought = sum(o.flow for o in own) * duty
            part = brought / inflow if inflow > _ARRIVES * brought > 0 else 1.0
            if need * part / share > best:
                best = need * part / share
                why = reason if share > 0.995 else f"{reason} ({in_percent(share)} is for {where})"
        control = line.line.si.control.si.kind
        comes = self.vessels[line.line.si.source].mean
        if control == "float" and comes > best and not self.feeds_itself(line):
            best, why = comes, f"for what comes into {line.source.si.name}"
        at_work = duty if control == "timer" else 1.0
        return (best / at_work if at_work > 0 else math.inf), why
