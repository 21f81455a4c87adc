"""What earlier rounds cut and no row has taken up since: still cut, for the same reason."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import LineString

from geoagro.arrays import Bools, Floats, Ints, Shapes
from geoagro.planar.polylines import Polylines, stretch
from geoagro.planar.reach import within_reach
from geoagro.planar.segments import Segments, nowhere, segments_of
from geoagro.values.rows import Lines

Cut = tuple[str, LineString]
"""A reason and the piece that was cut for it."""
SHORTEST_M = 1.0
"""What is left of a piece counts from this length on: less is a rounding at a row's end."""
LOOK_M, STRIDE_M = 0.5, 2.0
BY_GROUND, GIVEN_UP = ("grade_limit", "rise_limit"), ("spacing_limit", "turning_cost")
SURELY = 0.98
"""Places so far apart that are nearer to a row than this share of the reach, less half of that, leave nothing between."""


def with_earlier_cuts(held: Lines, past: Sequence[list[Cut]], *, spacing_m: float) -> Lines:
    """Add to `held` the parts of earlier cut pieces that lie more than half a spacing from all that is held, and from later cuts.

    Nearer than that the ground is served by a row, or a newer cut says why it isn't. But what was too steep for a row (or rose on its way) stays so
    where one drawn there later was too near to others, or not worth its turns: it could not have run farther off.

    Parameters
    ----------
    past
        What was cut in each earlier round, the latest first.
    """
    reach_m, cut = spacing_m / 2, list(held.cut)
    for earlier in _beyond_rows(held.kept, past, reach_m):
        firm = [piece for reason, piece in cut if reason not in GIVEN_UP]
        every = [piece for _, piece in cut]
        steep = [piece for piece in earlier if piece[0] in BY_GROUND]
        others = [piece for piece in earlier if piece[0] not in BY_GROUND]
        cut += [*_left(steep, firm, reach_m), *_left(others, every, reach_m)]
    return Lines(held.kept, cut)


def _beyond_rows(rows: list[LineString], past: Sequence[list[Cut]], reach_m: float) -> list[list[Cut]]:
    """Parts of the pieces of each round beyond reach of rows: what most pieces lack, found for all rounds at once."""
    pieces = [piece for cut in past for piece in cut]
    ends = np.cumsum([len(cut) for cut in past])
    left: list[list[Cut]] = [[] for _ in past]
    for k, part in _parts_left(pieces, rows, reach_m):
        left[np.searchsorted(ends, k, side="right")].append((pieces[k][0], part))
    return left


def _left(earlier: list[Cut], taken: list[LineString], reach_m: float) -> list[Cut]:
    """Parts of earlier pieces beyond reach of what is taken."""
    return [(earlier[k][0], part) for k, part in _parts_left(earlier, taken, reach_m)]


def _parts_left(earlier: list[Cut], taken: list[LineString], reach_m: float) -> list[tuple[int, LineString]]:
    """Parts of earlier pieces beyond reach of what is taken; before each, whose it is."""
    if not earlier or not taken:
        return [(k, piece) for k, (_, piece) in enumerate(earlier)]
    straight = segments_of(taken)
    pieces = np.array([piece for _, piece in earlier], dtype=object)
    some = np.flatnonzero(_may_be_left(straight, pieces, reach_m))
    return [(int(some[k]), part) for k, part in _away_from(straight, pieces[some], reach_m)]


def _may_be_left(straight: Segments, pieces: Shapes, reach_m: float) -> Bools:
    """Tell which pieces are long enough, and have a place that isn't surely within reach: few, as a rule."""
    left: Bools = shapely.length(pieces) >= SHORTEST_M
    some = np.flatnonzero(left)
    if len(some) == 0:
        return left
    lines = Polylines.read(pieces[some])
    line, station, _ = lines.middles(LOOK_M)
    near = straight.nearest(lines.at(line, station), reach_m, standing=nowhere(len(line)))
    left[some] = np.bincount(line, weights=near > SURELY * reach_m - LOOK_M / 2, minlength=len(some)) > 0
    return left


def _away_from(lines: Segments, pieces: Shapes, reach_m: float) -> list[tuple[int, LineString]]:
    """Find what of each piece lies farther than `reach_m` from all lines, in stretches of SHORTEST_M at least; before each, whose it is."""
    if len(pieces) == 0:
        return []
    along = segments_of(pieces)
    some = _round_about(lines, pieces, reach_m)
    ends = np.stack([lines.start, lines.end], axis=1)[some]
    tree = shapely.STRtree(np.atleast_1d(np.asarray(shapely.linestrings(ends), dtype=object)))
    mine, other = tree.query(along.shapes, predicate="dwithin", distance=reach_m)
    theirs = some[other]
    begin, end = within_reach((along.start[mine], along.end[mine]), (lines.start[theirs], lines.end[theirs]), reach_m)
    met = np.flatnonzero(begin < end)  # what only touches covers nothing
    station, run, owner = (part[mine[met]] for part in (along.station, along.run, along.line))
    first, last = station + begin[met] * run, station + end[met] * run
    order = np.lexsort([first, owner])
    first, last = first[order], last[order]
    bounds = np.searchsorted(owner[order], np.arange(len(pieces) + 1))
    left: list[tuple[int, LineString]] = []
    for number, piece in enumerate(pieces):
        of = slice(bounds[number], bounds[number + 1])
        gaps = _uncovered(first[of], last[of], float(piece.length))
        left += [(number, stretch(piece, a, b)) for a, b in gaps if b - a >= SHORTEST_M]
    return left


def _uncovered(begin: Floats, end: Floats, length: float) -> list[tuple[float, float]]:
    """Stretches between 0 and `length` that none of some stretches, ordered by where they begin, covers."""
    reached = np.maximum.accumulate(np.append(0.0, end))
    return [(float(a), float(b)) for a, b in zip(reached, np.append(begin, length), strict=True) if b > a]


def _round_about(lines: Segments, pieces: Shapes, reach_m: float) -> Ints:
    """Numbers of straight pieces of line that may lie within reach of one of the pieces: few of many, found at little cost."""
    if len(pieces) == 0:
        return np.zeros(0, dtype=np.intp)
    along = Polylines.read(pieces)
    line, station, _ = along.middles(STRIDE_M)
    far_m = reach_m + STRIDE_M / 2 + float(lines.length.max()) / 2
    near = cKDTree((lines.start + lines.end) / 2).query_ball_point(along.at(line, station), far_m)
    return np.unique(np.concatenate([np.asarray(k, dtype=np.intp) for k in near]))
