"""How the map plane differs from the ground."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ScaleFactor:
    """How the map plane differs from the ground at the field's centre.

    Attributes
    ----------
    grid
        Point scale factor of the projection: map distance over distance on the ellipsoid.
    height_m
        Mean height that `combined` is computed for; NaN where unknown.
    combined
        Map distance over ground distance: `grid` times R / (R + height).
    convergence_deg
        Bearing of true north from grid north is minus this.
    """

    grid: float
    height_m: float
    combined: float
    convergence_deg: float

    @property
    def ppm(self) -> float:
        """Millimetres by which a kilometre of ground is longer on the map."""
        return (self.combined - 1.0) * 1e6
