"""What a run of `aquaplumb.system.stepping` leaves behind: a row a step, and which rows happened again and again. Bare SI numbers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np


@dataclass(frozen=True, slots=True)
class Again:
    """Rows of a record that happened again and again, right after they did."""

    first: int  #: the first of these rows
    end: int  #: the row after the last
    times: int  #: how often again
    period: float  #: [s]
    moved: dict[str, np.ndarray]  #: what a cycle adds to each number that goes on, by its name in `Steps`


@dataclass(frozen=True, slots=True)
class Steps:
    """The record of one story, a row a step."""

    time: np.ndarray  #: [s]
    level: np.ndarray  #: elevation of each vessel's water [m]
    volume: np.ndarray  #: in each vessel [m³]
    flow: np.ndarray  #: of each line [m³/s], in the order of `line_flows`
    on: np.ndarray  #: pumps that have power
    dry: np.ndarray  #: … and draw air
    siphon: np.ndarray  #: the state of each siphon
    spilled: np.ndarray  #: over each rim until then [m³]
    added: np.ndarray  #: by rain and top-up until then [m³]
    air: np.ndarray  #: evaporated until then [m³]
    pipes: np.ndarray  #: in pumped pipes and siphons [m³]
    balance: float  #: water that the arithmetic has lost or found [m³]
    again: list[Again]  #: rows that happened again and again

    def ordered(self, columns: dict[str, np.ndarray]) -> Steps:
        """The same with the columns of some in another order."""

        def moved(each: dict[str, np.ndarray]) -> dict[str, Any]:
            return {name: values[..., columns[name]] if name in columns else values for name, values in each.items()}

        again = [replace(one, moved=moved(one.moved)) for one in self.again]
        return replace(self, **moved({name: getattr(self, name) for name in columns}), again=again)

    def whole(self, name: str) -> np.ndarray:
        """A column of it, with the rows that happened again as often as they did."""
        kept = getattr(self, name)
        if not self.again:
            return kept
        parts, begun = [], 0
        for one in self.again:
            cycles = np.broadcast_to(kept[one.first : one.end], (one.times, one.end - one.first, *kept.shape[1:]))
            if name in one.moved:
                cycles = cycles + np.multiply.outer(np.arange(1, one.times + 1), one.moved[name])[:, None]
            parts += [kept[begun : one.end], cycles.reshape(one.times * (one.end - one.first), *kept.shape[1:])]
            begun = one.end
        return np.concatenate([*parts, kept[begun:]])


class Records:
    """The record of all stories while they are stepped. Where some are left behind, a new part of it begins."""

    def __init__(self, stories: int):
        self.count = np.zeros(stories, int)  # rows of each
        self.again: list[list[Again]] = [[] for _ in range(stories)]
        self.told = np.zeros(stories, int)  # … that are told again
        self.balance = np.zeros(stories)
        self.numbers = 0  # in a row
        self._parts: list[tuple[np.ndarray, list]] = []

    def go_on(self, stories: np.ndarray) -> np.ndarray:
        """From here on it is kept of these, in this order."""
        self._parts.append((stories, []))
        return stories

    def keep(self, fresh: np.ndarray, one: dict[str, np.ndarray]) -> None:
        """A row of each story that has moved; `one` has a row for all."""
        stories, kept = self._parts[-1]
        kept.append((fresh, one))
        self.count[stories] += fresh
        self.numbers = self.numbers or sum(np.size(values) for values in one.values()) // len(stories)

    def tell_again(self, story: int, one: Again) -> None:
        """Its last rows happened again and again."""
        self.again[story].append(one)
        self.told[story] += (one.end - one.first) * one.times

    def column(self, name: str, story: int, since: int = 0) -> np.ndarray:
        """A column of a story's record, from one of its rows on."""
        found: list[np.ndarray] = []
        wanted = self.count[story] - since
        for stories, kept in reversed(self._parts):
            at = int(np.flatnonzero(stories == story)[0])
            for fresh, one in reversed(kept):
                if len(found) == wanted:
                    break
                if fresh[at]:
                    found.append(one[name][at])
        return np.array(found[::-1])

    def steps(self) -> list[Steps]:
        """The record of each story."""
        parts: list[list[dict]] = [[] for _ in self.count]
        for stories, kept in self._parts:
            if not kept:
                continue
            taken = np.array([fresh for fresh, _ in kept])
            stacked = {name: np.array([one[name] for _, one in kept]) for name in kept[0][1]}
            for at, story in enumerate(stories):
                parts[story].append({name: values[taken[:, at], at] for name, values in stacked.items()})
        whole = [{name: np.concatenate([part[name] for part in mine]) for name in mine[0]} for mine in parts]
        return [Steps(**each, balance=float(balance), again=again) for each, balance, again in zip(whole, self.balance, self.again)]
