"""Contour rows on ground whose shape is known: hard limits everywhere, closed forms where there are any."""

import landforms
import numpy as np
import pytest
import row_judge
import shapely
from landforms import EAST, NORTH, all_of, square, terrain_of

from geoagro.rows.layout import lay_rows
from geoagro.rows.quality import legal_share, view_rows
from geoagro.values.design import RowRule

RULE = RowRule()
D = RULE.spacing_m
APART = (1 - RULE.spacing_tolerance) * D
MOST = RULE.max_grade_pct / 100
SIZE = landforms.SIZE_M

# Legal share at the grade limit that the rows must at least reach (a floor under today's figures, no source).
FLOOR = {
    "plane": 0.97,
    "slanted plane": 0.95,
    "flat": 0.97,
    "cone": 0.97,
    "dome": 0.97,
    "saddle": 0.7,
    "ridge": 0.97,
    "gully": 0.88,
}
SHAPE = {
    "plane": landforms.plane,
    "slanted plane": landforms.slanted_plane,
    "flat": landforms.flat,
    "cone": landforms.cone,
    "dome": landforms.dome,
    "saddle": landforms.saddle,
    "ridge": landforms.ridge,
    "gully": landforms.gully,
}
EVERY = sorted(SHAPE)


def ground_of(name):
    return landforms.ground_of(SHAPE[name])


def laid(name):
    return landforms.laid_on(SHAPE[name])


def inside(row):
    """Stations 0.7 m apart, half a metre inside the row (nearer to its ends the chord is hardly 5 m long)."""
    return np.arange(0.5, row.length - 0.5, 0.7)


def height(name):
    grid = ground_of(name)
    return lambda x, y: float(grid.sample(x, y))


@pytest.mark.parametrize("name", EVERY)
def test_rows_are_simple_lie_in_the_ground_and_none_is_too_short(name):
    rows = laid(name).kept
    assert shapely.is_simple(rows).all()
    assert shapely.covers(square(SIZE).buffer(1e-6), rows).all()
    assert shapely.length(rows).min() >= RULE.min_row_length_m
    assert not shapely.has_z(rows).any()


@pytest.mark.parametrize("name", EVERY)
def test_no_two_rows_come_nearer_than_the_tolerance_let_alone_cross(name):
    rows = np.asarray(laid(name).kept, dtype=object)
    i, j = shapely.STRtree(rows).query(rows, predicate="dwithin", distance=D)
    pair = i < j
    assert shapely.distance(rows[i[pair]], rows[j[pair]]).min(initial=np.inf) >= APART - 1e-6


@pytest.mark.parametrize("name", EVERY)
def test_no_row_comes_back_nearer_to_itself_than_the_tolerance(name):
    for row in laid(name).kept:
        stations = np.arange(0.5, row.length, 2.0)
        assert min(row_judge.nearest([row], 0, s, D) for s in stations) >= APART - 1e-6


@pytest.mark.parametrize("name", EVERY)
def test_no_ten_metres_of_row_are_steeper_than_the_limit(name):
    z = height(name)
    steepest = max(row_judge.grade(row, s, z) for row in laid(name).kept for s in inside(row))
    assert steepest <= MOST


@pytest.mark.parametrize("name", EVERY)
def test_no_five_metres_of_row_bend_tighter_than_the_limit(name):
    tightest = min(row_judge.radius(row, s) for row in laid(name).kept for s in np.arange(0, row.length, 0.7))
    assert tightest >= RULE.min_turn_radius_m


@pytest.mark.parametrize("name", EVERY)
def test_most_ground_is_planted_legally_in_the_eyes_of_the_slow_judge(name):
    rows = laid(name).kept
    rule = {"spacing_m": D, "tolerance": RULE.spacing_tolerance, "max_grade": MOST, "min_run_m": RULE.min_row_length_m}
    fine, coarse = (legal_share(view_rows(rows, ground_of(name), D, step_m=s), SIZE**2, **rule) for s in (0.5, 2.0))
    judged = row_judge.judge(rows, height(name), D, 2.0)
    assert coarse == pytest.approx(row_judge.legal_share(judged, SIZE**2, D, RULE.spacing_tolerance, MOST), abs=1e-6)
    assert fine >= FLOOR[name]


@pytest.mark.parametrize("name", EVERY)
def test_every_cut_piece_has_a_known_reason_and_lies_in_the_ground(name):
    for reason, piece in laid(name).cut:
        assert reason in {"spacing_limit", "grade_limit", "turn_radius", "short_row", "turning_cost"}
        assert piece.length > 0
        assert square(SIZE).buffer(1e-6).covers(piece)


@pytest.mark.parametrize(("name", "uphill_deg"), [("plane", 0.0), ("slanted plane", 33.0)])
def test_on_a_plane_rows_are_straight_level_and_one_spacing_apart(name, uphill_deg):
    # The row field is linear there, which the lattice holds exactly: what is left is rounding, well under a millimetre.
    up = np.array([np.sin(np.radians(uphill_deg)), np.cos(np.radians(uphill_deg))])
    rows = laid(name).kept
    across = [shapely.get_coordinates(row) @ up - np.array([EAST, NORTH]) @ up for row in rows]
    assert max(np.ptp(a) for a in across) < 1e-3
    gaps = np.diff(np.sort([a.mean() for a in across]))
    np.testing.assert_allclose(gaps, D, atol=1e-3)
    length = sum(row.length for row in rows)
    cut = sum(piece.length for _, piece in laid(name).cut)
    assert length + cut == pytest.approx(SIZE**2 / D, rel=0.03)  # the field's area over the spacing


@pytest.mark.parametrize("name", ["plane", "flat"])
def test_on_a_plane_and_on_level_ground_nothing_is_cut(name):
    assert laid(name).cut == []
    assert all(len(row.coords) == 2 for row in laid(name).kept)  # no vertex that 2 cm don't need


@pytest.mark.parametrize("name", ["cone", "dome"])
def test_round_hills_get_closed_rings_about_their_top_one_spacing_apart(name):
    rings = [row for row in laid(name).kept if row.is_closed]
    assert len(rings) >= 8
    middle = np.array([EAST, NORTH])
    radii = [np.hypot(*(shapely.get_coordinates(shapely.segmentize(ring, 0.5)) - middle).T) for ring in rings]
    mean = np.array(sorted(r.mean() for r in radii))
    np.testing.assert_allclose(np.diff(mean), D, atol=0.05 * D)
    for ring in rings:
        assert shapely.Polygon(ring).centroid.distance(shapely.Point(middle)) < 0.25 * D


@pytest.mark.parametrize("name", ["cone", "dome"])
def test_on_round_hills_the_rings_are_on_contour(name):
    view = view_rows([row for row in laid(name).kept if row.is_closed], ground_of(name), D)
    assert np.sqrt((view.grade**2).mean()) < 0.02


@pytest.mark.parametrize("name", ["ridge", "slanted plane"])
def test_laid_rows_know_what_the_slow_judge_sees(name):
    rows = lay_rows(all_of(square(SIZE)), terrain_of(ground_of(name)), RULE)
    frame = rows.frame
    judged = row_judge.judge(list(frame.geometry), height(name), D, 0.5)
    for k in range(len(frame)):
        mine = [j for j in judged if j.row == k]
        assert frame["length_m"][k] == pytest.approx(sum(j.weight for j in mine))
        assert frame["grade_max_pct"][k] == pytest.approx(100 * max(j.grade for j in mine), abs=1e-6)
        assert 1 / frame["min_radius_m"][k] == pytest.approx(max(1 / j.radius for j in mine), rel=1e-5, abs=1e-8)
        up = [j.left for j in mine if np.isfinite(j.left)]
        if up:
            assert frame["up_p50_m"][k] == pytest.approx(np.median(up), abs=1e-6)
    assert sum(frame["length_m"]) == pytest.approx(sum(row.length for row in laid(name).kept), rel=1e-9)
