"""The two ways of laying rows that the row engine is measured against; kept out of the package on purpose.

1. `parallel_baseline`: the manual method, one key contour and exact parallels of it.
2. `contour_baseline`: strict contours, set one by one where there is room (Jobard and Lefer 1997).

Run by hand on a raster and a layer of fields: python scripts/baseline_rows.py RASTER FIELDS
"""

from __future__ import annotations

import sys
import time
from collections import deque
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import rasterio
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon

from geoagro.ground.plantable import plantable_ground
from geoagro.rows.parallel import parallel_rows
from geoagro.terrain.build import build_terrain
from geoagro.terrain.contours import lines_at
from geoagro.terrain.slope import gradient
from geoagro.terrain.window import cells_in
from geoagro.values.design import GroundRule
from geoagro.values.grid import Grid
from geoagro.values.site import Site
from geoagro.values.terrain import GroundSource, Terrain

Points = NDArray[np.floating[Any]]
TEST_SHARE = 0.9
STEP_SHARE = 0.2
KEY_STEP_M = 0.3


def key_contour(plantable: MultiPolygon, surface: Grid) -> LineString:
    """Return the longest contour line of the field's middle heights, its grid steps straightened (0.3 m).

    The middle heights are those that 40, 50 and 60 % of the ground lie below: a person would not start from
    a line that cuts a corner of the field only because it lies at the exact middle.
    """
    heights = np.nanpercentile(surface.values[cells_in(surface, plantable)], [40, 50, 60])
    lines = np.array([line for height in heights for line in lines_at(surface, float(height))], dtype=object)
    inside = shapely.intersection(lines, plantable.buffer(surface.cell_m))
    parts = shapely.get_parts(shapely.line_merge(inside))
    return max(parts, key=lambda part: part.length).simplify(KEY_STEP_M)


def parallel_baseline(
    plantable: MultiPolygon, terrain: Terrain, spacing_m: float, min_row_length_m: float
) -> list[LineString]:
    """Lay exact parallels of one key contour, whatever their grade and however they turn."""
    _, surface = terrain.need_heights("The parallel baseline")
    key = key_contour(plantable, surface)
    return parallel_rows(plantable, [key], spacing_m=spacing_m, min_length_m=min_row_length_m).kept


def contour_baseline(
    plantable: MultiPolygon, terrain: Terrain, spacing_m: float, min_row_length_m: float
) -> list[LineString]:
    """Lay level rows no nearer than 0.9 of the spacing, one by one, from the key contour outwards.

    Jobard, B. and Lefer, W. 1997, "Creating evenly-spaced streamlines of arbitrary density", Visualization in
    Scientific Computing '97: 43-55. d_sep is the spacing, d_test 0.9 of it; candidates stand d_sep to the
    left and right of each point of a finished row; the first row starts on the key contour.
    """
    _, surface = terrain.need_heights("The contour baseline")
    rows = _Rows(plantable, surface, spacing_m)
    start = key_contour(plantable, surface).interpolate(0.5, normalized=True)
    waiting = deque(rows.grow(np.array(start.coords[0])))
    while waiting:
        waiting.extend(rows.grow(waiting.popleft()))
    # ground that no candidate reached (behind a pit, a hole, in another part) gets its own first row
    for seed in _lattice(plantable, spacing_m):
        waiting.extend(rows.grow(seed))
        while waiting:
            waiting.extend(rows.grow(waiting.popleft()))
    lines = [LineString(points) for points in rows.finished if len(points) > 1]
    return [line.simplify(0.02) for line in lines if line.length >= min_row_length_m]


class _Rows:
    """Rows laid so far, with their points in square bins as wide as the spacing."""

    def __init__(self, plantable: MultiPolygon, surface: Grid, spacing_m: float) -> None:
        self.plantable = plantable
        self.spacing, self.step = spacing_m, STEP_SHARE * spacing_m
        p, q = gradient(surface)
        self.p, self.q = surface.with_values(p), surface.with_values(q)
        west, south, east, north = plantable.bounds
        self.corner = np.array([west, south]) - 2 * spacing_m
        shape = np.ceil((np.array([east, north]) - self.corner) / spacing_m).astype(int) + 3
        self.bins: list[list[list[tuple[float, float]]]] = [[[] for _ in range(shape[1])] for _ in range(shape[0])]
        self.finished: list[Points] = []
        self.table = _DirectionTable(surface, p, q, plantable)

    def near(self, x: float, y: float, limit: float) -> bool:
        """Tell whether a laid point is nearer than `limit` (at most the spacing)."""
        i, j = int((x - self.corner[0]) / self.spacing), int((y - self.corner[1]) / self.spacing)
        square = limit * limit
        for a in (i - 1, i, i + 1):
            for b in (j - 1, j, j + 1):
                for u, v in self.bins[a][b]:
                    if (u - x) * (u - x) + (v - y) * (v - y) < square:
                        return True
        return False

    def grow(self, seed: Points) -> list[Points]:
        """Lay a row through a seed if there is room; return the candidates beside it."""
        x, y = float(seed[0]), float(seed[1])
        if not self.table.inside(x, y) or self.near(x, y, self.spacing * (1 - 1e-6)):
            return []
        ahead, closed = self._trace(x, y, 1.0)
        behind = [] if closed else self._trace(x, y, -1.0)[0]
        points = np.array([*behind[::-1], (x, y), *ahead])
        for u, v in points:
            i, j = ((np.array([u, v]) - self.corner) / self.spacing).astype(int)
            self.bins[i][j].append((float(u), float(v)))
        self.finished.append(points)
        return self._beside(points)

    def _trace(self, x: float, y: float, sense: float) -> tuple[list[tuple[float, float]], bool]:
        """Follow the contour with midpoint steps until room, field or direction ends; True if it closes."""
        out: list[tuple[float, float]] = []
        x0, y0, h = x, y, self.step * sense
        last = None
        for _ in range(20_000):
            t = self.table.along(x, y)
            if t is None:
                break
            m = self.table.along(x + 0.5 * h * t[0], y + 0.5 * h * t[1])
            if m is None or (last is not None and m[0] * last[0] + m[1] * last[1] < 0.5):
                break
            last = m
            x, y = x + h * m[0], y + h * m[1]
            if not self.table.inside(x, y) or self.near(x, y, TEST_SHARE * self.spacing):
                break
            # its own last steps are near by nature; what lies further back along the row must not be
            if _returns((x, y), [(x0, y0), *out][: -int(4 / STEP_SHARE)], TEST_SHARE * self.spacing):
                return out, True
            out.append((x, y))
        return out, False

    def _beside(self, points: Points) -> list[Points]:
        if len(points) < 2:
            return []
        t = np.gradient(points, axis=0)
        length = np.hypot(*t.T)
        ok = length > 0
        left = np.column_stack([-t[ok, 1], t[ok, 0]]) / length[ok, None] * self.spacing
        both = np.stack([points[ok] + left, points[ok] - left], axis=1).reshape(-1, 2)
        return list(both)


def _returns(here: tuple[float, float], earlier: list[tuple[float, float]], limit: float) -> bool:
    """Tell whether a line comes back to its own earlier course."""
    if not earlier:
        return False
    d = np.asarray(earlier) - here
    return bool((d * d).sum(axis=1).min() < limit * limit)


class _DirectionTable:
    """The contour's direction (upslope on the left) and the field, read point by point and fast."""

    def __init__(self, surface: Grid, p: Points, q: Points, plantable: MultiPolygon) -> None:
        self.west, self.north, self.cell = surface.west, surface.north, surface.cell_m
        self.p, self.q = p.tolist(), q.tolist()
        self.rows, self.columns = p.shape
        # the field on cells of 0.25 m, so that no polygon is asked at every step
        self.fine = 0.25
        west, south, east, north = plantable.bounds
        self.fx, self.fy = west, north
        shape = (int((north - south) / self.fine) + 2, int((east - west) / self.fine) + 2)
        self.field = cells_in(Grid(np.zeros(shape), west, north, self.fine, surface.crs), plantable)

    def inside(self, x: float, y: float) -> bool:
        i, j = int((self.fy - y) / self.fine), int((x - self.fx) / self.fine)
        if x < self.fx or y > self.fy or i >= self.field.shape[0] or j >= self.field.shape[1]:
            return False
        return bool(self.field[i, j])

    def along(self, x: float, y: float) -> tuple[float, float] | None:
        """Return the unit vector along the contour; None where level or unknown."""
        r, c = (self.north - y) / self.cell - 0.5, (x - self.west) / self.cell - 0.5
        i, j = int(r), int(c)
        if not (0 <= i < self.rows - 1 and 0 <= j < self.columns - 1):
            return None
        v, u = r - i, c - j

        def read(a: list[list[float]]) -> float:
            top = a[i][j] * (1 - u) + a[i][j + 1] * u
            return top * (1 - v) + (a[i + 1][j] * (1 - u) + a[i + 1][j + 1] * u) * v

        p, q = read(self.p), read(self.q)
        steep = float(np.hypot(p, q))
        if not steep > 1e-9:
            return None
        return q / steep, -p / steep


def _lattice(plantable: MultiPolygon, spacing_m: float) -> list[Points]:
    west, south, east, north = plantable.bounds
    x, y = np.meshgrid(np.arange(west, east, spacing_m), np.arange(south, north, spacing_m))
    points = np.column_stack([x.ravel(), y.ravel()])
    shapely.prepare(plantable)
    return list(points[shapely.contains_xy(plantable, points[:, 0], points[:, 1])])


def _read(raster: Path) -> Grid:
    with rasterio.open(raster) as source:
        values = source.read(1, masked=True).filled(np.nan).astype(float)
        t = source.transform
        return Grid(values, t.c, t.f, t.a, source.crs)


def main(raster: Path, fields: Path, *, spacing_m: float = 4.5, min_row_length_m: float = 20.0) -> None:
    """Print rows, planted share and time of both baselines on each field."""
    grid = _read(raster)
    for field in gpd.read_file(fields).itertuples():
        boundary = field.geometry if isinstance(field.geometry, MultiPolygon) else MultiPolygon([field.geometry])
        source = GroundSource(grid, None, None, None, raster.name)
        terrain = build_terrain(source, boundary, spacing_m=spacing_m)
        site = Site(field.name, boundary, (), (), grid.crs)
        plantable = plantable_ground(site, terrain, GroundRule()).plantable
        for lay in (parallel_baseline, contour_baseline):
            start = time.perf_counter()
            rows = lay(plantable, terrain, spacing_m, min_row_length_m)
            seconds = time.perf_counter() - start
            length = sum(row.length for row in rows)
            print(
                f"{raster.stem} {field.name} {lay.__name__}: {len(rows)} rows, mean {length / max(len(rows), 1):.0f} m, "
                f"covered {length * spacing_m / plantable.area:.3f}, {seconds:.1f} s"
            )


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
