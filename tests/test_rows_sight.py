"""Neighbours followed between two rounds are the neighbours that a fresh look finds."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from landforms import EAST, NORTH
from shapely import LineString

from geoagro.rows.chains import chains_of
from geoagro.rows.sight import follow, look

D = 4.5
REACH, OWN = 1.5 * D, 3 * D


def waves(count=5, length=60.0, height=1.0):
    x = np.linspace(0, length, 80)
    return [
        LineString(np.column_stack([EAST + x, NORTH + k * D + height * np.sin(x / 9 + k / 3)])) for k in range(count)
    ]


def rings():
    t = np.linspace(0, 2 * np.pi, 90)
    out = []
    for radius in (10, 14.5, 19):
        xy = np.column_stack([EAST + radius * np.cos(t), NORTH + radius * np.sin(t)])
        xy[-1] = xy[0]
        out.append(LineString(xy))
    return out


@given(st.sampled_from([waves(), rings()]), st.integers(0, 2**32 - 1))
def test_rows_that_moved_a_little_are_followed_to_the_same_distances(rows, seed):
    chains = chains_of(rows, 5 / 3)
    seen = look(chains, reach_m=REACH, own_gap_m=OWN)
    rng = np.random.default_rng(seed)
    shift = np.repeat(rng.uniform(-0.5, 0.5, len(rows)), chains.count)
    moved = chains.shifted(shift)
    followed, fresh = follow(moved, chains, seen, reach_m=REACH), look(moved, reach_m=REACH, own_gap_m=OWN)
    for kept, new, old in zip(followed, fresh, seen, strict=True):
        both = np.isfinite(old.distance) & np.isfinite(new.distance) & np.isfinite(kept.distance)
        assert both.sum() >= 0.9 * np.isfinite(new.distance).sum()
        assert kept.distance[both] == pytest.approx(new.distance[both], abs=1e-9)
        assert (kept.line[both] == new.line[both]).all()
        length = (moved.step * (moved.count - 1))[kept.line[both]]
        way = np.abs(kept.station[both] - new.station[both])
        # where a ring starts it ends
        assert np.where(moved.is_ring[kept.line[both]], np.minimum(way, length - way), way).max() < 1e-4


def test_a_row_that_saw_nothing_still_sees_nothing():
    chains = chains_of(waves(count=1), 2.0)
    for hits in follow(chains, chains, look(chains, reach_m=REACH, own_gap_m=OWN), reach_m=REACH):
        assert np.isinf(hits.distance).all()
        assert (hits.line == -1).all()


def test_a_row_that_moves_out_of_reach_is_lost():
    rows = waves(count=2, height=0.0)
    chains = chains_of(rows, 2.0)
    seen = look(chains, reach_m=REACH, own_gap_m=OWN)
    away = chains_of([rows[0], shapely.transform(rows[1], lambda xy: xy + np.array([0, 3.0]))], 2.0)
    assert (away.count == chains.count).all()
    left, _ = follow(away, chains, seen, reach_m=REACH)
    assert np.isinf(left.distance[: chains.count[0]]).all()


def test_a_row_drawn_the_other_way_round_is_met_at_the_same_place():
    # once the place was measured by the straight pieces between nodes, which are shorter than the row: short of it, from
    # either end
    rows = waves(height=3.0)
    chains, turned = chains_of(rows, 5 / 3), chains_of([row.reverse() for row in rows], 5 / 3)
    last = turned.first + turned.count - 1
    other = last[turned.row] - (np.arange(len(turned.row)) - turned.first[turned.row])
    for mine, theirs in zip(
        look(chains, reach_m=REACH, own_gap_m=OWN), look(turned, reach_m=REACH, own_gap_m=OWN)[::-1], strict=True
    ):
        met = np.isfinite(mine.distance)
        assert met.sum() > 100
        length = (chains.step * (chains.count - 1))[mine.line[met]]
        assert theirs.line[other][met] == pytest.approx(mine.line[met])
        assert length - theirs.station[other][met] == pytest.approx(mine.station[met], abs=1e-6)


def test_a_row_that_grew_is_followed_to_the_same_places_from_either_end():
    """A row half as long again has its nodes elsewhere along it; told by metres, the far end of it was lost."""
    rows = [LineString([(0, y), (60, y)]) for y in (0.0, 4.5)]
    chains = chains_of(rows, 2.0)
    seen = look(chains, reach_m=REACH, own_gap_m=OWN)
    grown = chains_of([shapely.transform(row, lambda xy: xy * np.array([1.5, 1.0])) for row in rows], 3.0)
    assert (grown.count == chains.count).all()
    left, right = follow(grown, chains, seen, reach_m=REACH)
    assert left.distance[: chains.count[0]] == pytest.approx(4.5)
    assert right.distance[chains.count[0] :] == pytest.approx(4.5)
