"""Ground with a known shape, for tests of the rows."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from builders import EAST, NORTH, UTM
from scipy.ndimage import gaussian_filter
from shapely import MultiPolygon, Polygon, box

from geoagro.arrays import Floats
from geoagro.rows.contour import contour_rows
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid
from geoagro.values.ground import UNPLANTED, Ground
from geoagro.values.rows import Lines
from geoagro.values.terrain import Terrain

Height = Callable[[Floats, Floats], Floats]
"""Height at (x, y), metres east and north of the middle of the field."""


def surface(height: Height, *, size_m: float = 90.0, cell_m: float = 1.0, margin_m: float = 20.0) -> Grid:
    """Heights around a square field whose middle is (EAST, NORTH)."""
    n = round((size_m + 2 * margin_m) / cell_m)
    half = n * cell_m / 2
    grid = Grid(np.zeros((n, n)), EAST - half, NORTH + half, cell_m, UTM)
    x, y = np.meshgrid(grid.x - EAST, grid.y - NORTH)
    return grid.with_values(np.asarray(height(x, y), dtype=float))


def square(size_m: float = 90.0) -> MultiPolygon:
    """Square field around (EAST, NORTH)."""
    half = size_m / 2
    return MultiPolygon([box(EAST - half, NORTH - half, EAST + half, NORTH + half)])


def rectangle(width_m: float, height_m: float) -> MultiPolygon:
    """Field longer one way than the other, around (EAST, NORTH)."""
    return MultiPolygon([box(EAST - width_m / 2, NORTH - height_m / 2, EAST + width_m / 2, NORTH + height_m / 2)])


def irregular() -> MultiPolygon:
    """Field without any symmetry, about 80 m across, around (EAST, NORTH)."""
    xy = [(-40, -38), (12, -42), (41, -20), (36, 30), (2, 41), (-30, 33)]
    return MultiPolygon([Polygon([(EAST + x, NORTH + y) for x, y in xy])])


def terrain_of(heights: Grid, *, smoothing_m: float = 0.0) -> Terrain:
    """Terrain whose surfaces are the heights themselves, or smoothed."""
    smooth = (
        heights.with_values(gaussian_filter(heights.values, smoothing_m / heights.cell_m)) if smoothing_m else heights
    )
    south, east = np.gradient(smooth.values, heights.cell_m)
    aspect = np.degrees(np.arctan2(-east, south)) % 360
    return Terrain(
        slope=heights.with_values(np.hypot(east, south)),
        aspect_deg=heights.with_values(aspect),
        heights=heights,
        smooth=smooth,
        smoothing_m=smoothing_m,
        height_source="a surface given by a formula",
        judged=heights,
    )


def all_of(field: MultiPolygon) -> Ground:
    """Every square metre of the field is plantable."""
    return Ground(field, field, UNPLANTED.empty(UTM))


def plane(x: Floats, y: Floats, *, slope: float = 0.08, uphill_deg: float = 0.0) -> Floats:
    """Plane that rises toward a bearing."""
    u = np.radians(uphill_deg)
    return 100 + slope * (x * np.sin(u) + y * np.cos(u))


def flat(x: Floats, y: Floats) -> Floats:
    """Level ground."""
    return np.full(np.shape(x), 100.0)


def cone(x: Floats, y: Floats, *, slope: float = 0.10) -> Floats:
    """Cone with its tip in the middle."""
    return 100 - slope * np.hypot(x, y)


def dome(x: Floats, y: Floats, *, radius_m: float = 250.0) -> Floats:
    """Cap of a sphere."""
    return 100 - radius_m + np.sqrt(radius_m**2 - x**2 - y**2)


def saddle(x: Floats, y: Floats, *, scale_m: float = 500.0) -> Floats:
    """Saddle with its pass in the middle."""
    return 100 + (x**2 - y**2) / scale_m


def ridge(x: Floats, y: Floats, *, side: float = 0.08, fall: float = 0.06, crest_m: float = 8.0) -> Floats:
    """Rounded ridge that falls to the south."""
    return 100 - side * (np.sqrt(x**2 + crest_m**2) - crest_m) + fall * y


def gully(x: Floats, y: Floats, *, side: float = 0.10, fall: float = 0.06) -> Floats:
    """V-shaped valley that falls to the south."""
    return 100 + side * np.abs(x) + fall * y


def slanted_plane(x: Floats, y: Floats) -> Floats:
    """Plane that rises toward no axis."""
    return plane(x, y, uphill_deg=33.0)


SIZE_M = 90.0


@cache
def ground_of(shape: Height) -> Grid:
    """Surface of a shape around the square field of SIZE_M."""
    return surface(shape, size_m=SIZE_M)


@cache
def laid_on(shape: Height) -> Lines:
    """Contour rows by the default rule on a shape, laid once for all tests."""
    return contour_rows(square(SIZE_M), ground_of(shape), ground_of(shape), RowRule())


def rolling(x: Floats, y: Floats) -> Floats:
    """Slope of about 7 % with swells, without any symmetry."""
    return 100 + 0.07 * y + 0.02 * x + 0.9 * np.sin(x / 21 + 0.4) * np.cos(y / 27 - 0.3)


def broken(x: Floats, y: Floats) -> Floats:
    """Swells so steep that rows can't be both level and evenly spaced."""
    return 100 + 0.07 * y + 0.02 * x + 2.0 * np.sin(x / 17 + 0.4) * np.cos(y / 21 - 0.3)


def turned(shape: Height, angle_deg: float) -> Height:
    """The same ground turned counter-clockwise about the middle."""
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return lambda x, y: shape(c * x + s * y, -s * x + c * y)
