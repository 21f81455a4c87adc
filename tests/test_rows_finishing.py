"""Rows made wrong by hand: every hard limit holds afterwards, and what was cut carries its reason."""

import numpy as np
import pytest
import row_judge
import shapely
from landforms import EAST, NORTH, flat, plane, square, surface
from shapely import LineString, MultiPolygon, box

from geoagro.rows.finishing import finish_rows

D, TOLERANCE, RADIUS, LEAST = 4.5, 0.1, 6.0, 20.0
APART = (1 - TOLERANCE) * D
LEVEL = surface(flat)


def line(*xy):
    return LineString([(EAST + x, NORTH + y) for x, y in xy])


def arc(x, y, radius, start_deg, end_deg):
    t = np.radians(np.linspace(start_deg, end_deg, 60))
    return list(zip(x + radius * np.cos(t), y + radius * np.sin(t), strict=True))


def finish(lines, field=None, heights=LEVEL, max_grade=0.04, min_length=LEAST):
    return finish_rows(
        lines,
        square() if field is None else field,
        heights,
        spacing_m=D,
        tolerance=TOLERANCE,
        max_grade=max_grade,
        min_radius_m=RADIUS,
        min_length_m=min_length,
    )


def reasons(done):
    return {reason for reason, _ in done.cut}


def cut_for(done, reason):
    return [piece for why, piece in done.cut if why == reason]


def assert_holds(done, field=None, heights=LEVEL, max_grade=0.04, min_length=LEAST):
    field = square() if field is None else field
    rows = done.kept
    for k, row in enumerate(rows):
        assert row.is_simple
        assert row.length >= min_length
        assert field.buffer(1e-6).covers(row)
        for other in rows[:k]:
            assert row.distance(other) >= APART - 1e-6
        for s in np.arange(0, row.length, 0.1):  # five times as dense as the limits are cut at
            assert row_judge.radius(row, s) >= RADIUS - 1e-6
            assert row_judge.grade(row, s, lambda x, y: float(heights.sample(x, y))) <= max_grade + 1e-9


def assert_accounts_for(done, lines, field=None):
    """Kept and cut together are the clipped input: no metre lost, none twice (2 cm: thinned vertices)."""
    clipped = shapely.intersection(shapely.union_all(lines), square() if field is None else field)
    kept = sum(row.length for row in done.kept)
    cut = sum(piece.length for _, piece in done.cut)
    assert kept + cut == pytest.approx(clipped.length, rel=2e-3)
    everything = shapely.union_all([*done.kept, *(piece for _, piece in done.cut)])
    assert clipped.hausdorff_distance(everything) < 0.55  # a stub under half a metre between two gaps may vanish


GOOD = [line((-60, y), (60, y)) for y in np.arange(-40, 41, D)]


def test_good_rows_are_only_clipped():
    done = finish(GOOD)
    assert done.cut == []
    assert len(done.kept) == len(GOOD)
    for row, source in zip(done.kept, GOOD, strict=True):
        assert row.equals(source.intersection(square()))
    assert all(len(row.coords) == 2 for row in done.kept)


def test_in_a_crowded_wedge_the_longer_row_stays_whole_and_the_shorter_stops_where_the_limit_is():
    whole, wedge = line((-45, 0), (45, 0)), line((-30, 0.5), (45, 12.5))
    done = finish([wedge, whole])
    assert reasons(done) == {"spacing_limit"}
    assert_holds(done)
    assert_accounts_for(done, [wedge, whole])
    long, short = sorted(done.kept, key=lambda row: -row.length)
    assert long.length == pytest.approx(90.0)
    assert short.distance(whole) == pytest.approx(APART, abs=0.1)  # samples are half a metre apart


def test_two_crossing_rows_are_parted():
    rows = [line((-40, -8), (40, 8)), line((-40, 8), (40, -8.5))]
    done = finish(rows)
    assert_holds(done)
    assert_accounts_for(done, rows)
    assert reasons(done) >= {"spacing_limit"}


def test_a_row_that_climbs_is_cut_where_it_is_too_steep_and_the_rest_stays():
    slope = surface(lambda x, y: plane(x, y, slope=0.10))
    bend = [(-45, -10), *arc(-15, 10, 20, -90, -60), *arc(12.32, -37.32, 34.64, 120, 90), (45, -2.68)]
    climbing = line(*bend)
    done = finish([climbing], heights=slope)
    assert reasons(done) == {"grade_limit"}
    assert_holds(done, heights=slope)
    assert_accounts_for(done, [climbing])
    (gap,) = cut_for(done, "grade_limit")
    a, b = gap.coords[0], gap.coords[-1]
    assert (b[1] - a[1]) * 0.10 / gap.length > 0.03  # what went is steep, on the whole
    assert len(done.kept) == 2


def test_a_row_steep_all_along_is_cut_whole():
    slope = surface(lambda x, y: plane(x, y, slope=0.10))
    up = line((0, -40), (0, 40))
    done = finish([up], heights=slope)
    assert done.kept == []
    assert reasons(done) == {"grade_limit"}
    assert_accounts_for(done, [up])


def test_a_tight_turn_is_cut_out_for_its_radius():
    turn = line((-40, 0), (10, 0), *arc(10, 5, 5, -90, 90), (10, 10), (-40, 10))
    done = finish([turn])
    assert reasons(done) == {"turn_radius"}
    assert_holds(done)
    assert_accounts_for(done, [turn])
    assert len(done.kept) == 2


def test_a_corner_is_cut_and_the_two_ends_stand_apart():
    corner = line((-40, -20), (0, 0), (40, -20))
    done = finish([corner])
    assert reasons(done) == {"turn_radius"}
    assert_holds(done)
    assert len(done.kept) == 2


def test_a_turn_wide_enough_stays():
    turn = line((-40, 0), (10, 0), *arc(10, 6.5, 6.5, -90, 90), (10, 13), (-40, 13))
    done = finish([turn])
    assert done.cut == []
    assert len(done.kept) == 1


@pytest.mark.parametrize("length", [3.0, 19.5])
def test_a_short_piece_is_left_out_as_short(length):
    short = line((0, 0), (length, 0))
    done = finish([*[row for row in GOOD if abs(row.coords[0][1] - NORTH) > 9], short])
    assert [(why, piece.length) for why, piece in done.cut] == [("short_row", pytest.approx(length))]


def test_what_the_ground_clips_too_short_is_left_out_as_short():
    field = MultiPolygon(
        [box(EAST - 45, NORTH - 45, EAST + 45, NORTH + 45).difference(box(EAST - 30, NORTH - 9, EAST + 25, NORTH + 9))]
    )
    done = finish(GOOD, field=field)
    assert reasons(done) == {"short_row"}
    assert {round(piece.length) for _, piece in done.cut} == {15}
    assert_accounts_for(done, GOOD, field)
    assert_holds(done, field)


@pytest.mark.parametrize("gap", [0.3, 2.0, 3.9])
def test_ends_of_rows_in_one_line_stand_apart_as_rows_side_by_side_do(gap):
    rows = [line((-45, 0), (0, 0)), line((gap, 0), (44, 0))]
    done = finish(rows)
    assert_holds(done)
    assert_accounts_for(done, rows)
    assert len(done.kept) == 2
    assert done.kept[0].distance(done.kept[1]) < APART + 0.6


def test_rows_just_far_enough_apart_lose_nothing():
    near = APART + 0.03
    rows = [line((-45, k * near), (45, k * near)) for k in range(-5, 6)]
    done = finish(rows)
    assert done.cut == []


def test_a_row_that_comes_back_to_itself_is_cut_like_any_other():
    inward = [(-40, 0), (20, 0), *arc(20, 7, 7, -90, 90), (20, 14), (-40, 2.5)]
    rows = [line(*inward)]
    done = finish(rows)
    assert_accounts_for(done, rows)
    for s in np.arange(0, 60, 1.0):
        for row in done.kept:
            if s < row.length:
                assert row_judge.nearest([row], 0, s, D) >= APART - 0.05
    assert_holds(done)


def test_a_ring_stays_closed():
    ring = line(*arc(0, 0, 20, 0, 360))
    ring = LineString([*ring.coords[:-1], ring.coords[0]])
    done = finish([ring])
    assert done.cut == []
    (row,) = done.kept
    assert row.is_closed


@pytest.mark.parametrize("seed", range(6))
def test_limits_hold_whatever_comes_in(seed):
    random = np.random.default_rng(seed)
    ground = surface(lambda x, y: 100 + 0.04 * y + 0.8 * np.sin(x / 11) * np.cos(y / 13))
    x = np.arange(-44, 44.1, 2.0)
    rows = []
    for k in range(-6, 7):
        y = k * D + random.uniform(0.2, 2.5) * np.sin(x / random.uniform(6, 20) + random.uniform(0, 6))
        a, b = np.sort(random.integers(0, len(x), 2))
        if b - a > 3:
            rows.append(line(*zip(x[a:b], y[a:b], strict=True)))
    done = finish(rows, heights=ground, min_length=10.0)
    assert done.kept
    assert done.cut
    assert_holds(done, heights=ground, min_length=10.0)


def test_nothing_in_nothing_out():
    done = finish([])
    assert done.kept == []
    assert done.cut == []


@pytest.mark.parametrize("shift_m", np.arange(0.0, 0.5, 0.06))
def test_a_sharp_corner_between_samples_is_kept_off_other_rows(shift_m):
    """Half a metre of chord would cut the corner off by some centimetres."""
    bent = line((10 - shift_m, 0.9 + 0.8 * shift_m), (11, 0.1), (12, 0.9), (50, 31.3))
    beside = line((11, 0.1 - APART + 0.02), (11, -40))
    done = finish_rows(
        [bent, beside],
        MultiPolygon([box(EAST - 10, NORTH - 50, EAST + 70, NORTH + 50)]),
        LEVEL,
        spacing_m=D,
        tolerance=TOLERANCE,
        max_grade=0.04,
        min_radius_m=0.0,
        min_length_m=LEAST,
    )
    assert len(done.kept) == 2
    assert shapely.distance(*done.kept) >= APART - 1e-6


def test_a_cut_at_a_rows_end_is_no_wider_for_a_rounding():
    """Sums of stretches fall short of a row's length in the last digit; taken for a cut inside, such a cut was widened."""
    heights = surface(lambda x, y: 0.045 * np.maximum(0, x - 15.0), cell_m=0.5)
    gone = []
    for start in np.linspace(-23, -20, 61):
        done = finish([line((start, 0), (20, 0))], heights=heights)
        gone.append(sum(piece.length for _, piece in done.cut))
        assert sum(row.length for row in done.kept) + gone[-1] == pytest.approx(20 - start, abs=1e-6)
    assert min(gone) > 0.5
    assert max(gone) - min(gone) < 0.7
