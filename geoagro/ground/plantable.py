"""Split the field once: ground that may be planted, and the rest with the reason."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from contourpy import FillType, contour_generator
from pyproj import CRS
from rasterio import Affine
from rasterio.features import shapes
from shapely import MultiPolygon, Polygon, box
from shapely.geometry import shape
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Shapes
from geoagro.errors import LayoutError
from geoagro.planar.margins import near_outline
from geoagro.values.design import GroundRule
from geoagro.values.grid import Grid
from geoagro.values.ground import UNPLANTED, Ground
from geoagro.values.reasons import reason_of
from geoagro.values.site import Site
from geoagro.values.terrain import Drainage, Terrain

QUAD_SEGS = 16
STEEP_SPECK_M2 = 25.0
"""Steep patches and gentle islands in them smaller than this follow their surroundings (5 m x 5 m)."""
SMALLEST_M2 = 0.01


def plantable_ground(
    site: Site,
    terrain: Terrain,
    rule: GroundRule,
    *,
    drainage: Drainage | None = None,
    bare: Mapping[str, Any] | None = None,
) -> Ground:
    """Take from the field, in this order, what isn't planted; each piece goes to the first reason it meets.

    1. exclusion, 2. track, then the drawn zones `bare` of rows by their own reason, 3. setback along the boundary and its holes (metres, round at corners),
    4. too_steep (smoothed slope above `max_slope_pct`; specks below 25 m2 dropped), 5. no_elevation,
    6. drainage (strips along lines where water gathers, where asked for), 7. small_part (what is left in parts below `min_part_m2`).

    Returns
    -------
    Ground
        Plantable and unplanted parts don't overlap and add up to the boundary; working CRS; largest parts
        first within each reason.

    Raises
    ------
    LayoutError
        Where nothing is left, saying what took how much.
    """
    remaining: Any = site.boundary
    taken: dict[str, Any] = {}
    for reason, area in (
        ("exclusion", _drawn(site, "exclusion")),
        ("track", _drawn(site, "track")),
        *(bare or {}).items(),
        ("setback", _setback(site.boundary, rule.setback_m)),
        ("too_steep", steep_ground(terrain.slope, rule.max_slope_pct / 100)),
        ("no_elevation", _unknown_ground(terrain.slope, site.boundary)),
        ("drainage", drainage.strips if drainage else Polygon()),
    ):
        if not area.is_empty:
            taken[reason] = _polygons(remaining.intersection(area))
            remaining = remaining.difference(area)
    parts = _polygons(remaining)
    large = shapely.area(parts) >= max(rule.min_part_m2, SMALLEST_M2)
    taken["small_part"] = parts[~large]
    if not large.any():
        raise LayoutError(_nothing_left(site, taken))
    plantable = MultiPolygon(list(_largest_first(parts[large])))
    return Ground(site.boundary, plantable, _layer(taken, site.crs), drainage.findings if drainage else ())


def steep_ground(slope: Grid, limit: float, *, speck_m2: float = STEEP_SPECK_M2) -> BaseGeometry:
    """Outline the ground steeper than a limit (ratio), read between the cell centres.

    Patches smaller than `speck_m2` are dropped and gentle islands smaller than that are filled, since a tree
    row can't do anything with either.
    """
    known = slope.values[np.isfinite(slope.values)]
    if len(known) == 0 or known.max() <= limit:
        return Polygon()
    generator = contour_generator(slope.x, slope.y, slope.values, fill_type=FillType.OuterOffset)
    filled: Any = generator.filled(limit, float(known.max()) + 1.0)
    rings = [[xy[a:b] for a, b in pairwise(offsets)] for xy, offsets in zip(*filled, strict=True)]
    patches = [Polygon(outer, inner) for outer, *inner in rings]
    whole = _polygons(shapely.union_all(shapely.make_valid(np.array(patches, dtype=object))))
    kept = [_without_islands(p, speck_m2) for p in whole if p.area >= speck_m2]
    return shapely.union_all(kept) if kept else Polygon()


def _without_islands(patch: Polygon, smallest_m2: float) -> Polygon:
    return Polygon(patch.exterior, [ring for ring in patch.interiors if Polygon(ring).area >= smallest_m2])


def _drawn(site: Site, kind: str) -> BaseGeometry:
    return shapely.union_all([e.area for e in site.exclusions if e.kind == kind])


def _setback(boundary: MultiPolygon, setback_m: float) -> BaseGeometry:
    if setback_m == 0:
        return Polygon()
    return near_outline(boundary, setback_m, quad_segs=QUAD_SEGS)


def _unknown_ground(slope: Grid, boundary: MultiPolygon) -> BaseGeometry:
    """Cells of the field without a slope, and the field past the edge of the grid."""
    known = box(*slope.bounds)
    beyond = Polygon() if known.contains(box(*boundary.bounds)) else boundary.difference(known)
    unknown = np.isnan(slope.values)
    if not unknown.any():
        return beyond
    transform = Affine(slope.cell_m, 0.0, slope.west, 0.0, -slope.cell_m, slope.north)
    cells = shapes(unknown.astype(np.uint8), mask=unknown, transform=transform)
    return shapely.union_all([beyond, *(shape(outline) for outline, _ in cells)])


def _polygons(area: BaseGeometry) -> Shapes:
    """Single polygons of any geometry; lines and points left where areas touch are dropped."""
    parts = shapely.get_parts(np.atleast_1d(np.array(area, dtype=object)))
    parts = shapely.get_parts(parts)
    ground: Shapes = parts[(shapely.get_type_id(parts) == 3) & (shapely.area(parts) > 0)]
    return ground


def _largest_first(parts: Shapes) -> Shapes:
    west, south, _, _ = shapely.bounds(parts).T
    return parts[np.lexsort((south, west, -shapely.area(parts)))]


def _layer(taken: dict[str, Shapes], crs: CRS) -> gpd.GeoDataFrame:
    ordered = [(reason, part) for reason, parts in taken.items() if len(parts) for part in _largest_first(parts)]
    columns = {"reason": [r for r, _ in ordered], "area_m2": [p.area for _, p in ordered]}
    return UNPLANTED.frame(columns, geometry=[p for _, p in ordered], crs=crs)


def _nothing_left(site: Site, taken: dict[str, Any]) -> str:
    areas = {reason: float(shapely.area(parts).sum()) for reason, parts in taken.items()}
    worst = sorted((r for r in areas if areas[r] > 0), key=lambda r: -areas[r])
    shares = ", ".join(f"{r} {areas[r]:.0f} m²" for r in worst)
    return (
        f"Nothing is left to plant in field '{site.name}' ({site.boundary.area:.0f} m²): {shares}. "
        f"To leave ground: {'; '.join(reason_of(r).remedy for r in worst)}."
    )
