"""Hard limits on real row geometry: what still breaks one is cut away, and every cut piece keeps its reason."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import shapely
from shapely import LineString, MultiPolygon

from geoagro.arrays import Bools, Floats, Ints
from geoagro.errors import LayoutError
from geoagro.planar.polylines import stretches
from geoagro.planar.segments import Segments, segments_of
from geoagro.rows.clipping import CUT_MARGIN, clipped_of
from geoagro.rows.fall import Fall
from geoagro.rows.loops.crowded import near_pairs
from geoagro.rows.loops.places import points_on
from geoagro.rows.quality import OWN_GAP, chord_rise, window_radius
from geoagro.rows.sampling import RowSamples, sample_rows
from geoagro.values.grid import Grid
from geoagro.values.rows import Lines

FINE_STEP_M = 0.5
VERTEX_ERROR_M = 0.02
AT_END_M = 1e-6
"""What is nearer to a row's end than this is at its end but for rounding."""
MOST_SAG_M = 0.05
"""A row with a wanted fall may rise by so much before it falls on: water stands in it no deeper (our choice)."""
SAG_MARGIN = 0.9
"""Share of that at which it is cut: between the places that are looked at it may rise a little more."""
MOST_PASSES = 30
REASONS = ("turn_radius", "grade_limit", "rise_limit", "spacing_limit")


@dataclass
class _Row:
    """A row still standing, the reasons for a cut that it has been found free of, and which row it was a part of."""

    line: LineString
    free_of: set[str] = field(default_factory=set)
    origin: int = -1


@dataclass(eq=False)
class _Worked:
    """Rows still standing, and what was cut from them so far, with the row that each piece was a part of."""

    rows: list[_Row]
    cut: list[tuple[str, LineString]] = field(default_factory=list)
    cut_of: list[int] = field(default_factory=list)

    @property
    def lines(self) -> list[LineString]:
        return [row.line for row in self.rows]


Test = Callable[[list[LineString], RowSamples], Ints]
"""Tells of each sample which limit it breaks, counted from 1; 0 for none."""


@dataclass(eq=False)
class Alone:
    """What the limits that rows hold each by itself left of lines that were looked at before, to be used again.

    Only for the same ground and limits; lines are known as objects.
    """

    known: dict[int, tuple[LineString, list[_Row], list[tuple[str, LineString]]]] = field(default_factory=dict)

    def lacks(self, lines: Sequence[LineString]) -> list[LineString]:
        """Return the lines that weren't looked at yet."""
        return list({id(line): line for line in lines if id(line) not in self.known}.values())

    def learn(self, lines: Sequence[LineString], worked: _Worked) -> None:
        """Keep what is left of lines, numbered by their place in the list."""
        for line in lines:
            self.known[id(line)] = (line, [], [])
        for row in worked.rows:
            self.known[id(lines[row.origin])][1].append(row)
        for piece, origin in zip(worked.cut, worked.cut_of, strict=True):
            self.known[id(lines[origin])][2].append(piece)

    def recall(self, lines: Sequence[LineString]) -> _Worked:
        """Take up what is left of lines."""
        found = [self.known[id(line)] for line in lines]
        rows = [_Row(row.line, set(row.free_of)) for _, rows, _ in found for row in rows]
        cut = [piece for reason in REASONS for _, _, pieces in found for piece in pieces if piece[0] == reason]
        return _Worked(rows, cut)


def finish_rows(
    lines: Sequence[LineString],
    plantable: MultiPolygon,
    heights: Grid,
    *,
    spacing_m: float,
    tolerance: float,
    max_grade: float,
    min_radius_m: float,
    min_length_m: float,
    fall: Fall | None = None,
    legal_rows: Sequence[LineString] = (),
    alone: Alone | None = None,
) -> Lines:
    """Clip rows to the plantable ground and cut until every hard limit holds.

    Limits: no two rows nearer than (1 - tolerance) spacings, grade over any 10 m, with a wanted fall how far a row rises on its
    way (MOST_SAG_M), radius over any 5 m, length.
    A cut inside a row is at least as long as two rows must be apart, since its two ends face each other. Lines that are one of
    `legal_rows` (the same object) are known to hold all this and to keep off each other: they aren't looked at by themselves.
    Of lines that `alone` knows, only what others mean for them is looked at.
    """
    nearest = (1 - tolerance) * spacing_m
    tests = _tests_alone(heights, max_grade, min_radius_m, fall)
    known = {id(line) for line in legal_rows}
    new = [line for line in lines if id(line) not in known]
    alone = Alone() if alone is None else alone
    unseen = alone.lacks(new)
    if unseen:
        alone.learn(unseen, _by_themselves(unseen, plantable, tests, nearest))
    worked = alone.recall(new)
    worked.rows += [_Row(line, set(REASONS)) for line in lines if id(line) in known]
    before = 0
    for number in range(MOST_PASSES):
        for reasons, test in tests if number else ():
            _cut_until_good(worked, reasons, test, nearest)
        _drop_short(worked, min_length_m)
        _cut_crowded(worked, nearest, OWN_GAP * spacing_m, min_length_m)
        if len(worked.cut) == before:
            return Lines(worked.lines, worked.cut)
        before = len(worked.cut)
    raise LayoutError(
        f"Rows still break a limit after {MOST_PASSES} rounds of cuts; this is a fault, please report it."
    )


def _tests_alone(
    heights: Grid, max_grade: float, min_radius_m: float, fall: Fall | None
) -> list[tuple[tuple[str, ...], Test]]:
    """Limits that each row holds by itself: what each test may tell, and the test."""

    def along(rows: list[LineString], samples: RowSamples) -> Ints:
        # both at once: what is cut because it rises needn't be cut again where it is steep
        steep = too_steep(rows, samples, heights, max_grade * CUT_MARGIN)
        rises = False if fall is None else rises_back(rows, samples, heights, fall)
        return np.where(steep, 1, np.where(rises, 2, 0))

    return [
        (("turn_radius",), lambda rows, s: (_peak(_curvature(rows, s), s) * min_radius_m > CUT_MARGIN).astype(np.intp)),
        (("grade_limit", "rise_limit"), along),
    ]


def breaks_alone(
    rows: list[LineString],
    heights: Grid,
    *,
    spacing_m: float,
    tolerance: float,
    max_grade: float,
    min_radius_m: float,
    fall: Fall | None,
) -> tuple[RowSamples, Bools]:
    """Sample rows as finely as limits are held, and tell where one breaks a limit that it holds by itself, its own neighbourhood included."""
    samples = sample_rows(rows, FINE_STEP_M)
    bad = np.zeros(len(samples), dtype=bool)
    every = np.arange(len(samples))
    near = _near_pairs(rows, samples, every, (1 - tolerance) * spacing_m, OWN_GAP * spacing_m)
    one = np.repeat(every, np.diff(near.pointer))
    bad[one[samples.row[one] == samples.row[near.ends]]] = True
    for _, test in _tests_alone(heights, max_grade, min_radius_m, fall):
        bad |= test(rows, samples) > 0
    return samples, bad


def _by_themselves(
    lines: Sequence[LineString], plantable: Any, tests: Sequence[tuple[tuple[str, ...], Test]], gap_m: float
) -> _Worked:
    """Clip lines to the plantable ground and cut from each what breaks a limit whatever the others are."""
    parts, owner = clipped_of(lines, plantable)
    # a row that holds the limits passes nowhere within centimetres of itself, so none is drawn across itself
    simple = shapely.simplify(parts, VERTEX_ERROR_M, preserve_topology=False)
    worked = _Worked([_Row(line, origin=int(number)) for line, number in zip(simple, owner, strict=True)])
    for reasons, test in tests:
        _cut_until_good(worked, reasons, test, gap_m)
    return worked


def _cut_until_good(worked: _Worked, reasons: tuple[str, ...], test: Test, gap_m: float) -> None:
    """Cut the middles of failing stretches, look again (a new end has a shorter chord), and so on.

    What is cut from one row changes no other, so only rows that are new are looked at.
    """
    for _ in range(MOST_PASSES):
        pending = np.array([k for k, row in enumerate(worked.rows) if reasons[0] not in row.free_of], dtype=np.intp)
        if len(pending) == 0:
            return
        lines = [worked.rows[k].line for k in pending]
        samples = sample_rows(lines, FINE_STEP_M)
        broken = test(lines, samples)
        for k in np.delete(np.arange(len(pending)), np.unique(samples.row[broken > 0])):
            worked.rows[pending[k]].free_of.add(reasons[0])
        if broken.any():
            _remove(worked, replace(samples, row=pending[samples.row]), broken, reasons, gap_m)
    raise LayoutError(
        f"Rows still break {reasons[0]} after {MOST_PASSES} rounds of cuts; this is a fault, please report it."
    )


def _peak(values: Floats, samples: RowSamples) -> Floats:
    """Tell how high a measure may reach about each sample: a peak between two rises past the higher by half a step's change."""
    inner = samples.row[1:] == samples.row[:-1]
    change = np.where(inner, np.diff(values), 0.0)
    from_before, to_after = np.append(0.0, change), np.append(change, 0.0)
    highest = (from_before >= 0) & (to_after <= 0)
    most: Floats = values + np.where(highest, np.maximum(from_before, -to_after) / 2, 0.0)
    return most


def _curvature(rows: list[LineString], samples: RowSamples) -> Floats:
    """Return one over the radius, at most that of a millimetre (a speck of row has none)."""
    curvature: Floats = 1 / np.maximum(window_radius(rows, samples), 1e-3)
    return curvature


def too_steep(rows: list[LineString], samples: RowSamples, heights: Grid, most: float) -> Bools:
    """Tell where rows are steeper than `most` (ratio) over the chord that grades are judged on."""
    steep: Bools = _peak(np.abs(chord_rise(rows, samples, heights)), samples) > most
    return steep


def rises_back(rows: list[LineString], samples: RowSamples, heights: Grid, fall: Fall) -> Bools:
    """Tell where rows rise too far on the way that they should fall."""
    return fall.rises_along(rows, samples, heights, SAG_MARGIN * MOST_SAG_M, strictly=True)[0]


def _remove(worked: _Worked, samples: RowSamples, broken: Ints, reasons: tuple[str, ...], gap_m: float) -> None:
    """Take the stretches that break a limit out of their rows, each widened to `gap_m` where the row goes on behind it."""
    rows: list[_Row] = []
    touched = np.zeros(len(worked.rows), dtype=bool)
    touched[samples.row[broken > 0]] = True
    bounds = np.searchsorted(samples.row, np.arange(len(worked.rows) + 1))
    for number, row in enumerate(worked.rows):
        if not touched[number]:
            rows.append(row)
            continue
        part = slice(bounds[number], bounds[number + 1])
        gaps = _widened(_stretches(broken[part] > 0, samples.weight[part]), gap_m, row.line)
        rows += [_Row(piece, origin=row.origin) for piece in _kept(row.line, gaps)]
        why = [reasons[_mostly(broken[part], samples.station[part], gap) - 1] for gap in gaps]
        real = [(reason, gap) for reason, gap in zip(why, gaps, strict=True) if gap[1] > gap[0]]
        gone = stretches(row.line, [gap for _, gap in real])
        cut = [(reason, piece) for (reason, _), piece in zip(real, gone, strict=True)]
        worked.cut += cut
        worked.cut_of += [row.origin] * len(cut)
    worked.rows = rows


def _mostly(broken: Ints, station: Floats, gap: tuple[float, float]) -> int:
    """Tell which limit most samples in a gap break."""
    there = broken[(station >= gap[0]) & (station <= gap[1]) & (broken > 0)]
    return int(np.argmax(np.bincount(there)))


def _stretches(mask: Bools, weight: Floats) -> list[tuple[float, float]]:
    """Start and end (metres along the row) of each unbroken run of true samples."""
    end = np.cumsum(weight)
    padded = np.zeros(len(mask) + 2, dtype=bool)
    padded[1:-1] = mask
    edge = np.flatnonzero(padded[1:] != padded[:-1])
    return [(float(end[a] - weight[a]), float(end[b - 1])) for a, b in zip(edge[::2], edge[1::2], strict=True)]


def _widened(gaps: list[tuple[float, float]], least_m: float, line: LineString) -> list[tuple[float, float]]:
    """Widen gaps between two ends until these stand `least_m` apart, and join gaps that meet."""
    wide: list[tuple[float, float]] = []
    for gap in gaps:
        a, b = _widened_gap(gap, least_m, line)
        if wide and a - wide[-1][1] <= 0:
            wide[-1] = (wide[-1][0], b)
        else:
            wide.append((a, b))
    return wide


def _widened_gap(gap: tuple[float, float], least_m: float, line: LineString) -> tuple[float, float]:
    a, b = gap
    while a > AT_END_M and b < line.length - AT_END_M:
        missing = least_m * 1.01 - line.interpolate(a).distance(line.interpolate(b))
        if missing <= 0:
            break
        more = max(missing, VERTEX_ERROR_M) / 2
        a, b = max(0.0, a - more), min(line.length, b + more)
    return a, b


def _kept(line: LineString, gaps: list[tuple[float, float]]) -> list[LineString]:
    """Return what the gaps leave of a row; a ring's last piece runs on into its first."""
    edges = [0.0, *[v for gap in gaps for v in gap], line.length]
    pairs = [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > AT_END_M]
    parts = stretches(line, pairs)
    if line.is_closed and len(pairs) > 1 and pairs[0][0] == 0 and pairs[-1][1] == line.length:
        parts[0] = LineString([*parts.pop().coords, *parts[0].coords[1:]])
    return parts


def _drop_short(worked: _Worked, min_length_m: float) -> None:
    long = [row.line.length >= min_length_m for row in worked.rows]
    worked.cut += [("short_row", row.line) for row, keep in zip(worked.rows, long, strict=True) if not keep]
    worked.rows = [row for row, keep in zip(worked.rows, long, strict=True) if keep]


def _cut_crowded(worked: _Worked, nearest_m: float, own_gap_m: float, min_length_m: float) -> None:
    """Longest row first: cut from all others what comes nearer than `nearest_m`, and drop what is left too short."""
    pieces = segments_of(worked.lines)
    marked = _maybe_near(worked, pieces, nearest_m + 2 * VERTEX_ERROR_M, own_gap_m)
    for row in worked.rows:
        row.free_of.add("spacing_limit")
    involved, which = np.unique(pieces.line[marked], return_inverse=True)
    lines = [worked.rows[k].line for k in involved]
    samples = sample_rows(lines, FINE_STEP_M)
    there = _on_marked(samples, which, pieces.station[marked], pieces.length[marked])
    near = _near_pairs(lines, samples, there, nearest_m, own_gap_m)
    dead = np.zeros(len(samples), dtype=bool)
    bounds = np.searchsorted(samples.row, np.arange(len(lines) + 1))
    crowded = np.zeros(len(lines), dtype=bool)
    crowded[samples.row[near.starts]] = True
    for number in np.argsort(-samples.row_length, kind="stable"):
        if not crowded[number]:
            continue
        part = np.arange(bounds[number], bounds[number + 1])
        for a, b in _stretches(~dead[part], np.ones(len(part))):
            run = part[int(a) : int(b)]
            if samples.weight[run].sum() < min_length_m:
                dead[run] = True
        for sample in part[near.pointer[part + 1] > near.pointer[part]]:
            if not dead[sample]:
                dead[near.of(sample)] = True
    if dead.any():
        _remove(worked, replace(samples, row=involved[samples.row]), dead.astype(np.intp), ("spacing_limit",), 0.0)
        _drop_short(worked, min_length_m)


@dataclass(frozen=True, eq=False)
class _Pairs:
    """Samples too near to one another: partners of sample i are ends[pointer[i] : pointer[i + 1]]."""

    starts: Ints
    ends: Ints
    pointer: Ints

    def of(self, sample: int) -> Ints:
        return self.ends[self.pointer[sample] : self.pointer[sample + 1]]


def _near_pairs(rows: list[LineString], samples: RowSamples, there: Ints, nearest_m: float, own_gap_m: float) -> _Pairs:
    """Pairs among samples `there` whose pieces of row come nearer than the limit; in one row only if far apart in it."""
    start, end, owner = _pieces(rows, samples, there)
    standing = samples.standing(own_gap_m).take(there[owner]).arrays
    one, other = near_pairs(start, end, standing, nearest_m + VERTEX_ERROR_M)
    one, other = there[owner[one]], there[owner[other]]
    i, j = np.concatenate([one, other]), np.concatenate([other, one])
    order = np.argsort(i, kind="stable")
    return _Pairs(i[order], j[order], np.searchsorted(i[order], np.arange(len(samples) + 1)))


def _maybe_near(worked: _Worked, pieces: Segments, within_m: float, own_gap_m: float) -> Bools:
    """Tell which straight pieces come within a distance of another row: few, as a rule.

    Rows that have been compared before aren't compared with one another again.
    """
    fresh = np.array(["spacing_limit" not in row.free_of for row in worked.rows], dtype=bool)
    return pieces.near_others(fresh, within_m, own_gap_m)


def _on_marked(samples: RowSamples, row: Ints, station: Floats, length: Floats) -> Ints:
    """Find the samples that stand for a part of the marked pieces (ordered by row and station), or for a part next to one."""
    base = np.cumsum(samples.row_length) - samples.row_length
    where = base[samples.row] + samples.station
    first = np.searchsorted(where + samples.weight, base[row] + station)
    last = np.searchsorted(where - samples.weight, base[row] + station + length, side="right")
    count = np.bincount(first, minlength=len(where) + 1) - np.bincount(last, minlength=len(where) + 1)
    return np.nonzero(np.cumsum(count)[:-1])[0]


def _pieces(rows: list[LineString], samples: RowSamples, which: Ints) -> tuple[Floats, Floats, Ints]:
    """Straight pieces of the rows that some samples stand for: first and last points, and the place in `which` of each one's sample.

    A sample's stretch is parted at the row's vertices: where a row turns sharply, its corner lies off the chord.
    """
    lines = samples.lines_of(rows)
    half = samples.weight[which] / 2
    begin, end = samples.station[which] - half, samples.station[which] + half
    base = np.cumsum(samples.row_length) - samples.row_length
    stands = np.searchsorted(base[samples.row] + samples.station + samples.weight / 2, base[lines.line] + lines.station)
    place = np.full(len(samples) + 1, -1, dtype=np.int64)
    place[which] = np.arange(len(which))
    owner, station = place[stands], lines.station
    inner = (owner >= 0) & (station > begin[owner]) & (station < end[owner])
    owner = np.concatenate([np.arange(len(which)), owner[inner]])
    first = np.concatenate([begin, station[inner]])
    order = np.lexsort([first, owner])
    owner, first = owner[order], first[order]
    last = np.where(np.append(owner[1:] == owner[:-1], False), np.append(first[1:], 0.0), end[owner])
    row = samples.row[which][owner]
    return points_on(lines, row, first), points_on(lines, row, last), owner
