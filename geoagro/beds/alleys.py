"""What lies beside every row: cells along it, the facing row, the edge of the plantable ground."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from geoagro.arrays import Bools, Floats, Ints, Shapes
from geoagro.beds.widths import Widths
from geoagro.planar.polylines import Polylines, merge_short_steps
from geoagro.planar.segments import EVERYWHERE_SHORT_M, Segments, segments_of
from geoagro.planar.strips import Stretches

FACING_REACH = 2.2  # times the spacing: farther off, a row doesn't face another across one alley
STEP_M = 1.0  # longest cell; the ends of beds are found to a few centimetres inside a cell
SIMPLIFY_M = 0.002  # vertices of a row that say less than this are left out
SHORTEST_STEP_M = 0.3  # a bend between closer vertices would fold the parallels on its inner side
TOUCH_M = 1e-6  # ground that touches the plantable edge counts as inside


@dataclass(frozen=True, eq=False)
class Alleys:
    """The rows with all that is asked about the ground beside them.

    Attributes
    ----------
    shapes
        The rows as LineStrings, numbered from 0 in the order of the frame, without needless vertices.
    lines
        The same, for work beside them.
    rows, edge
        Segments of the rows and of the outline of the plantable ground.
    plantable
        Plantable ground, a micrometre wider, prepared.
    """

    shapes: Shapes
    lines: Polylines
    rows: Segments
    edge: Segments
    plantable: Polygon
    widths: Widths
    spacing_m: float


@dataclass(frozen=True, eq=False)
class Side:
    """One side (1 up, -1 down) of every row, cut into cells.

    Attributes
    ----------
    cells
        Stretches without a vertex inside, in order.
    facing
        Per cell: number of the row across the alley, -1 where none is in reach or the plantable ground
        ends first.
    across
        Per cell: distance to the row across, at the nearer end of the cell; inf where none is in reach.
    line, station
        The breaks between cells: row and station, in order.
    middle
        Per break: offset halfway to the next row, or to another part of the same row; inf where none is in reach.
    """

    sign: int
    cells: Stretches
    facing: Ints
    across: Floats
    line: Ints
    station: Floats
    middle: Floats


def alleys(rows: Shapes, plantable: MultiPolygon, widths: Widths, spacing_m: float) -> Alleys:
    """Prepare rows (an array of LineStrings) and the plantable ground for questions."""
    shapes = _plain(rows)
    wide = shapely.buffer(plantable, TOUCH_M, join_style="mitre")
    shapely.prepare(wide)
    outline = shapely.get_rings(shapely.get_parts(plantable))
    lines = Polylines.read(shapes, apart_m=TOUCH_M)
    near, edge = (segments_of(some, longest_m=EVERYWHERE_SHORT_M) for some in (shapes, outline))
    return Alleys(shapes, lines, near, edge, wide, widths, spacing_m)


def carries_beds(rows: gpd.GeoSeries | Shapes) -> Bools:
    """Tell rows that are long enough, once drawn as simply as beds need, to have a way to go."""
    enough: Bools = shapely.length(_plain(rows)) > SHORTEST_STEP_M
    return enough


def _plain(rows: gpd.GeoSeries | Shapes) -> Shapes:
    return merge_short_steps(shapely.simplify(np.asarray(rows, dtype=object), SIMPLIFY_M), SHORTEST_STEP_M)


def side_of(ground: Alleys, sign: int, step_m: float) -> Side:
    """Cut one side of every row into cells and look across the alley at each break."""
    lines = ground.lines
    line, s = lines.breaks(step_m)
    point, mitre = lines.footing(line, s)
    reach = FACING_REACH * ground.spacing_m
    near = ground.widths.tree / 10
    hit = ground.rows.first_hit(point, sign * mitre, near, reach)
    free = ground.edge.first_hit(point, sign * mitre, near, reach)
    faces = np.where((hit.distance < free.distance) & (hit.line != line), hit.line, -1)
    inside = line[1:] == line[:-1]
    cells = Stretches(line[:-1][inside], s[:-1][inside], s[1:][inside])
    here, there = faces[:-1][inside], faces[1:][inside]
    facing = np.where((here >= 0) & (there >= 0), here, -1)
    across = hit.distance * np.hypot(*mitre.T)
    across = np.minimum(across[:-1], across[1:])[inside]
    return Side(sign, cells, facing, across, line, s, hit.distance / 2)
