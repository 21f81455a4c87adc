"""From a crop's record and its age to the crown that meets the light."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoagro.light.canopy import Crown
from geoagro.values.recipe import Crop
from geoagro.values.timeline import Stay

K_LAI = 1.5
"""Extinction coefficient 0.5 x leaf area index 3 of a full-grown sole crop (from memory); leaves 0.223 of the light."""


@dataclass(frozen=True)
class Canopy:
    """What light needs to know of a crop.

    Attributes
    ----------
    radius_m, height_m
        Of the grown plant.
    kept_width, kept_height
        Shares of them that pruning leaves.
    base_share
        Height at which leaves begin, as a share of the height.
    opacity
        Share of the light from straight above that a crown takes.
    area_m2
        Ground of one place at the usual density.
    """

    radius_m: float
    height_m: float
    kept_width: float
    kept_height: float
    base_share: float
    opacity: float
    area_m2: float
    spacing_m: float
    full_size_weeks: float
    leafless: tuple[int, ...]

    @property
    def casts(self) -> bool:
        """Whether it has a crown at all."""
        return self.radius_m > 0 and self.height_m > 0

    def sizes(self, stay: Stay, week: float) -> tuple[float, float]:
        """Shares of the full width and height in a week, to a hundredth, so that equal states are reckoned once."""
        width, height = (stay.size(week, self.full_size_weeks, kept) for kept in (self.kept_width, self.kept_height))
        return max(round(width, 2), 0.02), max(round(height, 2), 0.02)

    def crown(self, lines: tuple[tuple[float, ...], tuple[float, ...]], sizes: tuple[float, float]) -> Crown:
        """Give the crowns on these lines (places across, spacings) at these shares of the full size."""
        width, height = sizes
        top = self.height_m * height
        return Crown(*lines, self.radius_m * width, self.base_share * top, top, self.opacity)

    def sole_lines(self) -> tuple[float, tuple[tuple[float, ...], tuple[float, ...]]]:
        """Row distance and line of the crop alone at its usual density."""
        return self.area_m2 / self.spacing_m, ((0.0,), (self.spacing_m,))


def canopy_of(crop: Crop, *, south: bool, leaf_factor: float = 1.0) -> Canopy:
    """Take a crop's canopy; `leaf_factor` scales its leaf area.

    Where the usual density isn't known, plants are taken to stand on the square of their distance in the line.
    """
    radius, height = (crop.canopy_width_m or 0.0) / 2, crop.height_m or 0.0
    spacing = crop.spacing_m or crop.canopy_width_m or 1.0
    area = 1 / crop.usual_per_m2 if crop.usual_per_m2 else spacing**2
    depth = leaf_factor * (crop.k_lai or K_LAI) * area / (np.pi * radius**2) if radius > 0 else 0.0
    return Canopy(
        radius_m=radius,
        height_m=height,
        kept_width=_share(crop.pruned_width_m, 2 * radius),
        kept_height=_share(crop.pruned_height_m, height),
        base_share=(crop.crown_base_pct or 0.0) / 100,
        opacity=float(-np.expm1(-depth)),
        area_m2=area,
        spacing_m=min(spacing, area / 0.05),
        full_size_weeks=crop.full_size_weeks or 1.0,
        leafless=crop.leafless(south=south),
    )


def _share(kept: float | None, full: float) -> float:
    return 1.0 if kept is None or full <= 0 else min(1.0, kept / full)
