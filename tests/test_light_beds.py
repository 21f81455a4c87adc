"""Light on beds by year and month, as a layer."""

from dataclasses import replace
from itertools import pairwise

import geopandas as gpd
import numpy as np
import pytest
from builders import EAST, NORTH, plane
from shapely import LineString, box

from geoagro.light.bed_light import OPEN_M, Spots, Trees, _layer, _months, _read, _spread, _states, light_on_beds
from geoagro.light.canopy import light_below
from geoagro.light.growth import canopy_of
from geoagro.light.rays import Sky
from geoagro.light.records.bed_light import YEARS
from geoagro.light.spots import _fall, spots_on
from geoagro.values.recipe import Crop
from geoagro.values.section import Key, Line, Section
from geoagro.values.terrain import Terrain
from geoagro.values.timeline import Standing, Stay

KEY = Key("tree", "tree", "t", "tree", 0, 2000)
TREE = Crop(
    canopy_width_m=3.0, height_m=5.0, full_size_weeks=416, spacing_m=3.0, usual_per_m2=1 / 12, crown_base_pct=20
)


def trees(prunings=(), **changes):
    crop = TREE.model_copy(update=changes)
    standing = Standing("tree", "tree", "t", "tree", 1, (Stay(1, 0, 156, 2000, 2000, prunings),))
    section = Section(5.0, 1, (Line(KEY, 2.5, 3.0),), ())
    return Trees(section, (standing,), {KEY: canopy_of(crop, south=True)}, 1)


def beds(count=2):
    shape = [box(0, -1.5 - k, 10, -0.5 - k) for k in range(count)]
    columns = {"bed": [f"b{k}" for k in range(count)], "row": [1] * count, "side": (["down", "up"] * count)[:count]}
    return gpd.GeoDataFrame(columns, geometry=shape, crs="EPSG:32733")


def spots(bearing, right=(1.2, 3.8), alley=5.0, fall=0.0):
    two = np.ones(2)
    return Spots(np.arange(2), bearing * two, alley * two, np.array(right), fall * two)


def means(found, bed):
    return [float(found.beds[f"year_{year}_pct"].iloc[bed]) for year in YEARS]


SOUTH = Sky(-30.0)


def test_light_falls_as_trees_grow_and_then_stays():
    light = means(light_on_beds(beds(), spots(0.0), trees(), SOUTH, basis=""), 0)
    assert all(a >= b - 1e-9 for a, b in pairwise(light))
    assert light[0] > 90
    assert light[-1] == pytest.approx(light[-2])


def test_beds_on_both_sides_of_rows_that_run_north_get_the_same_light():
    found = light_on_beds(beds(), spots(0.0), trees(), SOUTH, basis="")
    assert means(found, 0) == pytest.approx(means(found, 1), abs=0.3)


def test_south_of_the_equator_the_bed_south_of_a_row_lies_in_its_shade():
    """Rows that run east: right of the bearing is south, so the bed at 1.2 m is just south of a row."""
    found = light_on_beds(beds(), spots(90.0), trees(), SOUTH, basis="").beds
    south, north = found["darkest_pct"]
    assert south < north


def test_pruned_trees_leave_more_light():
    every_year = tuple(range(52, 2000, 52))
    whole = means(light_on_beds(beds(), spots(0.0), trees(), SOUTH, basis=""), 0)
    pruned = trees(every_year, pruned_width_m=1.5, pruned_height_m=3.0)
    assert means(light_on_beds(beds(), spots(0.0), pruned, SOUTH, basis=""), 0)[-1] > whole[-1] + 10


def test_leafless_months_are_as_light_as_open_ground():
    bare = trees(leafless_months=(6, 7))
    assert bare.canopies[KEY].leafless == (12, 1)  # the library counts north of the equator
    months = light_on_beds(beds(), spots(0.0), bare, SOUTH, basis="").months
    last = months[months["year"] == 20].set_index("month")["mean_pct"]
    assert last[12] == last[1] == pytest.approx(100.0)
    assert last[6] < 80


def test_wider_alleys_are_lighter():
    near, far = (
        means(light_on_beds(beds(), spots(0.0, (w / 4, 3 * w / 4), w), trees(), SOUTH, basis=""), 0)[-1] for w in (5, 8)
    )
    assert far > near + 5


def test_places_between_rows_are_measured_from_the_row_on_the_left():
    axes = [LineString([(0, 1.5), (30, 1.5)]), LineString([(0, -3.5), (30, -3.5)])]
    frame = gpd.GeoDataFrame(
        {"row": [1, 1], "side": ["up", "down"], "facing_row": [0, 2], "axis": axes},
        geometry=[a.buffer(0.5) for a in axes],
    )
    rows = gpd.GeoDataFrame(
        {"row": [1, 2]}, geometry=[LineString([(-5, 0), (35, 0)]), LineString([(-5, -5), (35, -5)])]
    )
    flat = Terrain(slope=None, aspect_deg=None, heights=None, smooth=None, smoothing_m=0.0, height_source="")
    found = spots_on(frame, rows, flat)
    assert np.bincount(found.bed).tolist() == [3, 3]
    assert found.bearing_deg.tolist() == pytest.approx([90.0] * 6)
    down = found.bed == 1
    assert found.right_m[down].tolist() == pytest.approx([3.5] * 3)
    assert found.alley_m[down].tolist() == pytest.approx([5.0] * 3)
    assert found.right_m[~down].tolist() == pytest.approx([38.5] * 3)


def test_ground_that_falls_nearly_alike_counts_as_alike():
    every = [light_on_beds(beds(), spots(90.0, fall=fall), trees(), SOUTH, basis="") for fall in (0.06, 0.14, 0.26)]
    told = [means(found, 0) for found in every]
    assert told[0] == told[1] != told[2]


def test_a_bed_has_the_mean_light_of_its_places_month_by_month():
    """The same by the rays of one month at full size, ground that falls and an alley between its classes."""
    places = Spots(
        np.array([0, 0, 1]), np.full(3, 62.0), np.full(3, 5.1), np.array([1.02, 2.55, 4.08]), np.full(3, 0.12)
    )
    found = light_on_beds(beds(), places, trees(), SOUTH, basis="told")
    canopy = canopy_of(TREE, south=True)
    crown = canopy.crown(((0.0,), (3.0,)), (1.0, 1.0))
    each = []
    for month in range(1, 13):
        rays = SOUTH.rays((month,), 60.0).sloped(0.1)
        x, left = light_below((crown,), 5.0, rays)
        ground = rays.weight @ left
        each.append(np.interp([1.0, 2.5, 4.0], x, ground))
    each = 100 * np.array(each)
    first, second = each[:, :2].mean(axis=1), each[:, 2]
    assert means(found, 0)[-1] == pytest.approx(first.mean())
    assert means(found, 1)[-1] == pytest.approx(second.mean())
    assert found.beds["darkest_month"].tolist() == [int(np.argmin(v)) + 1 for v in (first, second)]
    assert found.beds["darkest_pct"].tolist() == pytest.approx([first.min(), second.min()])
    last = found.months[found.months["year"] == 20]
    assert last["month"].tolist() == list(range(1, 13))
    assert last["mean_pct"].to_numpy() == pytest.approx((first + second) / 2)  # both beds have 10 m2
    assert (found.first_month, found.basis) == (1, "told")


def test_bearings_widths_and_falls_are_taken_to_their_steps():
    def light(bearing=60.0, alley=5.0, fall=0.0):
        share = (1.2 / 5 * alley, 3.8 / 5 * alley)
        return means(light_on_beds(beds(), spots(bearing, share, alley, fall), trees(), SOUTH, basis=""), 0)

    assert light() == light(67.0) == pytest.approx(light(53.0)) != light(68.0)
    assert light(359.0) == light(1.0) == light(360.0)
    assert light() == pytest.approx(light(alley=5.2)) != light(alley=5.3)
    assert light(fall=0.6) == light(fall=0.9) != light(fall=0.5)
    assert light(fall=-0.6) == light(fall=-0.9) != light(fall=-0.5)


def test_light_of_beds_is_told_by_class_in_year_five_and_by_its_darkest_month():
    frame = beds(5)
    light = np.ones((5, len(YEARS), 12))
    light[:, YEARS.index(5)] = np.array([0.86, 0.71, 0.69, 0.49, 0.29])[:, None]
    light[:, -1] = 0.6
    light[:, -1, 7] = 0.3
    found = _layer(frame, light)
    assert found["light_class"].tolist() == ["over 85", "70 to 85", "50 to 70", "30 to 50", "under 30"]
    light[:, YEARS.index(5)] = np.array([0.84, 0.84, 0.51, 0.31, 0.31])[:, None]
    assert _layer(frame, light)["light_class"].tolist() == ["70 to 85", "70 to 85", "50 to 70", "30 to 50", "30 to 50"]
    assert set(found["darkest_month"]) == {8} and set(found["darkest_pct"]) == {30.0}
    assert found["year_20_pct"].tolist() == pytest.approx([100 * (11 * 0.6 + 0.3) / 12] * 5)
    assert found["year_3_pct"].tolist() == [100.0] * 5
    assert len(_layer(frame.iloc[:0], light[:0])) == len(_months(frame.iloc[:0], light[:0])) == 0


def test_the_spread_over_beds_goes_by_area():
    """12 % of the ground has 0.3, 38 % 0.6 and the other half 0.9."""
    low, mean, high = _spread([0.9, 0.3, 0.6], [50.0, 12.0, 38.0])
    assert (low, mean, high) == pytest.approx((0.3, 0.45 + 0.036 + 0.228, 0.9))
    assert _spread([0.9, 0.3, 0.6], [9.0, 8.0, 83.0])[::2] == pytest.approx((0.6, 0.6))


def test_light_between_places_is_straight_and_goes_round():
    x, ground = np.array([0.5, 1.5]), np.array([[1.0, 3.0], [0.0, 1.0]])
    read = _read(np.array([0.0, 0.5, 1.0, 1.9]), x, ground, 2.0)
    assert read == pytest.approx(np.array([[2.0, 0.5], [1.0, 0.0], [2.0, 0.5], [2.2, 0.6]]))


def test_a_years_states_are_those_of_the_middle_of_each_quarter_from_its_first_month_on():
    asked = []

    class Grown:
        first_month = 11

        def crowns(self, week, month):
            asked.append((week, month))
            return (month in (12, 1),)

    states = list(_states(Grown(), 3))
    assert states == [((False,), (11, 2, 3, 4, 5, 6, 7, 8, 9, 10)), ((True,), (12, 1))]
    assert [month for _, month in asked] == [11, 12, *range(1, 11)]
    middle = [(2 + (quarter + 0.5) / 4) * 365.25 / 7 for quarter in (0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 3)]
    assert [week for week, _ in asked] == pytest.approx(middle)


def test_lines_of_several_rows_are_put_on_one():
    """Two rows: plants every 3 m in one line and every 6 m in another are one every 4 m of row."""
    stand = trees()
    wide = Section(10.0, 2, (Line(KEY, 2.5, 3.0), Line(KEY, 7.5, 6.0)), ())
    (crown,) = replace(stand, section=wide).crowns(1000.0, 1)
    assert (crown.x_m, crown.spacing_m) == ((0.0,), pytest.approx((4.0,)))
    assert stand.crowns(2001.0, 1) == () == replace(stand, section=Section(5.0, 1, (), ())).crowns(1000.0, 1)


def test_the_fall_across_a_bed_is_that_of_the_ground_to_its_right():
    """The plane falls to the south by one in ten: to the right of what runs east, not at all across what runs south."""
    ground = plane(slope=0.1)
    xy = np.full((3, 2), (EAST + 50.0, NORTH + 50.0))
    assert _fall(ground, xy, np.array([90.0, 270.0, 180.0])) == pytest.approx([0.1, -0.1, 0.0], abs=1e-9)
    assert _fall(replace(ground, aspect_deg=None), xy, np.zeros(3)).tolist() == [0.0] * 3


@pytest.mark.parametrize("bearing", [0.0, 30.0, 92.0, 172.5, 179.0])
def test_an_alley_seen_from_its_other_end_gets_the_same_light(bearing):
    there = light_on_beds(beds(), spots(bearing, fall=0.2), trees(), SOUTH, basis="")
    back = light_on_beds(beds(), spots(bearing + 180.0, right=(3.8, 1.2), fall=-0.2), trees(), SOUTH, basis="")
    for bed in (0, 1):
        assert means(there, bed) == pytest.approx(means(back, bed), abs=1e-9)


def test_a_bed_past_the_end_of_the_row_it_faces_lies_in_an_open_alley():
    axis = LineString([(EAST + 1.5, NORTH - 400), (EAST + 1.5, NORTH - 100)])
    frame = gpd.GeoDataFrame(
        {"bed": ["b"], "row": [1], "side": ["down"], "facing_row": [2], "axis": [axis]},
        geometry=[axis.buffer(0.5)],
        crs="EPSG:32633",
    )
    ends = {1: (0.0, -100), 2: (4.5, -300)}
    rows = gpd.GeoDataFrame(
        {"row": list(ends)},
        geometry=[LineString([(EAST + x, NORTH - 400), (EAST + x, NORTH + y)]) for x, y in ends.values()],
        crs="EPSG:32633",
    )
    found = spots_on(frame, rows, plane())
    assert found.alley_m.max() == OPEN_M
    assert found.alley_m.min() == pytest.approx(4.5)
