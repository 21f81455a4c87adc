"""Lines along which water gathers on its way over the ground, and the rows that cross them."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely
from shapely import MultiPolygon

from geoagro.arrays import Ints
from geoagro.values.layers import LayerSpec
from geoagro.water.flow import Flow
from geoagro.water.records.tables import FLOW_CROSSINGS, FLOW_LINES
from geoagro.water.row_profiles import Profile

MARGIN_M = 30.0
"""Lines are drawn this far around the field, so that a reader sees where water comes from and goes to."""


def flow_lines(flow: Flow, boundary: MultiPolygon, *, least_m2: float) -> gpd.GeoDataFrame:
    """Lines through the cells that at least `least_m2` of ground drain through, in and around the field.

    From junction to junction, running downhill. Layer FLOW_LINES, numbered by the ground above their lower end.
    """
    wet = flow.area_m2.ravel() >= least_m2
    cells = np.flatnonzero(wet & (flow.onward >= 0) & (flow.onward != np.arange(len(wet))))
    onward = flow.onward[cells]
    steps = np.stack([flow.points_of(cells), flow.points_of(onward)], axis=1)
    pieces = shapely.linestrings(steps.reshape(-1, 2), indices=np.repeat(np.arange(len(steps)), 2))
    near = np.asarray(shapely.intersects(pieces, boundary.buffer(MARGIN_M)), dtype=bool)
    lines = _joined(cells[near], onward[near], flow)
    if not lines:
        return FLOW_LINES.empty(flow.surface.crs)
    drawn = [shapely.simplify(shapely.LineString(flow.points_of(line)), 0.75 * flow.surface.cell_m) for line in lines]
    area = np.array([flow.area_m2.ravel()[line[-2]] for line in lines])
    open_ = np.array([bool(flow.open_.ravel()[line[-2]]) for line in lines])
    order = np.argsort(-area, kind="stable")
    return FLOW_LINES.frame(
        {
            "line": np.arange(1, len(lines) + 1),
            "drains_m2": area[order],
            "length_m": shapely.length(np.array(drawn, dtype=object))[order],
            "beyond": open_[order],
        },
        geometry=[drawn[k] for k in order],
        crs=flow.surface.crs,
    )


def _joined(cells: Ints, onward: Ints, flow: Flow) -> list[Ints]:
    """Chains of cells from a spring or junction to the next junction."""
    if len(cells) == 0:
        return []
    into = np.zeros(flow.onward.size, dtype=np.int8)
    np.add.at(into, onward, 1)
    following = dict(zip(cells.tolist(), onward.tolist(), strict=True))
    chains = []
    for first in cells[(into[cells] != 1)].tolist():
        chain = [first]
        while (after := following.get(chain[-1])) is not None:
            chain.append(after)
            if into[after] != 1:
                break
        chains.append(np.array(chain, dtype=np.intp))
    return chains


def crossings(flow: Flow, lines: gpd.GeoDataFrame, profiles: list[Profile]) -> gpd.GeoDataFrame:
    """Places where a row crosses a flow line: layer FLOW_CROSSINGS, by row and station."""
    spec: LayerSpec = FLOW_CROSSINGS
    if len(lines) == 0 or not profiles:
        return spec.empty(flow.surface.crs)
    rows = np.array([shapely.LineString(profile.xy) for profile in profiles], dtype=object)
    drawn = lines.geometry.to_numpy()
    line, row = shapely.STRtree(rows).query(drawn, predicate="intersects")
    met = shapely.intersection(drawn[line], rows[row])
    points, which = shapely.get_parts(met, return_index=True)
    is_point = shapely.get_type_id(points) == 0
    points, which = points[is_point], which[is_point]
    station = shapely.line_locate_point(rows[row[which]], points)
    number = np.array([profiles[k].row for k in row[which]], dtype=np.int64)
    order = np.lexsort([station, number])
    return spec.frame(
        {
            "row": number[order],
            "station_m": station[order],
            "line": lines["line"].to_numpy()[line[which]][order],
            "drains_m2": lines["drains_m2"].to_numpy()[line[which]][order],
        },
        geometry=points[order],
        crs=flow.surface.crs,
    )
