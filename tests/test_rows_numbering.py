"""Numbers from the top, neighbours beside each other, the upslope side on the left."""

import numpy as np
import pytest
import shapely
from landforms import EAST, NORTH, UTM, cone, dome, flat, ground_of, laid_on, plane, saddle, slanted_plane, surface
from shapely import LineString
from shapely.affinity import rotate

from geoagro.rows.numbering import number_rows
from geoagro.values.rows import TREE_ROWS, Lines

D = 4.5
SLOPE = surface(plane)


def line(*xy):
    return LineString([(EAST + x, NORTH + y) for x, y in xy])


def level(y, a=-40.0, b=40.0):
    return line((a, y), (b, y))


def numbered(rows, heights=SLOPE, cut=()):
    return number_rows(Lines(list(rows), list(cut)), heights=heights, spacing_m=D, crs=UTM)


def links(frame, side):
    """Pairs (row, neighbour) of a column of neighbours."""
    return {
        (row, int(other))
        for row, text in zip(frame["row"], frame[f"{side}_rows"], strict=True)
        for other in text.split(",")
        if other
    }


def shuffled(rows, seed=0):
    random = np.random.default_rng(seed)
    rows = [row.reverse() if random.random() < 0.5 else row for row in rows]
    return [rows[k] for k in random.permutation(len(rows))]


@pytest.mark.parametrize("seed", range(4))
def test_on_a_plane_rows_count_from_the_top_and_neighbours_differ_by_one(seed):
    rows = [level(y) for y in np.arange(-40, 41, D)]
    frame = numbered(shuffled(rows, seed)).frame
    n = len(rows)
    assert list(frame["row"]) == list(range(1, n + 1))
    assert (np.diff([g.coords[0][1] for g in frame.geometry]) < 0).all()
    assert list(frame["up_rows"]) == ["", *(str(k) for k in range(1, n))]
    assert list(frame["down_rows"]) == [*(str(k) for k in range(2, n + 1)), ""]


def test_the_order_in_which_rows_come_makes_no_difference():
    heights, rows = ground_of(saddle), laid_on(saddle).kept
    first, second = numbered(rows, heights).frame, numbered(shuffled(rows, 3), heights).frame
    assert shapely.equals_exact(first.geometry.values, second.geometry.values, tolerance=1e-9).all()
    assert list(first["up_rows"]) == list(second["up_rows"])


@pytest.mark.parametrize("shape", [plane, slanted_plane, cone, dome, saddle])
def test_the_upslope_side_is_on_the_left(shape):
    heights, rows = ground_of(shape), shuffled(laid_on(shape).kept)
    for row in numbered(rows, heights).frame.geometry:
        left, right = row.parallel_offset(1.0, "left"), row.parallel_offset(1.0, "right")
        height = [
            np.nanmean(heights.sample(*shapely.get_coordinates(side.segmentize(1.0)).T)) for side in (left, right)
        ]
        assert height[0] > height[1]


@pytest.mark.parametrize("shape", [cone, dome, saddle])
def test_neighbour_lists_answer_each_other_and_neighbours_have_near_numbers(shape):
    heights = ground_of(shape)
    rows = shuffled(laid_on(shape).kept)
    frame = numbered(rows, heights).frame
    up, down = links(frame, "up"), links(frame, "down")
    assert up
    # Whom I call neighbour calls me neighbour, save where the shared length is at the limit; on a hill what I call
    # upslope calls me downslope (across a crest both are upslope of each other, as far as they can see).
    every = up | down
    assert len(every ^ {(b, a) for a, b in every}) <= 0.2 * len(every)
    if shape is not saddle:
        assert len(up ^ {(b, a) for a, b in down}) <= 0.1 * len(up)
    if shape is not saddle:  # two hills and two hollows can't be one stack
        assert np.mean([abs(a - b) for a, b in up]) < 4
        tops = [b < a for a, b in up]
        assert np.mean(tops) > 0.95


def test_on_a_round_hill_rings_count_outward():
    frame = numbered(shuffled(laid_on(cone).kept), ground_of(cone)).frame
    rings = frame[[g.is_closed for g in frame.geometry]]
    assert list(rings["row"]) == list(range(1, len(rings) + 1))
    assert (np.diff(rings["length_m"]) > 0).all()
    slack = 0.1 * 2 * D  # the four corners stand beside each other, and rings needn't be quite round
    assert (np.diff(frame["elevation_m"]) < slack).all()


def test_blocks_that_do_not_face_each_other_are_stacked_highest_first():
    low = [level(y, -40, 40) for y in np.arange(-40, -20, D)]
    high = [level(y, -40, 40) for y in np.arange(10, 30, D)]
    frame = numbered(shuffled([*low, *high])).frame
    north = np.array([g.coords[0][1] - NORTH for g in frame.geometry])
    assert (np.diff(north) < 0).all()
    assert (north[: len(high)] > 0).all()
    assert frame["down_rows"][len(high) - 1] == ""
    assert frame["up_rows"][len(high)] == ""


def test_two_blocks_side_by_side_at_one_height_are_not_mixed():
    west = [level(y, -40, -10) for y in np.arange(-20, 20, D)]
    east = [level(y + 1.0, 5, 40) for y in np.arange(-20, 20, D)]
    frame = numbered(shuffled([*west, *east])).frame
    in_west = [g.centroid.x < EAST for g in frame.geometry]
    assert np.count_nonzero(np.diff(in_west)) == 1


def test_a_short_row_in_a_wedge_stands_between_the_rows_it_parts():
    above, below = line((-40, 6), (0, 6), (40, 2.3)), line((-40, -3), (0, -3), (40, -2.3))
    between = level(1.5, -40, -10)
    frame = numbered([below, between, above]).frame
    assert frame.geometry[1].equals(between)
    assert frame["up_rows"][1] == "1"
    assert frame["down_rows"][1] == "3"
    assert set(frame["up_rows"][2].split(",")) == {"1", "2"}


def test_rows_facing_each_other_along_a_few_metres_are_not_called_neighbours():
    frame = numbered([level(0, -40, 0), level(D, -4, 40)]).frame
    assert list(frame["up_rows"]) == ["", ""]
    frame = numbered([level(0, -40, 0), level(D, -8, 40)]).frame
    assert list(frame["up_rows"]) == ["", "1"]


@pytest.mark.parametrize("turn", [0, 40, 90, 135])
def test_without_heights_rows_count_from_their_left_and_have_no_grades(turn):
    rows = [rotate(level(y), turn, origin=(EAST, NORTH)) for y in np.arange(-20, 21, D)]
    frame = numbered(shuffled(rows), heights=None).frame
    n = len(rows)
    assert list(frame["up_rows"]) == ["", *(str(k) for k in range(1, n))]
    assert frame["elevation_m"].isna().all()
    assert frame[["grade_p50_pct", "grade_p95_pct", "grade_max_pct"]].isna().all(axis=None)
    starts, ends = (np.array([g.coords[k] for g in frame.geometry]) for k in (0, -1))
    east, north = (ends - starts).T
    assert ((east > 1e-6) | ((abs(east) < 1e-6) & (north > 0))).all()


@pytest.mark.parametrize("noise", [0.0, 0.005])
def test_rows_on_level_ground_are_numbered_as_without_heights(noise):
    rows = [level(y) for y in np.arange(-20, 21, D)]
    random = np.random.default_rng(1)
    bumps = surface(lambda x, y: flat(x, y) + noise * random.normal(size=np.shape(x)))
    frame = numbered(shuffled(rows, 2), bumps).frame
    assert shapely.equals_exact(frame.geometry.values, numbered(rows, None).frame.geometry.values).all()
    assert list(frame["up_rows"]) == ["", *(str(k) for k in range(1, len(rows)))]


def test_each_row_carries_its_measures():
    slant = rotate(level(0), np.degrees(np.arcsin(0.25)), origin=(EAST, NORTH))
    frame = numbered([slant]).frame  # on 8 % of slope: grade 8 % x 0.25 = 2 %
    assert frame["length_m"][0] == pytest.approx(80)
    assert frame["elevation_m"][0] == pytest.approx(100.0, abs=1e-6)
    assert list(frame[["grade_p50_pct", "grade_p95_pct", "grade_max_pct"]].iloc[0]) == pytest.approx([2.0] * 3)
    assert frame["min_radius_m"][0] > 1e6
    assert frame[["up_p50_m", "down_p50_m"]].isna().all(axis=None)


def test_distances_to_the_neighbours_are_those_of_a_wedge():
    low, high = level(0), line((-40, 4), (40, 6))
    frame = numbered([low, high]).frame
    assert frame["up_p50_m"][1] == pytest.approx(5.0, abs=0.01)  # 4 m to 6 m, in the middle 5
    assert frame["up_p05_m"][1] == pytest.approx(4.1, abs=0.06)
    assert frame["up_p95_m"][1] == pytest.approx(5.9, abs=0.06)
    assert frame["down_p50_m"][0] == pytest.approx(5.0 * np.hypot(1, 2 / 80), abs=0.1)


def test_cut_pieces_come_along_with_their_reasons():
    pieces = [("grade_limit", level(10, 0, 5)), ("short_row", level(20, 0, 15))]
    rows = numbered([level(0)], cut=pieces)
    assert list(rows.cut["reason"]) == ["grade_limit", "short_row"]
    assert list(rows.cut.length) == pytest.approx([5, 15])
    assert rows.cut.crs == UTM


def test_no_rows_give_an_empty_layer():
    rows = numbered([])
    assert len(rows.frame) == 0
    assert set(TREE_ROWS.columns) <= set(rows.frame.columns)


def test_numbers_go_on_across_a_ridge_where_the_upslope_side_changes():
    lines = [level(y) for y in np.arange(-36, 40, 4.5)]
    ridge = surface(lambda _x, y: 100 - 0.05 * np.abs(y - 3))
    north = numbered(lines, ridge).frame.geometry.centroid.y.to_numpy()
    assert np.all(np.diff(north) > 0) or np.all(np.diff(north) < 0)
