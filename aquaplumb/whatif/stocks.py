"""Which stock of fish a panel speaks of, where a build has several, and how many of them a Keep writes. Part of pages 01 and 10."""

from __future__ import annotations

from aquaplumb.build import Build
from aquaplumb.whatif.base import Choice


def which(build: Build) -> list[Choice]:
    """The menu of stocks, where there are several."""
    return [Choice("stock", "which fish", list(build.stocks), kept=False)] if build.several else []


def spoken_of(build: Build, stock: str | None) -> Build:
    """The build with `fish` the stock that is chosen; the first, where nothing is."""
    return build.speaking_of(stock) if stock and build.several else build


def many(build: Build, density: float, volume: float, body_mass: float) -> dict[tuple, object]:
    """How a file that counts its fish has so many of them, in whole fish; nothing where it tells their density."""
    if build.fish.si.count is None:
        return {}
    return {build.fish_key("count"): max(1, round(density * volume / body_mass))}
