"""How much longer or shorter the map is than the ground: for tapes that are read off a map plane."""

from __future__ import annotations

import numpy as np
from pyproj import CRS

from geoagro.crs import Scale, scale_at
from geoagro.outputs.stakes.scale_factor import ScaleFactor
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.words import say

EARTH_RADIUS_M = 6_371_000.0  # mean radius; at 3,000 m of height an error of 0.3 % in it changes nothing below 2 ppm


def grid_scale(crs: CRS, x: float, y: float, height_m: float = np.nan) -> ScaleFactor:
    """Measure the scale factor at a point (working CRS) and bring it to the height of the ground.

    Combined factor = grid factor times R / (R + height), as in land surveying. Without a height the ground
    is taken as lying on the ellipsoid.
    """
    scale: Scale = scale_at(crs, x, y)
    grid = (scale.smallest + scale.largest) / 2
    height = height_m if np.isfinite(height_m) else 0.0
    return ScaleFactor(
        grid=grid,
        height_m=height_m,
        combined=grid * EARTH_RADIUS_M / (EARTH_RADIUS_M + height),
        convergence_deg=scale.convergence_deg,
    )


def scale_sentence(factor: ScaleFactor, words: Words = ENGLISH) -> str:
    """Say what the factor does to a tape."""
    more_mm = 1000 * 100 * (factor.combined - 1)
    message = (
        say(
            "Combined scale factor (map / ground) at height {height:.0f} m (datum of the elevation source): {combined}; grid scale factor: {grid}."
        )
        if np.isfinite(factor.height_m)
        else say("Combined scale factor (map / ground): {combined}; grid scale factor: {grid}.")
    )
    told = words(
        message, height=factor.height_m,
        combined=words.number(factor.combined, 6), grid=words.number(factor.grid, 6),
    )  # fmt: skip
    effect = (
        say("100 m of ground is {off:.0f} mm longer on the map.")
        if more_mm >= 0
        else say("100 m of ground is {off:.0f} mm shorter on the map.")
    )
    matter = (
        say("Ignore it when taping.")
        if abs(more_mm) < 20
        else say("Multiply taped distances by the combined factor before comparing.")
    )
    return f"{told} {words(effect, off=abs(more_mm))} {words(matter)}"
