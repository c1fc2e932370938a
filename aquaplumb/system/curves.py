"""Depth against volume of a vessel that no formula tells; bare SI numbers."""

from __future__ import annotations

import numpy as np

from aquaplumb.build.vessels import Vessel, water_volume

_POINTS = 400


class DepthCurve:
    """Depth against volume of a vessel whose plan area changes all the way up: straight between points, close where it ends."""

    @classmethod
    def of(cls, vessel: Vessel) -> DepthCurve:
        """That of what stands in a vessel."""
        depth = vessel.si.height * (1 - np.cos(np.pi * np.arange(_POINTS + 1) / _POINTS)) / 2
        return cls(depth, water_volume.si(vessel, depth))

    def __init__(self, depth: np.ndarray, volume: np.ndarray):
        self.depth, self.volume = depth, volume
        self.slope = np.diff(self.depth) / np.diff(self.volume)

    def __call__(self, volume):
        """(depth, its slope against volume)."""
        place = np.clip(np.searchsorted(self.volume, volume, side="right") - 1, 0, len(self.slope) - 1)
        return self.depth[place] + self.slope[place] * (volume - self.volume[place]), self.slope[place]
