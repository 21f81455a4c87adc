"""Distances of four-cornered shapes from segments, held against the library's own; and polygons taken from polygons at once."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

from geoagro.planar.cutting import subtract
from geoagro.planar.segments import Segments

SEEDS = st.integers(0, 10_000)


def some_segments(rng, count=80, lines=6):
    start = rng.uniform(0, 60, (count, 2))
    end = start + rng.uniform(-6, 6, (count, 2))
    return Segments(start, end, rng.integers(0, lines, count), np.zeros(count), np.hypot(*(end - start).T))


def some_quads(rng, count=60):
    """Squares, slanted and narrow ones, and edges doubled."""
    middle, turn = rng.uniform(0, 60, (count, 2)), rng.uniform(0, np.pi, count)
    along = np.column_stack([np.cos(turn), np.sin(turn)]) * rng.uniform(0.1, 3.0, (count, 1))
    across = np.column_stack([-along[:, 1], along[:, 0]]) * rng.choice([0.0, 0.02, 1.0], (count, 1))
    signs = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return np.stack([middle + a * along + b * across for a, b in signs], axis=1)


@given(SEEDS)
def test_quads_are_as_far_from_lines_before_their_own_and_after_as_the_library_says(seed):
    rng = np.random.default_rng(seed)
    segments, corners = some_segments(rng), some_quads(rng)
    own = rng.integers(0, 6, len(corners))
    flat = np.hypot(*(corners[:, 0] - corners[:, 3]).T) == 0
    shapes = np.where(flat, shapely.linestrings(corners[:, :2]), shapely.polygons(corners))
    every = shapely.distance(shapes[:, None], segments.shapes[None])
    found = segments.quads_apart(corners, own, 4.0)
    for column, mine in enumerate(
        (segments.line < own[:, None], segments.line == own[:, None], segments.line > own[:, None])
    ):
        wanted = np.where(mine & (every <= 4.0), every, np.inf).min(axis=1)
        assert found[:, column] == pytest.approx(wanted, abs=1e-9)


def test_a_segment_inside_a_quad_is_no_way_off():
    corners = np.array([[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]])
    inner = Segments(np.array([[4.0, 4.0]]), np.array([[5.0, 5.0]]), np.array([3]), np.zeros(1), np.ones(1))
    assert inner.quads_apart(corners, np.array([0]), 2.0).tolist() == [[np.inf, np.inf, 0.0]]
    assert inner.quads_apart(corners[:0], np.zeros(0, dtype=np.int64), 2.0).shape == (0, 3)


@given(SEEDS)
def test_what_lies_apart_is_taken_away_at_once_as_if_it_were_joined_first(seed):
    """Tiles of a slanted chequered cloth, some of them missing, most touching along whole or half edges."""
    rng = np.random.default_rng(seed)
    turned = np.array([[np.cos(0.3), np.sin(0.3)], [-np.sin(0.3), np.cos(0.3)]])
    x0, y0 = np.meshgrid(np.arange(8.0), np.arange(5.0))
    x0, y0 = x0.ravel() + 0.5 * (y0.ravel() % 2), y0.ravel()
    corners = np.stack([np.column_stack(p) for p in ((x0, y0), (x0 + 1, y0), (x0 + 1, y0 + 1), (x0, y0 + 1))], axis=1)
    cloth = shapely.set_precision(shapely.polygons(corners @ turned + np.array([600_000.0, 5_000_000.0])), 1e-6)
    field = shapely.buffer(shapely.union_all(cloth), 0.25)
    gone = cloth[rng.random(len(cloth)) < 0.7]
    pair = np.zeros(len(gone), dtype=np.int64), np.arange(len(gone))
    one, other = (subtract(np.array([field], dtype=object), pair, gone, apart=apart)[0] for apart in (True, False))
    assert one.area == pytest.approx(field.area - shapely.area(gone).sum(), abs=1e-4)
    x, y = rng.uniform(field.bounds[:2], field.bounds[2:], (400, 2)).T
    off_edges = shapely.distance(shapely.points(x, y), shapely.union_all(shapely.boundary([one, other]))) > 1e-4
    assert np.array_equal(shapely.contains_xy(one, x, y)[off_edges], shapely.contains_xy(other, x, y)[off_edges])
    assert one.is_valid


def test_shapes_that_lie_over_each_other_are_joined_though_they_were_held_to_lie_apart():
    gone = np.array([box(1, 1, 3, 3), box(2, 2, 4, 4)], dtype=object)
    left = subtract(np.array([box(0, 0, 5, 5)], dtype=object), (np.zeros(2, dtype=int), np.arange(2)), gone, apart=True)
    assert left[0].area == pytest.approx(25 - 7)
