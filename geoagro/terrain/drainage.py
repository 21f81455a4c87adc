"""Where water gathers on the ground: contributing area, and strips along the lines that carry much of it."""

from __future__ import annotations

import numpy as np
import shapely
from scipy import ndimage, sparse
from scipy.sparse.linalg import spsolve_triangular
from shapely import MultiPolygon

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.errors import LayoutError
from geoagro.terrain.window import averaged
from geoagro.values.grid import Grid
from geoagro.values.site import Finding
from geoagro.values.terrain import Drainage, Terrain
from geoagro.values.words import Sentence, in_a_row

EXPONENT = 1.1
"""Of the slope to each lower neighbour (Freeman 1991)."""
MOST_CELLS = 2_000_000
"""Above this cells are averaged into larger ones: the surface is smoothed wider than such cells anyway."""
HALF_WIDTH_M = 0.5
"""A strip is about one path wide (our choice): wide enough for a row to end, no bed of a waterway."""
ROUNDING_M = 1.0
"""Radius of inner corners of a strip; branches nearer than twice this run together."""
SHORTEST_M = 10.0
"""A line begins where so much wet ground drains through one cell: side cells of a broad wet band begin none."""
AROUND = tuple((i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if (i, j) != (0, 0))
"""The eight neighbours; the opposite of the k-th is the k-th from the end."""


def drainage(terrain: Terrain, *, least_ha: float, width_m: float, strip_m: float = 2 * HALF_WIDTH_M) -> Drainage:
    """Mark strips `strip_m` wide along the lines where at least `least_ha` of the ground shown drains through `width_m`.

    Taken from `terrain.smooth`, the surface that rows are laid on. Pits are not filled: they keep their water, and a
    line ends in them. The terrain reaches a few tens of metres past the field, so water that comes from farther
    away is unknown and not counted, nor are rain, soil, drains and culverts. This marks where rows should end; it
    is no design of a waterway.

    Raises
    ------
    LayoutError
        Where there are no heights (a slope raster alone).
    """
    if terrain.smooth is None:
        raise LayoutError(
            "rows.break_at_drainage needs heights; a slope raster alone doesn't tell where water runs. Give `elevation`, "
            "`contours` or `aspect` under `inputs`, or set rows.break_at_drainage: false."
        )
    surface = coarsened(terrain.smooth, MOST_CELLS)
    area = contributing_area(surface)
    lines = drainage_lines(surface, area, least_m2=least_ha * 1e4, width_m=width_m)
    length = float(shapely.length(lines).sum())
    told: str = Sentence(
        "Lines where {least_ha:g} ha or more drain through a width of {width_m:g} m: {length:.0f} m in "
        "and around the field.",
        least_ha=least_ha,
        width_m=width_m,
        length=length,
    )
    if surface.cell_m > terrain.smooth.cell_m:
        averaged = Sentence(
            "Cells of {fine:g} m were averaged to {coarse:g} m, as the ground is large.",
            fine=terrain.smooth.cell_m, coarse=surface.cell_m,
        )  # fmt: skip
        told = in_a_row(told, averaged)
    beyond = Sentence(
        "Water from outside the elevation read around the field is unknown and not counted; closed hollows keep theirs."
    )
    told = in_a_row(told, beyond)
    return Drainage(area, strips_along(lines, strip_m), (Finding("note", "rows.break_at_drainage", told),))


def contributing_area(heights: Grid) -> Grid:
    """Ground that drains through each cell, itself included, m2; NaN where heights are.

    Multiple flow direction (Freeman 1991, "Calculating catchment area with divergent flow based on a regular grid",
    Computers & Geosciences 17(3): 413-422): each cell passes its water to all lower neighbours in proportion to
    slope ** 1.1. With W the shares and a the cells' own area, A = a + W^T A; numbered from the top down, I - W^T is
    lower triangular and is solved without fill. Pits keep their water. At the edge of the raster the ground is taken
    to go on as it came, so that water leaves instead of running along the edge.
    """
    z = heights.values
    drop = (z - _around(z)) / np.array([np.hypot(i, j) for i, j in AROUND])[:, None, None]
    known = np.isfinite(drop)
    flow = np.nan_to_num(np.where(known, drop, -drop[::-1])).clip(0) ** EXPONENT
    total = flow.sum(axis=0)
    share = np.divide(flow, total, out=flow, where=total > 0)
    k, row, column = np.nonzero(known & (share > 0))
    area = _gathered(z, (k, row, column), share[k, row, column], np.full(z.shape, heights.cell_m**2))
    return heights.with_values(area)


def through_width(area: Grid, width_m: float) -> Floats:
    """Ground that drains through about `width_m` across the flow, m2: it depends little on the cells' size.

    The mean over a square times the cells along its side: whichever way water crosses the square, each row or column
    of cells carries all of it once. A gentle valley floor spreads its water over many cells; none of them alone tells.
    """
    cells = 2 * round((width_m / area.cell_m - 1) / 2) + 1
    through: Floats = ndimage.uniform_filter(np.nan_to_num(area.values), cells, mode="nearest") * cells
    return through


def drainage_lines(heights: Grid, area: Grid, *, least_m2: float, width_m: float) -> Shapes:
    """Lines where at least `least_m2` drain through `width_m`, an array of LineStrings from junction to junction.

    Each wet cell hands on to its lower neighbour of largest contributing area. That makes trees; cells through
    which less than SHORTEST_M of others drain are left out, which thins a broad band to its middle.
    """
    z, wet = heights.values, through_width(area, width_m) >= least_m2
    row, column = np.nonzero(wet)
    if len(row) == 0:
        return np.array([], dtype=object)
    open_ = (_around(z)[:, row, column] < z[row, column]) & (_around(wet.astype(float))[:, row, column] == 1)
    lower = np.where(open_, _around(area.values)[:, row, column], 0.0)
    best, onward = lower.argmax(axis=0), open_.any(axis=0)
    best, row, column = best[onward], row[onward], column[onward]
    through = _gathered(z, (best, row, column), np.ones(len(row)), wet.astype(float))
    main = through[row, column] >= SHORTEST_M / heights.cell_m
    ends = _below(best[main], row[main], column[main])
    a, b = ((heights.x[c], heights.y[r]) for r, c in ((row[main], column[main]), ends))
    pieces = np.asarray(shapely.linestrings(np.stack([np.column_stack(a), np.column_stack(b)], axis=1)), dtype=object)
    lines = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(pieces)))
    return shapely.simplify(lines, 0.75 * heights.cell_m)


def strips_along(lines: Shapes, strip_m: float = 2 * HALF_WIDTH_M) -> MultiPolygon:
    """Ground `strip_m` wide along lines, with round corners."""
    wide = shapely.union_all(shapely.buffer(lines, strip_m / 2 + ROUNDING_M))
    parts = shapely.get_parts(shapely.buffer(wide, -ROUNDING_M))
    return MultiPolygon(list(parts[~shapely.is_empty(parts)]))


def coarsened(grid: Grid, most_cells: int) -> Grid:
    """Average whole blocks of cells, the smallest that leave no more than `most_cells`; a block with a gap is unknown."""
    return averaged(grid, int(np.ceil(np.sqrt(grid.values.size / most_cells))))


def _around(values: Floats) -> Floats:
    """Stack the eight neighbours of each cell, NaN past the edge."""
    padded = np.pad(values, 1, constant_values=np.nan)
    rows, columns = values.shape
    return np.stack([padded[1 + i : 1 + i + rows, 1 + j : 1 + j + columns] for i, j in AROUND])


def _below(k: Ints, row: Ints, column: Ints) -> tuple[Ints, Ints]:
    """Row and column of each cell's k-th neighbour."""
    step = np.array(AROUND)[k]
    return row + step[:, 0], column + step[:, 1]


def _gathered(z: Floats, links: tuple[Ints, Ints, Ints], share: Floats, own: Floats) -> Floats:
    """Sum what each cell has of its own and gets through links (neighbour, row, column) down the surface z."""
    known = np.isfinite(z)
    order = np.flatnonzero(known)[np.argsort(-z[known], kind="stable")]
    n = len(order)
    number = np.full(z.size, -1, dtype=np.int32)
    number[order] = np.arange(n, dtype=np.int32)
    place = number.reshape(z.shape)
    _, row, column = links
    passed = sparse.csc_matrix((share, (place[_below(*links)], place[row, column])), shape=(n, n))
    matrix = (sparse.eye_array(n, format="csc") - passed).tocsc()
    out = np.full(z.size, np.nan)
    out[order] = spsolve_triangular(matrix, own.ravel()[order], lower=True, unit_diagonal=True)
    return out.reshape(z.shape)
