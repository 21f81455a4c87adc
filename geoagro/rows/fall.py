"""A wanted fall along the rows: how much, and toward where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from scipy.ndimage import gaussian_filter
from shapely import LineString

from geoagro.arrays import Bools, Floats, Ints
from geoagro.errors import LayoutError
from geoagro.planar.ragged import places, starts
from geoagro.planar.vectors import dot
from geoagro.rows.lattice import Lattice
from geoagro.rows.loops.backward import rising_on
from geoagro.rows.loops.ground import heights_at
from geoagro.rows.loops.outlet import ways_to
from geoagro.rows.loops.places import points_on
from geoagro.rows.row_field import Limits
from geoagro.rows.sampling import RowSamples
from geoagro.rows.slopes import Slopes, filled
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid

RIDGE_SPACINGS = (4.0, 8.0)
"""Ground that is higher at the first scale than at the second (in row spacings) counts as ridge. Looked at more closely, every bump had a
way of its own: on gentle ground rows toward the ridge then broke up."""
SQUARE_SHARE = 0.2
"""A row this far from square to the way it should fall (as a cosine) gets the whole wanted grade, less before."""
SQUARE = 0.5
"""Below this share of the whole wanted grade a row is so nearly square that neither way is wrong."""
BRIDGE_M = 3.0
"""Rows are cut as if stretches no longer than this had the way of what lies before and behind them: other places looked at may miss them."""
KEPT_SHARE = 0.5
"""A row keeps a wanted fall where it falls by that, give or take this share of it."""
FIELD_SHARE = 1.0
"""The row field aims no farther off the wanted fall than by this share of it."""


@dataclass(frozen=True, eq=False)
class Fall:
    """Wanted grade (ratio) along rows, falling toward an outlet or toward the ridge.

    Attributes
    ----------
    grade
        Above 0.
    outlet
        Point or line to fall toward, working CRS; None to fall toward the ridge.
    relief
        Height above the surroundings, over its typical slope, so that it counts metres toward the ridge. Used without
        an outlet.
    """

    grade: float
    outlet: Any | None
    relief: Slopes

    @cached_property
    def _pieces(self) -> tuple[Floats, Floats] | None:
        """Starts and ends of the outlet's straight pieces; a point is one whose ends are the same, an area its edge."""
        if self.outlet is None:
            return None
        alone = [part.boundary if part.geom_type == "Polygon" else part for part in shapely.get_parts(self.outlet)]
        parts = [shapely.get_coordinates(part) for part in shapely.get_parts(alone)]
        ends = [(xy[:-1], xy[1:]) if len(xy) > 1 else (xy, xy) for xy in parts]
        return np.concatenate([start for start, _ in ends]), np.concatenate([end for _, end in ends])

    def toward(self, xy: Floats) -> Floats:
        """Give unit vectors, shape (n, 2), the way that rows should fall from each point."""
        if self._pieces is None:
            way = self.relief.gradient(xy)
        else:
            way = ways_to(*self._pieces, np.ascontiguousarray(xy, dtype=np.float64))
        unit: Floats = way / np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)[:, None]
        return unit

    def held(self, xy: Floats, tangent: Floats, rise: Floats) -> Floats:
        """Fall the wanted way (ratio, below 0 where a row runs the other way) of rows with grade `rise` along `tangent`.

        NaN where rows run nearly square to the way that they should fall, so that neither way is wrong.
        """
        wanted = self.aim(xy, tangent)
        return np.where(np.abs(wanted) < SQUARE * self.grade, np.nan, rise * np.sign(wanted))

    def missed(self, xy: Floats, tangent: Floats, rise: Floats) -> Bools:
        """Tell which places of rows don't keep the wanted fall (see `held`; where neither way is wrong, none is missed)."""
        off = np.abs(self.held(xy, tangent, rise) - self.grade)
        return np.asarray(off > KEPT_SHARE * self.grade)

    def kept_share(self, samples: RowSamples, rise: Floats) -> float:
        """Tell on which share of their length rows keep the wanted fall, square stretches left out; NaN where there are no others."""
        tangent = np.column_stack([samples.tx, samples.ty])
        told = np.isfinite(self.held(samples.xy, tangent, rise))
        length_m = float(samples.weight[told].sum())
        missed_m = float(samples.weight[self.missed(samples.xy, tangent, rise)].sum())
        return 1 - missed_m / length_m if length_m else float("nan")

    def aim(self, xy: Floats, tangent: Floats) -> Floats:
        """Wanted grade in the direction of `tangent` (unit vectors): negative where the row should fall that way."""
        cosine = dot(tangent, self.toward(xy))
        wanted: Floats = -self.grade * np.clip(cosine / SQUARE_SHARE, -1.0, 1.0)
        return wanted

    def rises(
        self,
        at: tuple[Floats, Floats, Floats, Floats],
        bounds: Ints,
        is_ring: Bools,
        most_m: float,
        *,
        strictly: bool = False,
    ) -> tuple[Bools, Ints]:
        """Tell at which places along rows water on its way would have risen by more than `most_m`, and which is the lowest so far.

        Where rows run nearly square to the way that they should fall, water may go either way (see `held`): -1 for the lowest.

        Parameters
        ----------
        at
            Position and unit tangent, shape (n, 2), station along its row and height of each.
        bounds, is_ring
            Row k has the places from bounds[k] to bounds[k + 1].
        strictly
            Whether water keeps its way at the first square place too, and past short stretches that have another: as rows are cut, so
            that they hold on whatever places they are looked at.
        """
        xy, tangent, station, z = at
        wanted = self.aim(xy, tangent)
        way = np.where(np.abs(wanted) < SQUARE * self.grade, 0, np.sign(wanted)).astype(np.int64)
        if not strictly:
            return rising_on(way, (station, z), (bounds, is_ring), most_m, 0.0)
        return rising_on(_with_brink(way, bounds), (station, z), (bounds, is_ring), most_m, BRIDGE_M)

    def rises_along(
        self, rows: Sequence[LineString], samples: RowSamples, heights: Grid, most_m: float, *, strictly: bool = False
    ) -> tuple[Bools, Floats]:
        """Tell which samples hold a place that `rises` tells, and how far each has risen since the lowest place before it, metres.

        Looked at are the middle and both ends of what each sample stands for: a row's ends, and heights twice as finely.
        """
        count = np.bincount(samples.row, minlength=len(samples.row_length))
        bounds = starts(2 * count + 1)
        before = bounds[samples.row] + 2 * places(count)  # places before, at and after each sample, by row
        of = np.zeros(bounds[-1], dtype=np.int64)
        of[before], of[before + 1], of[before + 2] = (np.arange(len(samples)),) * 3
        half = samples.weight / 2
        station = np.empty(bounds[-1])
        station[before + 2], station[before + 1] = samples.station + half, samples.station
        station[before] = samples.station - half
        xy = points_on(samples.lines_of(rows), samples.row[of], station)
        z = heights_at(heights, xy)
        told, lowest = self.rises(
            (xy, np.column_stack([samples.tx, samples.ty])[of], station, z),
            bounds,
            samples.is_ring,
            most_m,
            strictly=strictly,
        )
        risen = np.where(lowest >= 0, z - z[lowest], 0.0)
        there = before[:, None] + np.arange(3)
        most: Floats = risen[there].max(axis=1)
        return told[there].any(axis=1), most

    def window(self, wanted: Floats, most: float) -> tuple[Floats, Floats]:
        """Least and greatest grade allowed where a grade is wanted (see `aim`): at most `most` that way, none back.

        Where rows run nearly square to the way that they should fall, they may run either way (see `held`).
        """
        back = most * np.clip(1 - np.abs(wanted) / (SQUARE * self.grade), 0.0, 1.0)
        return np.where(wanted < 0, -most, -back), np.where(wanted < 0, back, most)

    def near(self, wanted: Floats, most: float, share: float) -> tuple[Floats, Floats]:
        """Least and greatest grade no farther off the wanted one (see `aim`) than by `share` of it, within `window`."""
        low, high = self.window(wanted, most)
        off = share * self.grade
        is_square = np.abs(wanted) < SQUARE * self.grade
        return (
            np.where(is_square, low, np.clip(wanted - off, low, high)),
            np.where(is_square, high, np.clip(wanted + off, low, high)),
        )

    def tilt(self, x: Floats, y: Floats) -> Floats:
        """Return what makes contours of rows with the wanted fall when added to the heights; shape (len(y), len(x)).

        A contour of z - g r, with r the distance to the outlet, falls by g toward it where it runs straight at it, by g
        times the cosine where it doesn't. Toward the ridge the relief stands for -r.
        """
        if self.outlet is None:
            return self.grade * self.relief.heights(x, y)
        far: Floats = shapely.distance(shapely.points(*np.meshgrid(x, y)), self.outlet)
        return -self.grade * far


def _with_brink(way: Ints, bounds: Ints) -> Ints:
    """Give square places next to others of their row the way of those."""
    before, after = np.append(0, way[:-1]), np.append(way[1:], 0)
    before[bounds[:-1][bounds[:-1] < len(way)]] = 0
    after[bounds[1:][bounds[1:] > 0] - 1] = 0
    return np.where(way != 0, way, np.where(before != 0, before, after))


def wanted_fall(rule: RowRule, smooth: Grid, outlet: Any | None) -> Fall | None:
    """Read the rule's target grade; None for rows on the contour.

    Raises LayoutError where rows should fall toward an outlet that isn't given.
    """
    if rule.target_grade_pct == 0:
        return None
    if rule.fall_toward == "outlet" and outlet is None:
        raise LayoutError("rows.fall_toward: outlet needs a point or line. Give rows.outlet.")
    height = filled(smooth.values)
    cells = rule.spacing_m / smooth.cell_m
    near, far = (gaussian_filter(height, k * cells, mode="nearest") for k in RIDGE_SPACINGS)
    relief = near - far
    typical = np.median(np.hypot(*np.gradient(relief, smooth.cell_m)))
    toward_ridge = Slopes.of(smooth.with_values(relief / max(typical, 1e-12)))
    return Fall(rule.target_grade_pct / 100, outlet if rule.fall_toward == "outlet" else None, toward_ridge)


def row_limits(rule: RowRule, lattice: Lattice, fall: Fall | None) -> Limits:
    """Read what rows may do on a lattice; with a wanted fall they aim to keep near it, and never to run back."""
    most = rule.max_grade_pct / 100
    if fall is None:
        return Limits(rule.spacing_tolerance, -most, most)
    up = lattice.uphill
    aim = fall.aim(lattice.centre, np.column_stack([up[:, 1], -up[:, 0]]))
    return Limits(rule.spacing_tolerance, *fall.near(aim, most, FIELD_SHARE))


def inside(limits: Limits, tolerance_share: float, grade_share: float) -> Limits:
    """Return narrower limits."""
    middle, half = (limits.low + limits.high) / 2, grade_share * limits.half
    return Limits(limits.tolerance * tolerance_share, middle - half, middle + half)


def wanted_uphill(lattice: Lattice, fall: Fall | None) -> Floats:
    """Directions, shape (T, 2), that rows are square to where they have the wanted fall: uphill, for level rows.

    A row at angle asin(g / S) to the contour of ground of slope S has grade g; where the ground is flatter than the
    wanted grade the row runs straight down it.
    """
    up = lattice.uphill
    if fall is None:
        return up
    along = np.column_stack([up[:, 1], -up[:, 0]])
    wanted = fall.aim(lattice.centre, along)
    turn = np.arcsin(np.clip(wanted / np.maximum(lattice.slope, 1e-9), -1.0, 1.0))
    cos, sin = np.cos(turn)[:, None], np.sin(turn)[:, None]
    turned: Floats = cos * up - sin * along
    return turned
