"""A grid of square cells over segments: what a ray meets first and how near the nearest segment is, in compiled loops."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.compiled import compiled

LEAST_CELL_M, MOST_CELL_M = 1.0, 50.0
_NOTHING = 1e-9
_BY_FAR = 1 + 1e-6


@dataclass(frozen=True, eq=False)
class RayGrid:
    """Which segments touch which cell.

    Attributes
    ----------
    west, south, cell_m
        Corner of the grid and width of its cells, metres.
    columns, rows
        Number of cells each way.
    pointer, member
        Segments of cell k (row by row from the south) are member[pointer[k] : pointer[k + 1]].
    """

    west: float
    south: float
    cell_m: float
    columns: int
    rows: int
    pointer: Ints
    member: Ints


def ray_grid(start: Floats, end: Floats) -> RayGrid:
    """Sort segments (ends of shape (n, 2)) into cells about as wide as two segments are apart."""
    if len(start) == 0:
        return RayGrid(0.0, 0.0, LEAST_CELL_M, 1, 1, np.zeros(2, dtype=np.int64), np.zeros(0, dtype=np.int64))
    west, south, east, north = _bounds(start, end)
    fair = 1.5 * np.sqrt((east - west) * (north - south) / len(start))
    cell_m = float(np.clip(fair, LEAST_CELL_M, MOST_CELL_M))
    columns, rows = int((east - west) // cell_m) + 1, int((north - south) // cell_m) + 1
    frame = (float(west), float(south), cell_m, columns, rows)
    pointer = np.zeros(columns * rows + 1, dtype=np.int64)
    nobody = np.zeros(0, dtype=np.int64)
    _sort(start, end, *frame, pointer, nobody)
    pointer = np.concatenate([[0], np.cumsum(pointer[:-1])])
    member = np.empty(pointer[-1], dtype=np.int64)
    _sort(start, end, *frame, pointer[:-1].copy(), member)
    return RayGrid(*frame, pointer, member)


@compiled
def _bounds(start: Floats, end: Floats) -> tuple[float, float, float, float]:
    """West, south, east and north (numpy takes ten times as long to find them down two narrow columns)."""
    west, south, east, north = np.inf, np.inf, -np.inf, -np.inf
    for k in range(len(start)):
        west, east = min(west, start[k, 0], end[k, 0]), max(east, start[k, 0], end[k, 0])
        south, north = min(south, start[k, 1], end[k, 1]), max(north, start[k, 1], end[k, 1])
    return west, south, east, north


@compiled
def cell_of(at: float, low: float, cell_m: float, count: int) -> int:
    """Index of the cell that holds a coordinate, the nearest one outside the grid."""
    k = int(np.floor((at - low) / cell_m))
    return min(max(k, 0), count - 1)


@compiled
def _span(x0: float, y0: float, x1: float, y1: float, left: float, right: float) -> tuple[float, float]:
    """Lowest and highest y of a straight line between two verticals."""
    if x0 == x1:
        return min(y0, y1), max(y0, y1)
    slope = (y1 - y0) / (x1 - x0)
    a = y0 + slope * (min(max(left, min(x0, x1)), max(x0, x1)) - x0)
    b = y0 + slope * (min(max(right, min(x0, x1)), max(x0, x1)) - x0)
    return min(a, b), max(a, b)


@compiled
def _sort(
    start: Floats,
    end: Floats,
    west: float,
    south: float,
    cell_m: float,
    columns: int,
    rows: int,
    place: Ints,
    member: Ints,
) -> None:
    """Count the segments of each cell in `place`, or write them into `member` from `place` on where it has room."""
    margin = 1e-6 * cell_m
    for k in range(len(start)):
        x0, y0, x1, y1 = start[k, 0], start[k, 1], end[k, 0], end[k, 1]
        first = cell_of(min(x0, x1) - margin, west, cell_m, columns)
        last = cell_of(max(x0, x1) + margin, west, cell_m, columns)
        for i in range(first, last + 1):
            low, high = _span(x0, y0, x1, y1, west + i * cell_m - margin, west + (i + 1) * cell_m + margin)
            for j in range(cell_of(low - margin, south, cell_m, rows), cell_of(high + margin, south, cell_m, rows) + 1):
                cell = j * columns + i
                if len(member) > 0:
                    member[place[cell]] = k
                place[cell] += 1


Frame = tuple[float, float, float, int, int]
Cells = tuple[Ints, Ints]
Pieces = tuple[Floats, Floats, Ints, Floats, Floats]
Own = tuple[Ints, Floats, Floats, Bools, float]


@compiled
def way_between(at: float, other: float, length: float, ring: bool) -> float:
    """Way between two places on a line, the shorter one round a ring.

    (Numbers, no arrays: handing those over would take longer than all else that is done for a piece.)
    """
    way = abs(at - other)
    return min(way, length - way) if ring else way


@compiled
def _first_in(
    cells: Cells, cell: int, pieces: Pieces, ray: tuple[float, float, float, float], reach: Floats, own: Own, k: int
) -> tuple[float, int, float]:
    """Tell what ray k meets first among the pieces of a cell: how far along itself, and the line and the place on it.

    Of several at once it is the one on the line named first.
    """
    pointer, member = cells
    start, end, line, station, run = pieces
    mine, mine_at, mine_long, mine_ring, gap = own
    ox, oy, nx, ny = ray
    near, far = reach[0], reach[1]
    best, best_line, best_at = np.inf, -1, np.nan
    for place in range(pointer[cell], pointer[cell + 1]):
        s = member[place]
        px, py = start[s, 0] - ox, start[s, 1] - oy
        qx, qy = end[s, 0] - start[s, 0], end[s, 1] - start[s, 1]
        cross, part = nx * qy - ny * qx, px * ny - py * nx
        # most pieces are missed by far, which shows without a division
        if abs(cross) <= 1e-12 or abs(2 * part - cross) > _BY_FAR * abs(cross):
            continue
        share = part / cross
        if share < -_NOTHING or share > 1 + _NOTHING:
            continue
        at, on = (px * qy - py * qx) / cross, station[s] + share * run[s]
        if at <= _NOTHING or at < near or at > min(best, far):
            continue
        if line[s] == mine[k] and way_between(on, mine_at[k], mine_long[k], mine_ring[k]) <= gap:
            continue
        if at < best or line[s] < best_line or (line[s] == best_line and on < best_at):
            best, best_line, best_at = at, line[s], on
    return best, best_line, best_at


@compiled
def first_met(
    frame: Frame,
    cells: Cells,
    pieces: Pieces,
    rays: tuple[Floats, Floats],
    reach: Floats,
    own: Own,
    hits: tuple[Floats, Ints, Floats],
) -> None:
    """Write what each ray meets first into `hits` (distance, line, station).

    Parameters
    ----------
    frame, cells
        West, south, width, columns and rows of the grid; its pointer and member.
    pieces
        Start, end, line, station and run of all segments.
    rays
        Origins and directions, shape (n, 2).
    reach
        From how many to how many lengths of the direction a ray looks.
    own
        Line that each ray starts on (-1: none), its station there, that line's length and whether it is a ring, and how
        far along its own line a ray sees nothing.
    """
    west, south, cell_m, columns, rows = frame
    distance, met, where = hits
    margin, far = 1e-6 * cell_m, reach[1]
    for k in range(len(rays[0])):
        ox, oy, nx, ny = rays[0][k, 0], rays[0][k, 1], rays[1][k, 0], rays[1][k, 1]
        tx, ty = ox + far * nx, oy + far * ny
        first = cell_of(min(ox, tx) - margin, west, cell_m, columns)
        last = cell_of(max(ox, tx) + margin, west, cell_m, columns)
        best, best_line, best_at = np.inf, -1, np.nan
        for step in range(last - first + 1):
            i = first + step if nx >= 0 else last - step
            left, right = west + i * cell_m - margin, west + (i + 1) * cell_m + margin
            if abs(nx) > 1e-12 and ((left if nx > 0 else right) - ox) / nx > best:
                break
            low, high = _span(ox, oy, tx, ty, left, right)
            for j in range(cell_of(low - margin, south, cell_m, rows), cell_of(high + margin, south, cell_m, rows) + 1):
                at, line, on = _first_in(cells, j * columns + i, pieces, (ox, oy, nx, ny), reach, own, k)
                nearer = at < best or (at == best and line < best_line)
                if nearer or (at == best and line == best_line and on < best_at):
                    best, best_line, best_at = at, line, on
        distance[k], met[k], where[k] = best, best_line, best_at


@compiled
def _nearest_in(cells: Cells, cell: int, pieces: Pieces, x: float, y: float, own: Own, k: int) -> float:
    """Distance of point k from the nearest piece of a cell."""
    pointer, member = cells
    start, end, line, station, run = pieces
    mine, mine_at, mine_long, mine_ring, gap = own
    best = np.inf
    for place in range(pointer[cell], pointer[cell + 1]):
        s = member[place]
        qx, qy = end[s, 0] - start[s, 0], end[s, 1] - start[s, 1]
        px, py = x - start[s, 0], y - start[s, 1]
        share = min(max((px * qx + py * qy) / max(qx * qx + qy * qy, 1e-18), 0.0), 1.0)
        east, north = px - share * qx, py - share * qy
        if east * east + north * north > _BY_FAR * best * best:
            continue
        away = np.hypot(east, north)
        if away >= best:
            continue
        on = station[s] + share * run[s]
        if line[s] != mine[k] or way_between(on, mine_at[k], mine_long[k], mine_ring[k]) > gap:
            best = away
    return best


@compiled
def nearest_to(
    frame: Frame, cells: Cells, pieces: Pieces, points: Floats, within_m: float, own: Own, nearest: Floats
) -> None:
    """Write the distance of each point from the nearest segment into `nearest` (infinite beyond `within_m`).

    Parameters as in `first_met`.
    """
    west, south, cell_m, columns, rows = frame
    for k in range(len(points)):
        x, y = points[k, 0], points[k, 1]
        best = np.inf
        left, right = cell_of(x - within_m, west, cell_m, columns), cell_of(x + within_m, west, cell_m, columns)
        for j in range(cell_of(y - within_m, south, cell_m, rows), cell_of(y + within_m, south, cell_m, rows) + 1):
            up = max(south + j * cell_m - y, y - south - (j + 1) * cell_m, 0.0)
            for i in range(left, right + 1):
                across = max(west + i * cell_m - x, x - west - (i + 1) * cell_m, 0.0)
                if up * up + across * across > best * best:
                    continue
                best = min(best, _nearest_in(cells, j * columns + i, pieces, x, y, own, k))
        nearest[k] = best if best <= within_m else np.inf


@compiled
def away_from_piece(x: float, y: float, ax: float, ay: float, bx: float, by: float) -> float:
    """Distance of a point from a piece."""
    qx, qy, px, py = bx - ax, by - ay, x - ax, y - ay
    share = min(max((px * qx + py * qy) / max(qx * qx + qy * qy, 1e-18), 0.0), 1.0)
    return float(np.hypot(px - share * qx, py - share * qy))


@compiled
def _left(x: float, y: float, ax: float, ay: float, bx: float, by: float) -> float:
    """Above 0 for a point to the left of a piece, below 0 to the right."""
    return (bx - ax) * (y - ay) - (by - ay) * (x - ax)


Piece = tuple[float, float, float, float]


@compiled
def ends_apart(one: Piece, other: Piece) -> float:
    """Least distance from an end of one piece (x and y of both ends) to the other piece."""
    ax, ay, bx, by = one
    cx, cy, dx, dy = other
    mine = min(away_from_piece(ax, ay, cx, cy, dx, dy), away_from_piece(bx, by, cx, cy, dx, dy))
    theirs = min(away_from_piece(cx, cy, ax, ay, bx, by), away_from_piece(dx, dy, ax, ay, bx, by))
    return min(mine, theirs)


@compiled
def crosses(one: Piece, other: Piece) -> bool:
    """Tell whether two pieces cross; those that only touch don't."""
    ax, ay, bx, by = one
    cx, cy, dx, dy = other
    apart = _left(cx, cy, ax, ay, bx, by) * _left(dx, dy, ax, ay, bx, by) < 0
    return bool(apart and _left(ax, ay, cx, cy, dx, dy) * _left(bx, by, cx, cy, dx, dy) < 0)


@compiled
def _near_or_crossing(one: Piece, other: Piece, within_m: float) -> bool:
    """Tell whether two pieces come nearer than a distance."""
    ax, ay, bx, by = one
    cx, cy, dx, dy = other
    if min(cx, dx) > max(ax, bx) + within_m or max(cx, dx) < min(ax, bx) - within_m:
        return False
    if min(cy, dy) > max(ay, by) + within_m or max(cy, dy) < min(ay, by) - within_m:
        return False
    return ends_apart(one, other) < within_m or crosses(one, other)


@compiled
def mark_near(
    frame: Frame, cells: Cells, pieces: Pieces, asked: Bools, within_m: float, gap_m: float, marked: Bools
) -> None:
    """Mark pieces of `asked` lines that come nearer than `within_m` to another piece, and that one.

    Pieces of one line count where the way along it from one's far end to the other's is more than `gap_m`.
    """
    west, south, cell_m, columns, rows = frame
    pointer, member = cells
    start, end, line, station, run = pieces
    for i in range(len(line)):
        if not asked[line[i]]:
            continue
        left, right = min(start[i, 0], end[i, 0]) - within_m, max(start[i, 0], end[i, 0]) + within_m
        low, high = min(start[i, 1], end[i, 1]) - within_m, max(start[i, 1], end[i, 1]) + within_m
        first, last = cell_of(left, west, cell_m, columns), cell_of(right, west, cell_m, columns)
        for row in range(cell_of(low, south, cell_m, rows), cell_of(high, south, cell_m, rows) + 1):
            for k in range(pointer[row * columns + first], pointer[row * columns + last + 1]):
                j = member[k]
                if (marked[i] and marked[j]) or (j < i and asked[line[j]]):
                    continue
                if line[i] == line[j] and abs(station[i] - station[j]) + max(run[i], run[j]) <= gap_m:
                    continue
                here = (start[i, 0], start[i, 1], end[i, 0], end[i, 1])
                if _near_or_crossing(here, (start[j, 0], start[j, 1], end[j, 0], end[j, 1]), within_m):
                    marked[i] = marked[j] = True
