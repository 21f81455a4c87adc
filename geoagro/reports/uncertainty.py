"""The table of what makes the field's area uncertain, and by how much."""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely
from shapely import MultiPolygon

from geoagro.arrays import Shapes
from geoagro.planar.area_error import PHONE_ERROR_M, propagated_sd
from geoagro.reports.areas import ground_areas
from geoagro.reports.boundary_error import simulated_sd
from geoagro.reports.records.account import UNCERTAINTY
from geoagro.values.grid import Grid
from geoagro.values.reasons import reason_of
from geoagro.values.report import LaidOut, ReportRule
from geoagro.values.terrain import Terrain
from geoagro.values.words import say

SURVEYS: tuple[tuple[str, float], ...] = (
    (say("boundary points, real-time kinematic receiver"), 0.02),
    (say("boundary points, differential receiver"), 0.4),
    (say("boundary points, receiver with satellite correction"), 1.0),
    (say("boundary points, phone under open sky"), PHONE_ERROR_M),
)
"""Typical standard deviation of a point in east and north each, metres.

Makers' data give 8 mm + 1 ppm and 0.25 to 0.40 m; satellite correction 1 to 2 m and a phone 4.9 m (95 %, so
4.9 / 2.45) by public positioning guides. Rounded up by us.
"""

POINTS = say("boundary points")
OUTWARD = say("boundary points, all off to the same side")
EDGE = say("cells on the edge of steep or unknown ground")
TWICE = say("sloping area with cells twice as large")

PROPAGATION = say("Error propagation: e/2 x root of the sum of squared distances between each vertex's neighbours.")
COVARIANCE = say("Error propagation with covariances that fall off along the boundary as exp(-distance/reach).")
SIMULATION = say("2,000 random boundaries, fixed seed: standard deviation of their areas.")
BOUND = say("Perimeter x error: an upper bound.")
EDGES = say("Cell area x root of (cells on the edge / 12): each edge cell is in or out as a whole.")
COARSER = say("Slope from heights averaged to cells twice as large: change of the sloping area.")

Row = tuple[str, float, float, float, str]
NONE = float("nan")


def uncertainty_table(laid: LaidOut, rule: ReportRule, terrain: Terrain | None) -> pd.DataFrame:
    """Table UNCERTAINTY: boundary points by formula and by simulation, a bound, and the cell size."""
    rows = [*_boundary(laid, rule), *(_cells(laid, terrain) if terrain else [])]
    cause, size, alike, sd, method = (list(column) for column in zip(*rows, strict=True))
    columns = {
        "cause": cause,
        "size_m": size,
        "alike_m": alike,
        "sd_m2": np.round(sd, 1),
        "sd_pct": np.round(np.array(sd) / laid.boundary.area * 100, 3),
        "method": method,
    }
    return UNCERTAINTY.frame(columns)


def boundary_sd(laid: LaidOut, rule: ReportRule) -> float:
    """Compute the standard deviation of the field's area from its boundary as the design states it, m2; NaN if it doesn't."""
    if rule.boundary_error_m is None:
        return NONE
    return round(_alike(laid.boundary, rule.boundary_error_m, rule.boundary_correlation_m), 1)


def _boundary(laid: LaidOut, rule: ReportRule) -> list[Row]:
    near = rule.boundary_correlation_m
    if rule.boundary_error_m is not None:
        return _stated(laid.boundary, rule.boundary_error_m, near)
    return [(cause, error, near, _alike(laid.boundary, error, near), COVARIANCE) for cause, error in SURVEYS]


def _alike(boundary: MultiPolygon, error: float, near: float) -> float:
    return propagated_sd(boundary, error, correlation_m=near)


def _stated(boundary: MultiPolygon, error: float, near: float) -> list[Row]:
    return [
        (POINTS, error, 0.0, propagated_sd(boundary, error), PROPAGATION),
        (POINTS, error, 0.0, simulated_sd(boundary, error), SIMULATION),
        (POINTS, error, near, _alike(boundary, error, near), COVARIANCE),
        (POINTS, error, near, simulated_sd(boundary, error, correlation_m=near), SIMULATION),
        (OUTWARD, error, NONE, error * boundary.length, BOUND),
    ]


def _cells(laid: LaidOut, terrain: Terrain) -> list[Row]:
    cell = terrain.slope.cell_m
    rows: list[Row] = []
    parts = laid.unplanted.geometry[laid.unplanted["reason"].map(lambda code: reason_of(code).from_cells).astype(bool)]
    if len(parts):
        rows.append((EDGE, cell, NONE, edge_sd(np.asarray(parts, dtype=object), cell), EDGES))
    if terrain.heights is not None:
        rows.append((TWICE, cell, NONE, abs(coarser_change_m2(laid.boundary, terrain.heights)), COARSER))
    return rows


def edge_sd(parts: Shapes, cell_m: float) -> float:
    """Estimate the standard deviation of an area that is counted in whole cells, m2 (own derivation).

    An outline of length P crosses about 4 P / (pi cell) cells; in each the share that is wrongly in or out
    is even between -1/2 and 1/2, with a variance of 1/12.
    """
    crossed = 4 * float(shapely.length(parts).sum()) / (np.pi * cell_m)
    return cell_m**2 * float(np.sqrt(crossed / 12))


def coarser_change_m2(boundary: MultiPolygon, heights: Grid) -> float:
    """Sloping area with cells twice as large less that with the cells as they are, m2; both by central differences."""
    fine, coarse = (
        ground_areas(np.array([boundary], dtype=object), _slope(grid))[0][0] for grid in (heights, _halved(heights))
    )
    return float(coarse - fine)


def _slope(heights: Grid) -> Grid:
    north, east = np.gradient(heights.values, heights.cell_m)
    return heights.with_values(np.hypot(north, east))


def _halved(heights: Grid) -> Grid:
    rows, columns = (size // 2 * 2 for size in heights.values.shape)
    blocks = heights.values[:rows, :columns].reshape(rows // 2, 2, columns // 2, 2)
    return Grid(blocks.mean(axis=(1, 3)), heights.west, heights.north, heights.cell_m * 2, heights.crs)
