"""Furrows, ditches and ridges: what they hold when level, and what they carry when they fall."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoagro.arrays import Floats

_HALVINGS = 60


@dataclass(frozen=True)
class Section:
    """Cross section of the water behind a ridge or in a ditch.

    Attributes
    ----------
    depth_m
        Deepest water before it runs over.
    bottom_m
        Width of the bottom; 0 for a triangle.
    left, right
        Horizontal run of each bank for one metre of rise.
    """

    depth_m: float
    bottom_m: float
    left: float
    right: float

    def area_m2(self, depth_m: Floats) -> Floats:
        """Cross section of water of these depths, m2; nothing below 0, no more than the section holds."""
        depth = np.clip(depth_m, 0.0, self.depth_m)
        area: Floats = depth * (self.bottom_m + depth * (self.left + self.right) / 2)
        return area

    def wetted_m(self, depth_m: Floats) -> Floats:
        """Wetted length of bottom and banks, m."""
        depth = np.clip(depth_m, 0.0, self.depth_m)
        wetted: Floats = self.bottom_m + depth * (np.hypot(1.0, self.left) + np.hypot(1.0, self.right))
        return wetted


def behind_ridge(height_m: float, bank: float, slope: float) -> Section:
    """Water held by a ridge on sloping ground: a triangle between the ridge's bank and the ground above it.

    The ground rises away from the ridge by `slope` (ratio); on ground flatter than 1 % it is taken as 1 %, so that
    a ridge on level ground doesn't seem to hold a lake.
    """
    return Section(height_m, 0.0, 1.0 / max(slope, 0.01), bank)


def manning_velocity_m_s(section: Section, depth_m: Floats, fall: Floats, roughness: float) -> Floats:
    """Mean velocity, m/s: R^(2/3) S^(1/2) / n (Manning 1891), with R the wetted section over its wetted length."""
    area, wetted = section.area_m2(depth_m), section.wetted_m(depth_m)
    radius = np.divide(area, wetted, out=np.zeros_like(area), where=wetted > 0)
    velocity: Floats = radius ** (2 / 3) * np.sqrt(np.maximum(fall, 0.0)) / roughness
    return velocity


def flow_m3_s(section: Section, depth_m: Floats, fall: Floats, roughness: float) -> Floats:
    """Flow of water of these depths, m3/s."""
    return section.area_m2(depth_m) * manning_velocity_m_s(section, depth_m, fall, roughness)


def normal_depth_m(section: Section, flow: Floats, fall: Floats, roughness: float) -> Floats:
    """Depth at which a section carries a flow, m; NaN where it can't before it runs over."""
    low, high = np.zeros_like(flow), np.full_like(flow, section.depth_m)
    fits = flow_m3_s(section, high, fall, roughness) >= flow
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        enough = flow_m3_s(section, middle, fall, roughness) >= flow
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return np.where(fits, high, np.nan)


def permissible_velocity_m_s(slope: float, *, grass: bool, erodible: bool) -> float:
    """Highest velocity of water that a channel bears, m/s.

    Grass mixtures: 5 and 4 ft/s up to 5 % slope (resistant, easily eroded soil), 4 and 3 ft/s up to 10 %; not meant for
    steeper ones (0). USDA-SCS TP-61, Handbook of Channel Design, table 7. Bare soil: 0.6 and 0.45 m/s, firm loam and
    sandy loam (from memory, after Fortier and Scobey 1926).
    """
    if not grass:
        return 0.45 if erodible else 0.6
    if slope > 0.10:
        return 0.0
    feet = (4.0 if erodible else 5.0) if slope <= 0.05 else (3.0 if erodible else 4.0)
    return feet * 0.3048
