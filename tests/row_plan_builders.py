"""A set of rows with everything that stands around it, on ground with a known answer."""

from __future__ import annotations

import dataclasses

import geopandas as gpd
import numpy as np
from builders import EAST, NORTH, UTM, plane, square_ground, square_site, straight_rows
from shapely import LineString, MultiPolygon, box

from geoagro.ground.leftover import ground_without_rows
from geoagro.ground.limit_costs import limit_costs
from geoagro.rows.quality_table import row_quality
from geoagro.rows.records.plan import RowPlan
from geoagro.terrain.contours import contour_lines
from geoagro.terrain.difficulty import terrain_difficulty
from geoagro.terrain.difficulty_zones import difficulty_zones
from geoagro.terrain.slope import slope_and_aspect
from geoagro.values.design import Design
from geoagro.values.grid import Grid
from geoagro.values.terrain import Terrain

FIELD = MultiPolygon([box(EAST - 40, NORTH - 40, EAST + 40, NORTH + 40)])
LIMITS = {"spacing_m": 4.5, "spacing_tolerance_pct": 10.0, "max_grade_pct": 4.0}


def saddle(steepness: float) -> Terrain:
    """z = steepness * x * y, 100 m wide around (EAST, NORTH): gentle ones run out of spacing, steep ones of grade."""
    grid = Grid(np.zeros((100, 100)), EAST - 50, NORTH + 50, 1.0, UTM)
    x, y = np.meshgrid(grid.x - EAST, grid.y - NORTH)
    heights = grid.with_values(100 + steepness * x * y)
    slope, aspect = slope_and_aspect(heights)
    return Terrain(slope, aspect, heights, heights, 0.0, "built by a test", heights)


def cut_pieces(**lines):
    return gpd.GeoDataFrame({"reason": list(lines)}, geometry=list(lines.values()), crs=UTM)


def design(**rows) -> Design:
    return Design.model_validate(
        {"name": "invented", "inputs": {"boundary": {"file": "a.gpkg"}, "elevation": {"file": "b.tif"}}, "rows": rows}
    )


def row_plan(size_m: float = 60.0, *, terrain: Terrain | None = None, name: str = "Invented field") -> RowPlan:
    """Level rows on a plane, with one piece cut for its grade along the southern edge."""
    asked = design()
    ground, rows = square_ground(size_m), straight_rows(size_m=size_m)
    lowest = rows.frame.geometry.iloc[-1].coords[0][1]
    cut = cut_pieces(grade_limit=LineString([(EAST, lowest - 3), (EAST + 20, lowest - 3)]))
    rows = dataclasses.replace(rows, cut=cut)
    land = terrain or plane(size_m=size_m)
    unplanted = ground_without_rows(ground, list(rows.frame.geometry), cut, spacing_m=4.5, tolerance=0.1)
    hard = terrain_difficulty(land, ground.plantable, **LIMITS)
    return RowPlan(
        design=asked,
        site=dataclasses.replace(square_site(size_m), name=name),
        terrain=land,
        ground=ground,
        rows=rows,
        unplanted=unplanted,
        quality=row_quality(rows, ground.plantable, land, asked.rows),
        costs=limit_costs(ground, unplanted, asked),
        contours=contour_lines(land, ground.boundary, 1.0),
        difficulty=hard,
        zones=difficulty_zones(hard, ground.plantable, spacing_m=4.5),
    )
