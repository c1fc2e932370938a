"""The steady system: everything that can be known of a build when nothing changes, worked out once, in order.

fish load → beds → what flow each need asks for → each pumped line with its pump → how the water falls back.
All numbers in here are bare SI; `aquaplumb.review` gives them names, units and sources, `aquaplumb.review.findings` reads
them for faults.

Mean and peak: a pump on a timer or a float switch moves its flow only part of the hour. Fish and bacteria see the
mean; pipes and drains have to carry the peak.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from aquaplumb import fish, tables, water
from aquaplumb.build import Build, FallingLine, PumpedLine
from aquaplumb.build.vessels import plan_area, water_volume
from aquaplumb.fish import beds, circulation
from aquaplumb.plumbing import drains, fittings, full_pipe, lines, pipes, pumps, siphons
from aquaplumb.system.states import (
    BedLoad,
    FallingPipe,
    FallingState,
    FishLoad,
    Need,
    OneBed,
    Outlet,
    PumpedPipes,
    PumpedState,
    VesselState,
)
from aquaplumb.system.supplies import billed
from aquaplumb.units import DesignError

_PASSES = 200  # of the water down the vessels: a handful settle a build, more where float switches feed each other


@dataclass(frozen=True, eq=False, init=False)
class Balance:
    """A build, solved: what `aquaplumb.system.steady.Steady` knows from the first."""

    build: Build
    species: tables.Row
    crop: beds.Crop
    cold: float  #: the coldest water [K]
    warm: float  #: the warmest [K]
    fish: FishLoad
    beds: BedLoad
    need: Need
    pumped: dict[str, PumpedState]  #: by the line's name
    falling: dict[str, FallingState]  #: by the line's name
    vessels: dict[str, VesselState]  #: by the vessel's name

    def __init__(self, build: Build, *, inflow: dict[str, float] | None = None):
        known = vars(self)  # frozen: filled here and nowhere else, each from those before it
        known["build"] = build
        known["species"] = tables.row("species", build.fish.species)
        known["crop"] = tables.row("crops", build.plants.crop)
        known["cold"], known["warm"] = build.site.si.coldest_water, build.site.si.warmest_water
        known["fish"] = self._fish()
        known["beds"] = self._beds()
        known["need"] = self._need()
        pumped = {name: self._pumped_pipes(line) for name, line in build.pumped.items()}
        falling = {name: self._falling_pipe(line) for name, line in build.falling.items()}
        water = _Water(build, pumped, falling, inflow or {})
        known["vessels"] = {name: VesselState(name, v, *water.comes[name]) for name, v in build.vessels.items()}
        known["falling"] = {name: self._falling(pipe, *water.falls[name][:2]) for name, pipe in falling.items()}
        known["pumped"] = {name: self._pumped(p, water.duty[name]) for name, p in pumped.items()}

    # --- biology

    def _fish(self) -> FishLoad:
        s, tanks = self.build.fish.si, self.build.of_kind("fish tank")
        volume = sum(water_volume.si(tank, tank.si.working_depth) for tank in tanks)
        biomass = fish.standing_biomass.si(volume, s.density)
        feed = fish.daily_feed.si(biomass, s.feeding_rate)
        ammonia = fish.ammonia_production.si(feed, s.protein)
        oxygen = fish.fish_oxygen.si(feed)  # what the beds use is brought to the beds, not through the tank
        return FishLoad(
            tank_volume=volume,
            biomass=biomass,
            count=biomass / s.body_mass,
            feed=feed,
            ammonia=ammonia,
            oxygen=oxygen,
            bed_oxygen=fish.nitrification_oxygen.si(ammonia),
            carbon_dioxide=fish.carbon_dioxide_production.si(oxygen),
            solids=fish.solids_production.si(feed),
            alkalinity=fish.alkalinity_use.si(ammonia),
        )

    def _beds(self) -> BedLoad:
        b = self.build
        feed_per_area = b.plants.si.feed_per_area or self.crop.si.feed_per_area_typical
        each, surface = {}, {"low": 0.0, "typical": 0.0, "high": 0.0}
        area = media = 0.0
        for bed in b.of_kind("bed"):
            own = plan_area.si(bed)
            area += own
            volume = own * (bed.si.media_depth or 0.0)
            media += volume
            medium = tables.row("media", bed.si.medium).si if bed.si.medium else None
            if medium:
                for band in surface:
                    surface[band] += volume * (getattr(medium, f"surface_{band}") or medium.surface_typical)
            each[bed.si.name] = OneBed(own, volume, medium)
        rate = b.water.si.nitrification_rate
        usual = beds.nitrification_rate.si(self.cold).si
        rates = {band: rate or getattr(usual, band) for band in surface}
        return BedLoad(
            each=each,
            area=area,
            media=media,
            surface=surface,
            area_needed=beds.growing_area.si(self.fish.feed, feed_per_area),
            feed_per_area=feed_per_area,
            surface_needed={band: beds.nitrifying_area.si(self.fish.ammonia, rates[band]) for band in rates},
            plants=beds.plant_count.si(area, b.plants.si.spacing or self.crop.si.spacing_typical),
        )

    def _need(self) -> Need:
        w, f = self.build.water.si, self.fish
        saturation = water.oxygen_saturation.si(self.warm, altitude=self.build.site.si.altitude)
        inlet = w.inlet_saturation * saturation
        demand = f.oxygen * w.oxygen_peak * (1 - w.aerated_share)
        oxygen = circulation.oxygen_flow.si(demand, inlet=inlet, outlet=w.outlet_oxygen) if inlet > w.outlet_oxygen else math.inf
        carbon_dioxide = circulation.carbon_dioxide_flow.si(f.carbon_dioxide, inlet=w.inlet_carbon_dioxide, limit=w.carbon_dioxide_limit)
        tank = {
            "turnover": circulation.turnover_flow.si(f.tank_volume, w.turnovers),
            "oxygen": oxygen if demand > 0 else 0.0,
            "carbon dioxide": carbon_dioxide,
        }
        governs, most = max(tank.items(), key=lambda item: item[1])
        return Need(
            saturation=saturation, inlet_oxygen=inlet, turnover=tank["turnover"], oxygen=tank["oxygen"], carbon_dioxide=carbon_dioxide,
            ammonia=circulation.ammonia_flow.si(f.ammonia, limit=w.ammonia_limit, removal=w.removal), tank=most, tank_governs=governs,
        )  # fmt: skip

    def floor_loads(self) -> dict[str, float]:
        """The pressure [Pa] of each vessel that stands above ground, brimful, on its own footprint."""
        return {
            name: beds.floor_load.si(self.full_mass(vessel), plan_area.si(vessel))
            for name, vessel in self.build.vessels.items()
            if vessel.si.floor >= 0 or vessel.si.kind == "bed"
        }

    def full_mass(self, vessel) -> float:
        """The mass [kg] of a vessel full to the rim: itself, its media and its water."""
        each = self.beds.each.get(vessel.si.name)
        bulk = (each.medium.bulk_density_high or each.medium.bulk_density_typical) if each and each.medium else 0.0
        media = each.media * bulk if each else 0.0
        return vessel.si.empty_mass + media + 1000.0 * water_volume.si(vessel, vessel.si.height)

    # --- pumped lines

    def _pumped_pipes(self, line: PumpedLine) -> PumpedPipes:
        p = line.si
        tree = self.tree(line)
        pump = self.pump_of(line)
        typical = lines.flows.si(tree, pump).si
        band = [lines.flows.si(tree, pump, band=b).si.flow for b in ("low", "high")]
        ends = [pipe for pipe in p.pipe if pipe.si.to]
        total = typical.flow
        into = dict(zip(typical.ends, typical.end_flow))
        shares = self._shares(ends)
        return PumpedPipes(
            name=p.name,
            line=line,
            tree=tree,
            pump=pump,
            stretch_flow=dict(zip(typical.names, typical.stretch_flow)),
            stretch_speed=dict(zip(typical.names, typical.speed)),
            suction_loss=float(sum(typical.loss[: len(p.suction)])),
            source=self.build.vessels[p.source],
            flow=total,
            head=typical.head,
            low=min(band),
            high=max(band),
            outlets=[
                Outlet(
                    name=end.si.name,
                    to=end.si.to,
                    flow=into[end.si.name],
                    share=into[end.si.name] / total if total > 0 else 0.0,
                    wanted_share=shares[end.si.name],
                    pipe=end,
                )
                for end in ends
            ],
            start=float(lines.required_head.si(tree, 0.0)),
            lift=max(part.si.outlet for part in tree.si.stretches if part.si.to) - tree.si.source,
        )

    def _pumped(self, p: PumpedPipes, duty: float) -> PumpedState:
        """A pumped line with its duty, what it has to bring, and what it costs."""
        wanted, why = self._wanted(p, duty)
        runs = p.pump.si.power is not None
        power = pumps.power.si(p.pump, p.flow) if runs else None
        bill = billed(self.build, p.pump)  # nothing for a pump that the sun feeds
        cost = pumps.annual_cost.si(power * bill, self.build.site.si.power_price, duty=duty) if power is not None and bill else None
        return PumpedState(**vars(p), duty=duty, mean=p.flow * duty, wanted=wanted, wanted_why=why, power=power, cost=cost)

    @staticmethod
    def _shares(ends) -> dict[str, float]:
        """The wanted share of each outlet; what is not said is split evenly over the rest, and the whole is one."""
        said = {e.si.name: e.si.share for e in ends if e.si.share is not None}
        silent = [e.si.name for e in ends if e.si.share is None]
        left = max(0.0, 1.0 - sum(said.values()))
        shares = {**said, **{name: left / len(silent) for name in silent}}
        whole = sum(shares.values())
        return {name: share / whole for name, share in shares.items()} if whole > 0 else dict.fromkeys(shares, 1 / len(shares))

    def tree(self, line: PumpedLine) -> lines.Line:
        """The pumped line as the tree of pipe that the solver knows."""
        p, vessels = line.si, self.build.vessels
        return lines.Line.from_si(
            name=p.name,
            source=self.lowest_water(line),
            temperature=self.cold,
            suction=tuple(self._stretch(pipe, vessels) for pipe in p.suction),
            stretches=tuple(self._stretch(pipe, vessels) for pipe in p.pipe),
            strainer_blocked=p.strainer_blocked,
        )

    def lowest_water(self, line: PumpedLine) -> float:
        """The elevation [m] that a pump may have to lift from: a float's off level, else the working level."""
        source, control = self.build.vessels[line.si.source], line.si.control.si
        return source.si.floor + control.off_depth if control.kind == "float" else source.level

    @staticmethod
    def _stretch(pipe, vessels) -> lines.Stretch:
        if not pipe.si.to:
            return pipe.stretch()
        vessel, outlet = vessels[pipe.si.to], pipe.si.outlet
        return pipe.stretch(max(vessel.level, vessel.rim if outlet is None else outlet))

    def pump_of(self, line: PumpedLine) -> pumps.Pump:
        """The pump of a line, at its voltage; a pump file is looked for beside the build file."""
        p = line.si
        if p.pump_file:
            folder = self.build.path.parent if self.build.path else Path()
            pump = pumps.from_csv(folder / p.pump_file)
        else:
            pump = pumps.pump(p.pump)
        if p.voltage is not None:
            pump = pumps.at_voltage.si(pump, p.voltage)
        return pump if p.speed == 1 else pumps.at_speed.si(pump, p.speed)

    # --- falling lines

    def _falling_pipe(self, line: FallingLine) -> FallingPipe:
        f, source, to = line.si, self.build.vessels[line.si.source], self.build.vessels[line.si.to]
        k = fittings.k(f.fittings) + fittings.ENTRANCE + fittings.EXIT
        room = max(0.0, source.rim - source.si.freeboard - f.lip)
        bottom = max(f.outlet, to.level)
        full = {"length": f.length, "k": k, "temperature": self.cold}
        capacity = min(
            drains.standpipe_flow.si(room, f.bore),
            full_pipe.full_bore_flow.si(max(0.0, f.lip + room - bottom), f.bore, **full),
        ) * (1 - f.screen_blocked)
        drop = f.lip - f.outlet
        return FallingPipe(
            name=f.name, line=line, source=source, to=to, k=k, room=room, bottom=bottom, capacity=capacity, drop=drop,
            slope=drop / f.length if f.length > 0 else math.inf,
            siphon_flow=siphons.siphon_flow.si(max(0.0, f.lip - bottom), f.bore, **full) if f.siphon else None,
        )  # fmt: skip

    def _falling(self, pipe: FallingPipe, mean: float, peak: float) -> FallingState:
        """What a falling line does at the flow that it has to carry."""
        f = pipe.line.si
        # An emergency overflow has to take the whole inflow of its vessel when the usual way is blocked.
        load = self.vessels[f.source].peak if f.emergency else peak
        siphon = None
        if f.siphon:
            vent = f.siphon.si.vent
            if vent >= f.lip:
                raise DesignError(f"{f.name}: the vent is at {vent:g} m, not below the lip at {f.lip:g} m; air must come in lower.")
            siphon = siphons.siphon_conditions.si(
                load, f.bore, fall_at_full=f.lip - pipe.bottom, fall_at_vent=vent - pipe.bottom,
                length=f.length, k=pipe.k, temperature=self.cold,
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

    def _wanted(self, line: PumpedPipes, duty: float) -> tuple[float, str]:
        """The flow that a line has to bring while its pump runs, and what for, as the end of a sentence."""
        if line.line.si.wanted is not None:
            return line.line.si.wanted, "as you asked"
        needs = {"fish tank": (self.need.tank, f"for the tank's {self.need.tank_governs}"), "bed": (self.need.ammonia, "for the ammonia")}
        best, why = 0.0, "for nothing in particular"
        for kind, (need, reason) in needs.items():
            own = [o for o in line.outlets if self.build.vessels[o.to].si.kind == kind]
            share = sum(o.wanted_share for o in own)
            if share <= 0:
                continue
            inflow = sum(v.mean for v in self.vessels.values() if v.vessel.si.kind == kind)
            brought = sum(o.flow for o in own) * duty
            part = brought / inflow if inflow > 0 and brought > 0 else 1.0
            if need * part / share > best:
                best = need * part / share
                why = reason if share > 0.995 else f"{reason} at its {share:.0%} share"
        control = line.line.si.control.si.kind
        comes = self.vessels[line.line.si.source].mean
        if control == "float" and comes > best and not self.feeds_itself(line):
            best, why = comes, f"for what comes into {line.source.si.name}"
        at_work = duty if control == "timer" else 1.0
        return (best / at_work if at_work > 0 else math.inf), why


class _Water:
    """The water shared out over the vessels, by passing it down until it settles; frozen records are made of it.

    First with every pump on a float switch running all the time, then with their duties: a pump whose own water
    comes back to it then keeps running, as it does in truth.
    """

    def __init__(self, build: Build, pumped: dict[str, PumpedPipes], falling: dict[str, FallingPipe], asked: dict[str, float]):
        self.pumped, self.falling, self.asked = pumped, falling, asked
        controls = {name: p.line.si.control.si for name, p in pumped.items()}
        self.floats = {name for name, c in controls.items() if c.kind == "float"}
        self.duty = {name: circulation.duty.si(c.on, c.off) if c.kind == "timer" else 1.0 for name, c in controls.items()}
        self.comes = dict.fromkeys(build.vessels, (0.0, 0.0))  # mean and peak into each vessel
        self.falls = dict.fromkeys(falling, (0.0, 0.0, 0.0))  # mean, peak and peak out of each falling line
        for floats in (False, True):
            after: list[float] = []
            for _ in range(_PASSES):
                self._pass_down(floats)
                before, after = after, [mean for mean, _ in self.comes.values()] + list(self.duty.values())
                if before and all(math.isclose(a, b, rel_tol=1e-13) for a, b in zip(before, after)):
                    break

    def _pass_down(self, floats: bool) -> None:
        """One pass over all vessels: what comes in, what the pumps draw, and what is left to fall."""
        for name in self.comes:
            ends = [(o.flow, self.duty[line]) for line, p in self.pumped.items() for o in p.outlets if o.to == name]
            falls = [self.falls[f.name] for f in self.falling.values() if f.line.si.to == name]
            mean = sum(flow * duty for flow, duty in ends) + sum(fall[0] for fall in falls)
            peak = sum(flow for flow, _ in ends) + sum(fall[2] for fall in falls)
            if name in self.asked:
                mean = self.asked[name] * (mean / peak if peak > 0 else 1.0)
                peak = self.asked[name]
            self.comes[name] = mean, peak
        for name, (mean, peak) in self.comes.items():
            drawing = [p for p in self.pumped.values() if p.line.si.source == name]
            for p in drawing:
                if floats and p.name in self.floats and p.flow > 0:
                    self.duty[p.name] = min(1.0, mean / p.flow)
            falling = [f for f in self.falling.values() if f.line.si.source == name]
            usual = [f for f in falling if not f.line.si.emergency] or falling  # the only way out is used, whatever its name
            room = sum(f.capacity for f in usual)
            drawn = sum(p.flow * self.duty[p.name] for p in drawing)
            for f in usual:
                part = f.capacity / room if room > 0 else 1 / len(usual)
                own = max(0.0, mean - drawn) * part
                most = peak * part if not drawing else own
                self.falls[f.name] = own, most, max(f.siphon_flow or 0.0, most)  # a siphon lets go at its own full flow
