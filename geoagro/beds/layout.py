"""Tree beds, vegetable beds and paths between tree rows."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from pyproj import CRS
from shapely import MultiPolygon

from geoagro.arrays import Floats, Shapes
from geoagro.beds.alleys import FACING_REACH, STEP_M, Alleys, Side, alleys, carries_beds, side_of
from geoagro.beds.filled import DrawnBeds
from geoagro.beds.fit import Pieces, bed_pieces, beside_bed, join_pieces
from geoagro.beds.names import bed_names, tree_names
from geoagro.beds.paths import path_frame
from geoagro.beds.tree_beds import tree_strips
from geoagro.beds.widths import Widths, of_each, working_widths
from geoagro.planar.cutting import SLIVER_M2, largest_parts, on_grid, trim_overlaps, within
from geoagro.planar.strips import midlines, strips
from geoagro.values.beds import BEDS, PATHS, TREE_BEDS, AlleyRoom, Beds
from geoagro.values.design import BedRule
from geoagro.values.layers import LayerSpec
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import TreeRows

_WORTH = 2.0  # times the shortest bed: this long, a bed is laid even where it only just fits


def lay_beds(
    rows: TreeRows,
    plantable: MultiPolygon,
    rule: BedRule,
    *,
    path_ground: MultiPolygon | None = None,
    progress: Progress = silent,
) -> Beds:
    """Lay a tree bed on each row, and vegetable beds and paths beside it.

    Bed edges lie at fixed distances from the bed's own row: half the tree bed, a path, a bed, a path, ...
    An alley gets as many whole beds as the distance at that place carries with a path on both sides of each;
    they are dealt to both rows, the odd one to the row with the lower number, and what is left over widens
    the path between the two rows' beds. Where no row faces, they are laid as far as the next row would stand. A
    bed lies only where its full width fits, and no shorter than `min_bed_length_m`; a short bed with less
    than 5 cm to spare is left out.

    Parameters
    ----------
    rows
        Rows in the working CRS, ordered by number.
    plantable
        Ground that beds and paths may take, in the same CRS.
    rule
        Working widths, metres.
    path_ground
        Ground that paths may take, where that is more than beds may.
    progress
        Told the share done.

    Returns
    -------
    Beds in the rows' CRS; with `geoagro.ground.leftover` they add up to the field.

    Raises
    ------
    LayoutError
        Where tree beds of two rows would touch.
    """
    rows = replace(rows, frame=rows.frame[carries_beds(rows.frame.geometry)].reset_index(drop=True))
    widths = working_widths(rule, rows.spacing_m)
    crs = rows.frame.crs
    if len(rows.frame) == 0:
        return Beds(_with_axis(TREE_BEDS.empty(crs), []), _with_axis(BEDS.empty(crs), []), PATHS.empty(crs))
    progress("measuring the alleys", 0.0)
    ground = alleys(rows.frame.geometry.to_numpy(), plantable, widths, rows.spacing_m)
    step = min(STEP_M, rule.min_bed_length_m / 2)
    sides = [side_of(ground, sign, step) for sign in (1, -1)]
    pieces = _pieces(ground, sides, rule, progress)
    progress("drawing the beds", 0.5)
    drawn, axes = _drawn(ground, pieces, plantable)
    progress("drawing the paths", 0.6)
    open_ground = plantable if path_ground is None else path_ground
    paths = path_frame(
        rows, ground, sides, pieces, drawn, plantable=plantable, open_ground=open_ground, progress=progress
    )
    progress("drawing the paths", 1.0)
    trees, beds = _tree_frame(rows, widths, drawn.trees), _bed_frame(rows, widths, pieces, drawn.beds, axes)
    return Beds(trees, beds, paths, _room(ground, sides, pieces))


def _room(ground: Alleys, sides: list[Side], pieces: Pieces) -> AlleyRoom:
    """Distances across alleys between two rows, and the beds there."""
    parts = []
    for side in sides:
        some = side.facing >= 0
        cells, across = side.cells.take(some), side.across[some]
        middle = (cells.begin + cells.end) / 2
        orders = range(1, pieces.order.max(initial=0) + 1)
        count = sum(beside_bed(ground.lines, pieces.only(side.sign, k), cells.line, middle) for k in orders)
        first = cells.line < side.facing[some]
        parts.append((cells.end - cells.begin, across, first, np.zeros(len(cells), dtype=np.int64) + count))
    return AlleyRoom(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def _pieces(ground: Alleys, sides: list[Side], rule: BedRule, progress: Progress) -> Pieces:
    """All pieces of bed worth laying, by row, side and order from the row."""
    most = ground.widths.from_one_side(FACING_REACH * ground.spacing_m)
    found: list[Pieces] = []
    for side in sides:
        for order in range(1, most + 1):
            progress("fitting the beds", 0.1 + 0.4 * len(found) / (2 * most))
            pieces = bed_pieces(ground, side, order)
            if len(pieces.stretch) == 0:
                break
            found.append(_worthwhile(ground, pieces, rule.min_bed_length_m))
    together = join_pieces(found)
    in_order = np.lexsort([together.stretch.begin, together.order, -together.sign, together.stretch.line])
    return together.take(in_order)


def _worthwhile(ground: Alleys, pieces: Pieces, shortest_m: float) -> Pieces:
    if len(pieces.stretch) == 0:
        return pieces
    length = shapely.length(midlines(ground.lines, pieces.stretch, _middle(ground.widths, pieces)))
    enough = length >= shortest_m - 1e-9
    return pieces.take(enough & (pieces.comfortable | (length >= _WORTH * shortest_m)))


def _middle(widths: Widths, pieces: Pieces) -> Floats:
    """Offset of the middle of each bed."""
    middle: Floats = pieces.sign * (of_each(widths.inner, pieces.order) + widths.bed / 2)
    return middle


def _drawn(ground: Alleys, pieces: Pieces, plantable: MultiPolygon) -> tuple[DrawnBeds, Shapes]:
    """Tree beds and beds, and the beds' axes; what numbers or odd rows let overlap is taken from the lesser bed."""
    widths = ground.widths
    if len(pieces.stretch):
        middle = _middle(widths, pieces)
        half = pieces.sign * widths.bed / 2
        beside = on_grid(strips(ground.lines, pieces.stretch, middle - half, middle + half))
        axes = midlines(ground.lines, pieces.stretch, middle)
    else:
        beside, axes = np.array([], dtype=object), np.array([], dtype=object)
    first, beside = beside, largest_parts(beside)
    around, plain = tree_strips(ground, pieces, beside)
    outside = ~shapely.covers(ground.plantable, around)
    cut = within(around[outside], plantable)
    around[outside] = largest_parts(cut)
    plain[outside] &= shapely.area(around[outside]) == shapely.area(cut)
    rank = np.concatenate([np.zeros(len(around)), pieces.order])
    deep_m = max(widths.tree, widths.bed) / 2
    shapes = trim_overlaps(np.concatenate([around, beside]), rank, deep_m=deep_m)
    whole = np.asarray(shapely.equals_exact(shapes, np.concatenate([around, first])))
    # rows by hand may double others, or stand off the plantable ground: some strips have no ground left
    shapes[shapely.area(shapes) < SLIVER_M2] = shapely.Polygon()
    n = len(around)
    return DrawnBeds(shapes[:n], whole[:n] & plain, shapes[n:], whole[n:]), axes


def _tree_frame(rows: TreeRows, widths: Widths, shapes: Shapes) -> Any:
    number = rows.frame["row"].to_numpy()
    axes = rows.frame.geometry.to_numpy()
    columns = {
        "bed": tree_names(number),
        "row": number,
        "width_m": np.full(len(number), widths.tree),
        "length_m": shapely.length(axes),
        "area_m2": shapely.area(shapes),
    }
    return _with_ground(TREE_BEDS, columns, shapes, axes, rows.frame.crs)


def _bed_frame(rows: TreeRows, widths: Widths, pieces: Pieces, shapes: Shapes, axes: Shapes) -> Any:
    number = rows.frame["row"].to_numpy()
    row = number[pieces.stretch.line]
    columns = {
        "bed": bed_names(row, pieces.sign, pieces.order),
        "row": row,
        "width_m": np.full(len(row), widths.bed),
        "length_m": shapely.length(axes),
        "area_m2": shapely.area(shapes),
        "side": np.where(pieces.sign > 0, "up", "down"),
        "order": pieces.order,
        "facing_row": np.where(pieces.facing >= 0, number[pieces.facing], 0),
    }
    return _with_ground(BEDS, columns, shapes, axes, rows.frame.crs)


def _with_ground(spec: LayerSpec, columns: dict[str, Any], shapes: Shapes, axes: Any, crs: CRS | None) -> Any:
    """Build the layer of the strips that have ground left."""
    some = ~shapely.is_empty(shapes)
    kept = {name: np.asarray(values)[some] for name, values in columns.items()}
    return _with_axis(spec.frame(kept, geometry=shapes[some], crs=crs), np.asarray(axes, dtype=object)[some])


def _with_axis(frame: gpd.GeoDataFrame, axes: Any) -> Any:
    return frame.assign(axis=gpd.GeoSeries(axes, index=frame.index, crs=frame.crs))
