"""Vessels that the water cannot tell apart: what becomes of one when its drain is blocked becomes of its twin when that one's is.

Two vessels are twins where a build stays the same build when they change places: of one size and height, on the same stretches of
pumped pipe with ends alike, with drains alike to the same places. A run of one told with their columns changed is then the run of the
other, so that of a hundred beds alike one is run.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from aquaplumb.build.records import way_to
from aquaplumb.system.flow_tables import Network
from aquaplumb.system.record import Steps


@dataclass(frozen=True, slots=True)
class Swap:
    """A network with two of its vessels in each other's place: where each column of a record is found in that of the other."""

    vessels: np.ndarray
    flows: np.ndarray  #: as `levels.Run.flows` has them
    siphons: np.ndarray

    def told(self, steps: Steps) -> Steps:
        """The record of the one as that of the other."""
        return steps.ordered(
            {"level": self.vessels, "volume": self.vessels, "spilled": self.vessels, "flow": self.flows, "siphon": self.siphons}
        )


def twins(net: Network) -> dict[str, tuple[str, Swap]]:
    """By each falling line of a vessel that has a twin before it: that one's line alike, and how they change places."""
    found: dict[str, tuple[str, Swap]] = {}
    first: dict[tuple, list[int]] = {}  # of each kind of vessel those that are no later one's twin
    has = _pipes(net)
    for place, vessel in enumerate(net.vessels[: net.count]):
        kind = (vessel.with_si(name="", at=(), turned=0.0), len(has[place]))
        for one in first.setdefault(kind, []):
            if (pairs := _alike(has[one], has[place], one, place)) is not None:
                swap = _swap(net, one, place, pairs)
                found |= {net.falls[b]: (net.falls[a], swap) for a, b in pairs if b < len(net.falls)}
                break
        else:
            first[kind].append(place)
    return found


def _pipes(net: Network) -> list[list[tuple]]:
    """What hangs on each vessel: (its column among the flows, where it begins and ends, all else that its flow depends on)."""
    n, falls, ends = net, len(net.falls), len(net.falls) + len(net.ends)
    siphon = {f: i for i, f in enumerate(n.siphons.tolist())}
    pipes: list[tuple] = []
    for f, line in enumerate(n.build.falling.values()):
        stops = (i := siphon.get(f)) is not None and (
            float(n.vent[i]),
            float(n.siphon_held[i]),
            bool(n.meant[i]),
            *(float(s[i]) for s in n.starts.values()),
        )
        emergency = line.si.emergency
        pipes.append((f, int(n.fall_from[f]), int(n.fall_to[f]), (float(n.lip[f]), float(n.outlet[f]), float(n.clear[f]), n.fallen.ways[f], stops, emergency)))  # fmt: skip
    chains = _chains(net)
    pipes += [(falls + e, int(n.line_from[n.end_line[e]]), int(n.end_to[e]), chains[e]) for e in range(len(n.ends))]
    # Ways back follow from the pipes: only how they change places is wanted.
    ways = zip(n.way_line, n.way_to, n.way_far, n.way_across, n.way_air, n.way_mouth, n.way_end, strict=True)
    pipes += [
        (ends + w, int(to), int(far), ("way", int(line), bool(across), *map(float, at)))
        for w, (line, to, far, across, *at) in enumerate(ways)
    ]
    found: list[list[tuple]] = [[] for _ in n.names]
    for pipe in pipes:
        for place in {pipe[1], pipe[2]}:
            found[place].append(pipe)
    return found


def _chains(net: Network) -> list[tuple]:
    """Of each pumped end the stretches down to its pump: those that lead to one vessel alone without their names, which no flow depends on."""
    found = []
    for line in net.build.pumped.values():
        ends = [pipe for pipe in line.si.pipe if pipe.si.to]
        ways = [way_to(line.si, end)[len(line.si.suction) :] for end in ends]
        leads_to = Counter(name for name, _ in {(pipe.si.name, end.si.to) for way, end in zip(ways, ends) for pipe in way})
        feeds = Counter(pipe.si.name for way in ways for pipe in way)  # ends; two of one vessel may have a pipe in common, or each its own
        for way in ways:
            own = tuple((p.with_si(name="", after="", to="", route=()), feeds[p.si.name]) for p in way if leads_to[p.si.name] == 1)
            found.append((line.si.name, own, tuple(p.si.name for p in way if leads_to[p.si.name] > 1)))
    return found


def _alike(one: list[tuple], other: list[tuple], a: int, b: int) -> list[tuple[int, int]] | None:
    """The flows of two vessels in pairs, where each of the one has one of the other that is alike; else None."""
    turned = {a: b, b: a}
    left: dict[tuple, list[int]] = {}
    for flow, *what in other:
        left.setdefault(tuple(what), []).append(flow)
    pairs = []
    for flow, start, end, what in one:
        alike = left.get((turned.get(start, start), turned.get(end, end), what))
        if not alike:
            return None
        pairs.append((flow, alike.pop(0)))
    return pairs


def _swap(net: Network, a: int, b: int, pairs: list[tuple[int, int]]) -> Swap:
    vessels, flows = np.arange(len(net.names)), np.arange(len(net.falls) + len(net.ends) + len(net.way_line))
    vessels[[a, b]] = b, a
    for one, other in pairs:
        flows[one], flows[other] = other, one
    return Swap(vessels, flows, np.searchsorted(net.siphons, flows[net.siphons]))
