"""Beds of zones with widths or a spacing of their own: each zone is laid by itself, and half a path is left at its edge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import MultiPolygon

from geoagro.arrays import Floats
from geoagro.beds.layout import lay_beds
from geoagro.beds.names import bed_names, path_names, tree_names
from geoagro.errors import LayoutError
from geoagro.values.beds import AlleyRoom, BedPart, Beds
from geoagro.values.design import BedRule
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import TreeRows

_SHARE_STEP_M = 0.5
"""Rows are taken every so far to tell whose ground is whose: the middle between two rows is then good to a centimetre."""
_EDGE_M = 0.01


@dataclass(frozen=True, eq=False)
class BedZone:
    """A zone whose beds are laid by a rule of its own.

    Attributes
    ----------
    ground
        Drawn ground, working CRS; None where rows alone say where it is.
    rows
        Numbers of its rows; None where all rows on its ground are meant.
    """

    name: str
    rule: BedRule
    spacing_m: float
    ground: Any | None = None
    rows: frozenset[int] | None = None


def lay_zoned_beds(
    rows: TreeRows, plantable: MultiPolygon, rule: BedRule, zones: Sequence[BedZone], *, progress: Progress = silent
) -> Beds:
    """Lay beds by each zone's own rule, and by `rule` elsewhere (see `lay_beds`).

    Where rows say where a zone is, it holds the ground that is nearer to them than to any other row. Along the edge
    between two zones each leaves half of its path. A row that crosses an edge has a tree bed in each zone.

    Raises LayoutError where tree beds of two rows would touch, naming the zone.
    """
    if not zones:
        return lay_beds(rows, plantable, rule, progress=progress)
    named = [*zones, BedZone("", rule, rows.spacing_m)]
    grounds = _grounds(rows, plantable, zones)
    laid = [_laid(zone, ground, rows, plantable, progress) for zone, ground in zip(named, grounds, strict=True)]
    return _together([beds for beds in laid if beds is not None], rows)


def _grounds(rows: TreeRows, plantable: MultiPolygon, zones: Sequence[BedZone]) -> list[MultiPolygon]:
    """Plantable ground of each zone less those before it, then what is left."""
    rest = plantable
    found = []
    for zone in zones:
        shape = rest if zone.ground is None else shapely.intersection(rest, zone.ground)
        if zone.rows is not None:
            shape = shapely.intersection(shape, _share_of(zone.rows, rows, plantable))
        found.append(_polygons(shape))
        rest = _polygons(shapely.difference(rest, shape))
    return [*found, rest]


def _share_of(numbers: frozenset[int], rows: TreeRows, plantable: MultiPolygon) -> Any:
    """Ground nearer to these rows than to any other."""
    lines = rows.frame.geometry.to_numpy()
    count = np.maximum(2, np.ceil(shapely.length(lines) / _SHARE_STEP_M).astype(np.int64) + 1)
    line = np.repeat(np.arange(len(lines)), count)
    share = np.concatenate([np.linspace(0, 1, n) for n in count])
    points = shapely.line_interpolate_point(lines[line], share, normalized=True)
    cells = shapely.get_parts(shapely.voronoi_polygons(shapely.multipoints(points), extend_to=plantable))
    cell, point = shapely.STRtree(points).query(cells, predicate="intersects")
    mine = np.isin(rows.frame["row"].to_numpy()[line], list(numbers))
    return shapely.simplify(shapely.union_all(cells[cell[mine[point]]]), _EDGE_M)


def _laid(
    zone: BedZone, ground: MultiPolygon, rows: TreeRows, plantable: MultiPolygon, progress: Progress
) -> Beds | None:
    own = _rows_on(ground, zone, rows)
    if ground.is_empty or len(own.frame) == 0:
        return None
    inner = shapely.difference(shapely.boundary(ground), shapely.buffer(shapely.boundary(plantable), _EDGE_M))
    for_beds = _polygons(shapely.difference(ground, shapely.buffer(inner, zone.rule.path_width_m / 2)))
    try:
        beds = lay_beds(own, for_beds, zone.rule, path_ground=ground, progress=progress)
    except LayoutError as error:
        raise LayoutError(f"zone '{zone.name}': {error}" if zone.name else str(error)) from error
    part = BedPart(zone.name, ground.area, float(beds.beds["area_m2"].sum()), zone.rule, zone.spacing_m, beds.room)
    return replace(beds, parts=(part,))


def _rows_on(ground: MultiPolygon, zone: BedZone, rows: TreeRows) -> TreeRows:
    """Pieces of rows that lie on a zone's ground, each with the columns of its row."""
    frame = rows.frame
    if zone.rows is not None:
        frame = frame[frame["row"].isin(list(zone.rows))]
    lines = frame.geometry.to_numpy()
    shapely.prepare(ground)
    inside = shapely.covers(ground, lines)
    cut = np.where(inside, lines, shapely.line_merge(shapely.intersection(lines, ground)))
    pieces, owner = shapely.get_parts(cut, return_index=True)
    some = (shapely.get_type_id(pieces) == 1) & (shapely.length(pieces) > _EDGE_M)
    found = gpd.GeoDataFrame(frame.iloc[owner[some]].drop(columns="geometry"), geometry=pieces[some], crs=frame.crs)
    return replace(rows, frame=found.reset_index(drop=True), spacing_m=zone.spacing_m)


def _polygons(shape: Any) -> MultiPolygon:
    return MultiPolygon([part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"])


def _together(laid: Sequence[Beds], rows: TreeRows) -> Beds:
    """One set of beds, in the order of their rows, with ids that count pieces over all zones."""
    lines = dict(zip(rows.frame["row"], rows.frame.geometry, strict=True))
    trees = _ordered(pd.concat([beds.tree_beds for beds in laid], ignore_index=True), lines, ())
    beds = pd.concat([beds.beds for beds in laid], ignore_index=True)
    beds = _ordered(beds.assign(down=beds["side"] == "down"), lines, ("down", "order"))
    paths = pd.concat([beds.paths for beds in laid], ignore_index=True)
    down = paths["path"].str.extract(r"-([UD])P")[0] == "D"
    paths = _ordered(paths.assign(down=down), lines, ("down",))
    sign = [np.where(frame["down"], -1, 1) for frame in (beds, paths)]
    trees["bed"] = tree_names(trees["row"].to_numpy())
    beds["bed"] = bed_names(beds["row"].to_numpy(), sign[0], beds["order"].to_numpy())
    paths["path"] = path_names(paths["row"].to_numpy(), sign[1])
    parts = tuple(part for one in laid for part in one.parts)
    room = _rooms([part.room for part in parts if part.room is not None])
    return Beds(trees, beds.drop(columns="down"), paths.drop(columns="down"), room, parts)


def _ordered(frame: Any, lines: Any, by: tuple[str, ...]) -> Any:
    """Order by row, then columns, then place along the row."""
    row = np.array([lines[number] for number in frame["row"]], dtype=object)
    along: Floats = shapely.line_locate_point(row, shapely.point_on_surface(frame.geometry.to_numpy()))
    keys = [along, *(frame[name].to_numpy() for name in reversed(by)), frame["row"].to_numpy()]
    return frame.iloc[np.lexsort(keys)].reset_index(drop=True)


def _rooms(rooms: Sequence[AlleyRoom]) -> AlleyRoom | None:
    if not rooms:
        return None
    columns = ("length_m", "distance_m", "is_first", "beds")
    return AlleyRoom(*(np.concatenate([getattr(room, name) for room in rooms]) for name in columns))
