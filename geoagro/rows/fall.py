"""A wanted fall along the rows: how much, and toward where."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from scipy.ndimage import gaussian_filter

from geoagro.errors import LayoutError
from geoagro.rows.lattice import Lattice, filled, ground_gradient
from geoagro.rows.row_field import Limits
from geoagro.values.design import RowRule
from geoagro.values.grid import Floats, Grid

RIDGE_SPACINGS = 8.0
"""Ground higher than its surroundings at this scale (in row spacings) counts as ridge."""
SQUARE_SHARE = 0.2
"""A row this far from square to the way it should fall (as a cosine) gets the whole wanted grade, less before."""


@dataclass(frozen=True)
class Fall:
    """Wanted grade (ratio) along rows, falling toward an outlet or toward the ridge.

    Attributes
    ----------
    grade
        Above 0.
    outlet
        Point or line to fall toward, working CRS; None to fall toward the ridge.
    relief
        Height above the surroundings: what is high here is ridge. Used without an outlet.
    """

    grade: float
    outlet: Any | None
    relief: Grid

    def toward(self, xy: Floats) -> Floats:
        """Give unit vectors, shape (n, 2), the way that rows should fall from each point."""
        if self.outlet is None:
            way = ground_gradient(self.relief, xy[:, 0], xy[:, 1])
        else:
            points = shapely.points(xy)
            way = shapely.get_coordinates(shapely.shortest_line(points, self.outlet)).reshape(-1, 2, 2)
            way = way[:, 1] - way[:, 0]
        unit: Floats = way / np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)[:, None]
        return unit

    def held(self, xy: Floats, tangent: Floats, rise: Floats) -> Floats:
        """Fall the wanted way (ratio, below 0 where a row runs the other way) of rows with grade `rise` along `tangent`.

        NaN where rows run nearly square to the way that they should fall, so that neither way is wrong.
        """
        wanted = self.aim(xy, tangent)
        return np.where(np.abs(wanted) < self.grade / 2, np.nan, rise * np.sign(wanted))

    def aim(self, xy: Floats, tangent: Floats) -> Floats:
        """Wanted grade in the direction of `tangent` (unit vectors): negative where the row should fall that way."""
        cosine = (tangent * self.toward(xy)).sum(axis=1)
        wanted: Floats = -self.grade * np.clip(cosine / SQUARE_SHARE, -1.0, 1.0)
        return wanted


def wanted_fall(rule: RowRule, smooth: Grid, outlet: Any | None) -> Fall | None:
    """Read the rule's target grade; None for rows on the contour.

    Raises LayoutError where rows should fall toward an outlet that isn't given.
    """
    if rule.target_grade_pct == 0:
        return None
    if rule.fall_toward == "outlet" and outlet is None:
        raise LayoutError("rows.fall_toward: outlet needs a point or line. Give rows.outlet.")
    height = filled(smooth.values)
    relief = height - gaussian_filter(height, RIDGE_SPACINGS * rule.spacing_m / smooth.cell_m, mode="nearest")
    return Fall(
        rule.target_grade_pct / 100, outlet if rule.fall_toward == "outlet" else None, smooth.with_values(relief)
    )


def row_limits(rule: RowRule) -> Limits:
    """Tolerance of the spacing, and how far grade may be from the wanted one.

    With a wanted fall the grade stays between 0 and twice the wanted one (or the hard limit): it never reverses.
    """
    most, target = rule.max_grade_pct / 100, rule.target_grade_pct / 100
    return Limits(rule.spacing_tolerance, most if target == 0 else max(min(target, most - target), target / 4))


def aimed(lattice: Lattice, fall: Fall | None) -> Lattice:
    """Turn the lattice's uphill directions so that rows square to them have the wanted fall.

    A row at angle asin(g / S) to the contour of ground of slope S has grade g; where the ground is flatter than the
    wanted grade the row runs straight down it.
    """
    if fall is None:
        return lattice
    up = lattice.uphill
    along = np.column_stack([up[:, 1], -up[:, 0]])
    wanted = fall.aim(lattice.centre, along)
    turn = np.arcsin(np.clip(wanted / np.maximum(lattice.slope, 1e-9), -1.0, 1.0))
    cos, sin = np.cos(turn)[:, None], np.sin(turn)[:, None]
    return replace(lattice, uphill=cos * up - sin * along)
