"""What would be measured on a pumped line if something were not as the build file says: many tries solved side by side.

All numbers in here are bare SI. A try is a dict of what is different, each value one number or one for each try:

    {("k", "to bed 1"): 12.0}        # K more in a stretch; ("length", …) metres more, ("raised", …) static head in its way
    {"losses": 1.2}                  # all losses of the line, times so much; ("losses", …) of a stretch
    {"fittings": 2.0}                # K of all fittings, times so much; "roughness" metres more, "blocked" part of the strainer
    {"pump": 0.9}                    # of its points' flow and head; "speed" of its points' speed
    {"source": -0.05}                # water that it draws from, so much higher

Source: as `aquaplumb.plumbing.lines`, whose solver it is.
"""

from __future__ import annotations

import functools

import numpy as np

from aquaplumb import water
from aquaplumb.plumbing import fittings, line_solver, pumps
from aquaplumb.plumbing.line_records import FAR, end_k, net, path_to, strainer_k, stretch_losses

Try = dict  # what is different, by what it is: see the head of this module


class LineModel:
    """A pumped line of a solved build, its pump at work, with anything of it changed.

    `depth` is the measured depth of the water that it draws from [m], where somebody held a tape into it.
    """

    def __init__(self, system, name: str, depth: float | None = None):
        self.state = state = system.pumped[name]
        self.name, self.pump, self.line = name, state.pump, state.line.si
        self.made = made = net(state.tree, "typical", 1)
        self.tree = state.tree.si
        self.source = made.source if depth is None else state.source.si.floor + depth
        self.parts = made.parts
        self.ends = list(made.ends)
        self.found = [stretch_losses(tuple(part.fittings.items()), "typical") for part in self.parts]
        self.viscosity = water.kinematic_viscosity.si(self.tree.temperature)
        self.voltage = self.line.voltage if self.line.voltage is not None else self._on_its_wire(system) or self.pump.si.voltage

    def _on_its_wire(self, system) -> float | None:
        """The voltage that arrives over the wire of [power]; None without."""
        wired = system.power.lines.get(self.name) if system.power else None
        return float(wired.run.running_voltage) if wired and wired.run else None

    @functools.cached_property
    def below(self) -> dict[str, list[int]]:
        """Which ends lie behind each stretch, by their place."""
        names, made = self.made.names, self.made
        ways = [path_to(made.parents, int(link)) for link in made.shape.end_links]
        return {name: [e for e, way in enumerate(ways) if i in way] for i, name in enumerate(names)}

    def measured(self, tries: Try, shut: tuple = (), size: int = 1) -> dict[tuple[str, str], np.ndarray]:
        """What would be read with some valves shut: by ("flow", end), ("power", line), ("voltage", line), one value for each try."""

        def full(value) -> np.ndarray:
            return np.array(np.broadcast_to(value, (size,)), float)

        def of(what: str, name: str):
            return tries.get((what, name), 0.0)

        made, dearer = self.made, tries.get("fittings", 1.0)
        first = 0 if made.pump_from else made.pump_at
        blocked = 1 - (1 - self.tree.strainer_blocked) * (1 - tries.get("blocked", 0.0))
        clogged = strainer_k(self.found, blocked, "typical", first)
        k = [
            full(f.k * dearer + part.extra_k + c + (fittings.valve_k.si(part.valve, part.opening) if part.valve else 0.0) + end_k(part) + of("k", part.name))
            for f, part, c in zip(self.found, self.parts, clogged)
        ]  # fmt: skip
        shut_k = np.array([np.isinf(one).any() for one in k])
        columns = {
            "bore": np.stack([full(part.bore) for part in self.parts]),
            "length": np.stack([full(part.length + of("length", part.name)) for part in self.parts]),
            "roughness": np.stack([full(part.roughness + tries.get("roughness", 0.0)) for part in self.parts]),
            "k": np.where(np.isinf(k), 1.0, np.stack(k)),
        }
        if made.links.opening_head is not None:
            columns["opening_head"] = np.stack([full(f.opening_head) for f in self.found])
            columns["check_k"] = np.stack([full(f.check_k * dearer) for f in self.found])
        links = line_solver.Links(**columns, viscosity=self.viscosity)
        links.speed_head = links.speed_head * np.stack(
            [full(part.loss_factor * tries.get("losses", 1.0) * tries.get(("losses", part.name), 1.0)) for part in self.parts]
        )
        outlet = np.stack([full(self.parts[i].outlet) for i in made.shape.end_links])
        for i, name in enumerate(made.names):
            if ("raised", name) in tries:
                outlet[self.below[name]] += full(tries["raised", name])
            if name in shut or shut_k[i]:
                outlet[self.below[name]] = FAR
        speed, weak = full(tries.get("speed", 1.0)), full(tries.get("pump", 1.0))
        by_flow, by_head = weak * speed, weak * speed**2
        q = np.zeros((len(self.ends), size))
        if not (outlet >= FAR).all():
            q, _ = line_solver.end_flows(
                made.shape, links.counted_in(by_flow, by_head), outlet / by_head, pump=pumps.curve(self.pump),
                source=(self.source + full(tries.get("source", 0.0))) / by_head,
            )  # fmt: skip
        found = {("flow", end): flow * by_flow for end, flow in zip(self.ends, q)}
        if self.pump.si.power is not None:
            found["power", self.name] = pumps.power.si(self.pump, q.sum(axis=0)) * speed**3
        if self.voltage is not None:
            found["voltage", self.name] = self.voltage * speed
        return found
