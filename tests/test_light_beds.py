"""Light on beds by year and month, as a layer."""

from itertools import pairwise

import geopandas as gpd
import numpy as np
import pytest
from shapely import LineString, box

from geoagro.light.bed_light import Spots, Trees, light_on_beds
from geoagro.light.growth import canopy_of
from geoagro.light.rays import Sky
from geoagro.light.records.bed_light import YEARS
from geoagro.light.spots import spots_on
from geoagro.values.recipe import Crop
from geoagro.values.section import Key, Line, Section
from geoagro.values.terrain import Terrain
from geoagro.values.timeline import Standing, Stay

KEY = Key("tree", "tree", "t", "tree", 0, 2000)
TREE = Crop(
    canopy_width_m=3.0, height_m=5.0, full_size_weeks=416, spacing_m=3.0, usual_per_m2=1 / 12, crown_base_share=0.2
)


def trees(prunings=(), **changes):
    crop = TREE.model_copy(update=changes)
    standing = Standing("tree", "tree", "t", "tree", 1, (Stay(1, 0, 156, 2000, 2000, prunings),))
    section = Section(5.0, 1, (Line(KEY, 2.5, 3.0),), ())
    return Trees(section, (standing,), {KEY: canopy_of(crop, south=True)}, 1)


def beds(count=2):
    shape = [box(0, -1.5 - k, 10, -0.5 - k) for k in range(count)]
    columns = {"bed": [f"b{k}" for k in range(count)], "row": [1] * count, "side": ["down", "up"][:count]}
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
