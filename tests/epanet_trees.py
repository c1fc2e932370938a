"""Random pumped trees, and the same trees for EPANET 2.2 (through wntr). Shared by a test and a benchmark.

What differs between the two sides, so that nobody looks for it: EPANET takes Swamee–Jain's formula in place of
Colebrook's (up to 0.5 % in f at these flows), its own cubic between Re 2000 and 4000, and stores results as 32-bit numbers. What has to be made equal: it has
g = 32.2 ft/s², 0.08 % over the standard, so lengths and K go to it that much larger; its viscosity is a ratio
to 1.1e-5 ft²/s; it adds no exit loss, so each end carries K = 1; water flows back from an end unless the pipe
there has a check valve; a pump's three points become H = A − B Q^C.
"""

import os
import tempfile
from dataclasses import dataclass

import numpy as np

from aquaplumb import water
from aquaplumb.plumbing import lines
from aquaplumb.plumbing.pipes import GRAVITY

EPANET_VISCOSITY = 1.1e-5 * 0.3048**2  # m²/s, what its viscosity option multiplies
LOSSES_AT_OUR_GRAVITY = 32.2 * 0.3048 / GRAVITY
TEMPERATURE = 293.15
LPS = 1e-3


def epanet_factor(reynolds, relative):
    """EPANET's friction factor: 64/Re, Dunlop's cubic from Re 2000 to 4000, Swamee–Jain (manual, section 12)."""
    rough = np.asarray(relative) / 3.7
    turbulent = np.maximum(reynolds, 4000.0)
    swamee = 0.25 / np.log10(rough + 5.74 / turbulent**0.9) ** 2
    y2 = rough + 5.74 / 4000**0.9
    y3 = -2 * np.log10(y2)
    fa = y3**-2
    fb = fa * (2 - 0.00514215 / (y2 * y3))
    r = np.asarray(reynolds) / 2000
    cubic = 7 * fa - fb + r * (0.128 - 17 * fa + 2.5 * fb + r * (-0.128 + 13 * fa - 2 * fb + r * (0.032 - 3 * fa + 0.5 * fb)))
    return np.where(r <= 1, 64 / np.maximum(reynolds, 1e-9), np.where(r < 2, cubic, swamee))


def epanet_factor_and_slope(reynolds, relative):
    """The same with its slope by differences, to stand in for `pipes.factor_and_slope`."""
    up, down = epanet_factor(reynolds * (1 + 1e-4), relative), epanet_factor(reynolds * (1 - 1e-4), relative)
    return epanet_factor(reynolds, relative), (np.log(up) - np.log(down)) / 2e-4


@dataclass
class PowerPump:
    """EPANET's pump curve from three points, H = A − B Q^C, in SI."""

    head: float
    flow: float

    def __post_init__(self):
        # points: (0, head), (0.55 flow, 0.76 head), (flow, 0): the fit through them in closed form
        self.c = np.log(1 / 0.24) / np.log(1 / 0.55)
        self.b = self.head / self.flow**self.c

    def __call__(self, q):
        return self.head - self.b * q**self.c, -self.b * self.c * np.maximum(q, 1e-12) ** (self.c - 1)

    def points(self):
        return [(0.0, self.head), (0.55 * self.flow, 0.76 * self.head), (self.flow, 0.0)]


@dataclass
class RandomTree:
    """A tree in plain numbers, and both sides of it."""

    parents: list[int]
    bore: np.ndarray
    length: np.ndarray
    k: np.ndarray
    outlet: dict[int, float]
    pump: PowerPump
    source: float

    def line(self) -> lines.Line:
        """As a line of ours. The exit is added there by itself."""
        stretches = [
            lines.Stretch.from_si(
                name=f"s{i}", after="" if p < 0 else f"s{p}", bore=self.bore[i], length=self.length[i], extra_k=self.k[i],
                to="bed" if i in self.outlet else "", outlet=self.outlet.get(i),
            )
            for i, p in enumerate(self.parents)
        ]  # fmt: skip
        return lines.Line.from_si(name="random", source=self.source, stretches=tuple(stretches), temperature=TEMPERATURE)


def random_tree(rng: np.random.Generator, links: int, *, spread: float = 0.6) -> RandomTree:
    """A tree of so many links such as people build: bores from 16 mm up, narrower the less they feed."""
    parents, open_ends = [-1], [0]
    while len(parents) < links:
        # grow mostly at the ends, now and then in the middle
        at = int(rng.choice(open_ends)) if rng.random() < 0.7 else int(rng.integers(len(parents)))
        parents.append(at)
        if at in open_ends:
            open_ends.remove(at)
        open_ends.append(len(parents) - 1)
    fed = np.zeros(links)
    for i in open_ends:
        while i >= 0:
            fed[i] += 1
            i = parents[i]
    bore = np.clip(0.018 * fed**0.4 * rng.uniform(0.9, 1.2, links), 0.016, 0.11)
    length, k = rng.uniform(0.3, 4.0, links), rng.uniform(0.2, 6.0, links)
    for i in open_ends:
        k[i] += rng.choice([0.0, 5.0, 20.0])  # a valve part shut
    base = rng.uniform(0.6, 1.4)
    outlet = {i: float(base + rng.uniform(0, spread)) for i in open_ends}
    pump = PowerPump(head=rng.uniform(2.2, 6.0), flow=len(open_ends) * rng.uniform(30, 70) / 60000)
    return RandomTree(parents, bore, length, k, outlet, pump, source=float(rng.uniform(-0.3, 0.3)))


def inp(trees: list[RandomTree]) -> str:
    """All the trees side by side in the one text that EPANET reads (LPS, m, mm)."""
    parts = {name: [] for name in ("JUNCTIONS", "RESERVOIRS", "PIPES", "PUMPS", "CURVES")}
    for t, tree in enumerate(trees):
        parts["RESERVOIRS"].append(f"src{t} {tree.source!r}")
        parts["JUNCTIONS"].append(f"P{t} 0 0")
        parts["PUMPS"].append(f"pump{t} src{t} P{t} HEAD curve{t}")
        parts["CURVES"] += [f"curve{t} {q / LPS!r} {h!r}" for q, h in tree.pump.points()]
        for i, parent in enumerate(tree.parents):
            start = f"P{t}" if parent < 0 else f"n{t}_{parent}"
            end = i in tree.outlet
            parts["RESERVOIRS" if end else "JUNCTIONS"].append(f"n{t}_{i} {tree.outlet[i]!r}" if end else f"n{t}_{i} 0 0")
            length = float(tree.length[i] * LOSSES_AT_OUR_GRAVITY)
            k = float((tree.k[i] + (1.0 if end else 0.0)) * LOSSES_AT_OUR_GRAVITY)
            bore, status = float(tree.bore[i] * 1000), "CV" if end else "Open"
            parts["PIPES"].append(f"l{t}_{i} {start} n{t}_{i} {length!r} {bore!r} 0.0015 {k!r} {status}")
    viscosity = water.kinematic_viscosity.si(TEMPERATURE) / EPANET_VISCOSITY
    options = (
        f"UNITS LPS\nHEADLOSS D-W\nVISCOSITY {viscosity!r}\nACCURACY 0.000001\nTRIALS 200\nFLOWCHANGE 0.000001\nUNBALANCED CONTINUE 50"
    )
    body = "".join(f"[{name}]\n" + "\n".join(rows) + "\n\n" for name, rows in parts.items())
    return f"[TITLE]\nrandom trees\n\n{body}[TIMES]\nDURATION 0\n\n[OPTIONS]\n{options}\n\n[END]\n"


def model(trees: list[RandomTree]):
    """A wntr model of the trees."""
    import wntr

    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "trees.inp")
        with open(path, "w") as file:
            file.write(inp(trees))
        return wntr.network.WaterNetworkModel(path)


def epanet(network):
    """EPANET's steady flows [m³/s] and heads [m] of a model, each by name."""
    import wntr

    with tempfile.TemporaryDirectory() as folder:
        results = wntr.sim.EpanetSimulator(network).run_sim(file_prefix=os.path.join(folder, "run"))
    return results.link["flowrate"].iloc[0].to_dict(), results.node["head"].iloc[0].to_dict()
