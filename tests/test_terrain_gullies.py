"""Gullies and ditches: found where they were made, nowhere else, told in words, and taken as exclusions."""

import geopandas as gpd
import numpy as np
import pytest
import shapely
from builders import EAST, NORTH
from click.testing import CliRunner
from input_files import write_raster, write_vector
from landforms import cone, dome, flat, gully, plane, ridge, rolling, square, surface, turned
from shapely import LineString, Polygon, box

from geoagro.cli.main import group
from geoagro.terrain.gullies import (
    LEAST_DEPTH_M,
    NOISE_SDS,
    OUTLINE_DEPTH_M,
    SHORT_CHORD_LIMITS,
    SHORTEST_SPACINGS,
    SHORTEST_WIDTHS,
    WIDEST_SPACINGS,
    gullies,
    ribbons,
)
from geoagro.terrain.gully_findings import gully_findings
from geoagro.terrain.incision import incision, noise_sd
from geoagro.values.terrain import Terrain

SIZE_M = 90.0
NOTHING = Polygon()


def ditch(across, depth_m, width_m):
    """Channel with a flat bed half as wide as its top."""
    return -depth_m * np.clip(2 - 4 * np.abs(across) / width_m, 0, 1)


def cleft(across, depth_m, width_m):
    """V-shaped channel."""
    return -depth_m * np.clip(1 - 2 * np.abs(across) / width_m, 0, None)


def found_on(shape, *, cell_m=1.0, noise_m=0.0, seed=0, grade_pct=4.0, field=None, kept_free=NOTHING):
    grid = surface(shape, size_m=SIZE_M, cell_m=cell_m, margin_m=24.0)
    noise = np.random.default_rng(seed).normal(0, noise_m, grid.values.shape)
    return on_heights(grid.with_values(grid.values + noise), grade_pct=grade_pct, field=field, kept_free=kept_free)


def on_heights(grid, *, grade_pct=4.0, field=None, kept_free=NOTHING):
    land = Terrain(grid, None, grid, grid, 0.0, "made")
    field = field or square(SIZE_M)
    return gullies(land, field, spacing_m=4.5, max_grade_pct=grade_pct, kept_free=kept_free)


def test_the_constants_are_what_was_chosen():
    assert (WIDEST_SPACINGS, SHORTEST_SPACINGS, SHORTEST_WIDTHS) == (3.0, 5.0, 4.0)
    assert (LEAST_DEPTH_M, OUTLINE_DEPTH_M, NOISE_SDS, SHORT_CHORD_LIMITS) == (0.3, 0.1, 6.0, 1.5)


@pytest.mark.parametrize("cell_m", [0.5, 1.0, 2.0])
@pytest.mark.parametrize(("depth_m", "width_m"), [(0.6, 4.0), (1.0, 4.0), (1.5, 6.0)])
def test_a_ditch_is_found_where_it_lies_as_deep_as_it_is_and_a_cell_wider_at_most(depth_m, width_m, cell_m):
    frame = found_on(lambda x, y: plane(x, y) + ditch(x - 3, depth_m, width_m), cell_m=cell_m)
    (one,) = frame.itertuples()
    assert one.depth_m == pytest.approx(depth_m, rel=0.1)
    assert width_m / 2 < one.width_m < width_m + cell_m
    assert one.length_m == pytest.approx(SIZE_M, rel=0.03)
    assert one.fall_m == pytest.approx(0.08 * (SIZE_M + 48), rel=0.05)  # of the whole channel, as surveyed
    assert one.deepest_x == pytest.approx(EAST + 3, abs=width_m / 4 + cell_m)
    bed = LineString([(EAST + 3, NORTH - SIZE_M / 2), (EAST + 3, NORTH + SIZE_M / 2)])
    assert one.geometry.buffer(0.01).contains(bed)
    assert bed.buffer(width_m / 2 + cell_m, cap_style="flat").contains(one.geometry)


def test_a_v_shaped_channel_is_told_too_shallow_rather_than_too_deep():
    for depth_m, width_m in ((0.6, 3.0), (1.0, 6.0), (2.0, 10.0)):
        (one,) = found_on(lambda x, y, d=depth_m, w=width_m: plane(x, y) + cleft(x - 3, d, w)).itertuples()
        assert 0.6 * depth_m < one.depth_m <= depth_m
        assert one.width_m == pytest.approx(width_m, rel=0.25)


@pytest.mark.parametrize("angle_deg", [0, 17, 45, 90, 180, 303])
def test_a_gully_is_found_whichever_way_it_runs(angle_deg):
    made = turned(lambda x, y: plane(x, y) + ditch(x, 1.0, 5.0), angle_deg)
    (one,) = found_on(made).itertuples()
    bed = shapely.affinity.rotate(LineString([(0, -80), (0, 80)]), angle_deg, origin=(0, 0))
    bed = shapely.affinity.translate(bed, EAST, NORTH).intersection(square(SIZE_M))
    assert one.geometry.buffer(0.5).contains(bed)
    assert one.length_m == pytest.approx(bed.length, rel=0.08)
    assert one.depth_m == pytest.approx(1.0, abs=0.1)
    assert one.width_m == pytest.approx(4.8, abs=0.7)


def test_a_turned_or_mirrored_raster_gives_turned_or_mirrored_gullies():
    shape = lambda x, y: plane(x, y, uphill_deg=20) + ditch(x - 12 * np.sin(y / 18) - 5, 0.9, 4.0)  # noqa: E731
    grid = surface(shape, size_m=SIZE_M, margin_m=24.0)
    straight = shapely.union_all(on_heights(grid).geometry.to_numpy())
    mirrored = shapely.union_all(on_heights(grid.with_values(grid.values[:, ::-1].copy())).geometry.to_numpy())
    turned_ = shapely.union_all(on_heights(grid.with_values(np.rot90(grid.values).copy())).geometry.to_numpy())
    back = shapely.affinity.scale(mirrored, -1, 1, origin=(EAST, NORTH))
    unturned = shapely.affinity.rotate(turned_, -90, origin=(EAST, NORTH))
    for other in (back, unturned):
        assert other.symmetric_difference(straight).area < 0.02 * straight.area


def test_a_gully_in_the_floor_of_a_valley_is_told_by_its_own_banks():
    (one,) = found_on(lambda x, y: gully(x, y) + ditch(x, 1.0, 5.0)).itertuples()
    assert one.depth_m == pytest.approx(1.0, abs=0.1)
    assert one.width_m == pytest.approx(5.0, abs=0.7)


def test_a_gully_that_winds_is_one_and_two_are_two_the_deepest_first():
    frame = found_on(lambda x, y: plane(x, y) + ditch(x - 10 * np.sin(y / 20) - 15, 0.6, 4) + ditch(x + 25, 1.2, 4))
    assert frame["depth_m"].to_numpy() == pytest.approx([1.2, 0.6], rel=0.1)
    assert frame["gully"].tolist() == [1, 2]
    assert frame["length_m"].iloc[1] > SIZE_M + 2


def terraces(x, y):
    return 100 + 1.0 * np.floor(y / 15)


def curved_terraces(x, y):
    return 100 - 1.0 * np.floor(np.hypot(x, y + 60) / 12)


def winding_terraces(x, y):
    return 100 + 0.05 * y + 1.0 * np.floor((y + 6 * np.sin(x / 9)) / 15)


def swale(x, y, width_m=20.0):
    return plane(x, y) - np.exp(-((x / (width_m / 4)) ** 2) / 2)


def steep_valley(x, y):
    return gully(x, y, side=0.3)


def hollows(x, y):
    return plane(x, y) - 0.8 * np.exp(-(((np.mod(x, 30) - 15) / 4) ** 2) - ((np.mod(y, 30) - 15) / 4) ** 2)


def embankment(x, y):
    return plane(x, y) - ditch(x, 1.0, 5.0)


def road_cut(x, y):
    return plane(x, y) + np.clip((x - 3) / 4, 0, 1) * 1.5


CALM = (plane, flat, cone, dome, ridge, rolling, gully, steep_valley, swale, terraces, curved_terraces)


@pytest.mark.parametrize("shape", [*CALM, winding_terraces, hollows, embankment, road_cut])
def test_nothing_is_found_without_two_banks_close_together(shape):
    assert len(found_on(shape)) == 0


@pytest.mark.parametrize("noise_m", [0.02, 0.05, 0.1, 0.2, 0.5])
@pytest.mark.parametrize("shape", [plane, rolling, terraces])
def test_noise_of_a_survey_is_no_gully(shape, noise_m):
    for seed in range(3):
        assert len(found_on(shape, noise_m=noise_m, seed=seed)) == 0


@pytest.mark.parametrize("noise_m", [0.02, 0.05, 0.1])
def test_a_gully_is_seen_through_noise(noise_m):
    (one,) = found_on(lambda x, y: plane(x, y) + ditch(x - 3, 1.0, 4.0), noise_m=noise_m).itertuples()
    assert one.depth_m == pytest.approx(1.0, rel=0.25)
    assert one.length_m == pytest.approx(SIZE_M, rel=0.1)


def test_what_a_row_can_cross_is_no_gully():
    shape = lambda x, y: plane(x, y) + ditch(x, 0.5, 7.0)  # noqa: E731
    assert len(found_on(shape, grade_pct=4.0)) == 1
    assert len(found_on(shape, grade_pct=30.0)) == 0


def test_cells_too_wide_for_a_channel_and_ground_without_heights_show_none():
    assert len(found_on(lambda x, y: plane(x, y) + ditch(x, 2.0, 6.0), cell_m=5.0)) == 0
    slope = surface(flat)
    land = Terrain(slope, None, None, None, 0.0, "a slope")
    assert len(gullies(land, square(), spacing_m=4.5, max_grade_pct=4.0, kept_free=NOTHING)) == 0


def test_gaps_and_the_edge_of_the_data_make_no_bank():
    grid = surface(rolling, size_m=SIZE_M, margin_m=0.0)
    values = grid.values.copy()
    values[30:45, 30:60] = np.nan
    assert len(on_heights(grid.with_values(values))) == 0
    valley = surface(steep_valley, size_m=SIZE_M, margin_m=0.0)
    assert len(on_heights(valley)) == 0


def test_only_what_lies_in_the_field_is_marked():
    frame = found_on(lambda x, y: plane(x, y) + ditch(x - 3, 1.0, 4.0), field=square(40.0))
    assert frame["length_m"].iloc[0] == pytest.approx(40, rel=0.05)
    assert square(40.0).buffer(1e-6).contains(frame.geometry.iloc[0])
    beside = found_on(lambda x, y: plane(x, y) + ditch(x - 35, 1.0, 4.0), field=square(40.0))
    assert len(beside) == 0


def test_ground_kept_free_already_is_told_and_the_outline_stays_the_same():
    shape = lambda x, y: plane(x, y) + ditch(x - 3, 1.0, 4.0)  # noqa: E731
    open_ = found_on(shape)
    half = found_on(shape, kept_free=box(EAST - 50, NORTH, EAST + 50, NORTH + 50))
    assert half["kept_free_m2"].iloc[0] == pytest.approx(open_["area_m2"].iloc[0] / 2, rel=0.03)
    assert half.geometry.iloc[0].equals(open_.geometry.iloc[0])
    assert len(gully_findings(half, field_m2=8100.0, file="out/rows.gpkg")) == 1
    whole = found_on(shape, kept_free=square(SIZE_M))
    assert gully_findings(whole, field_m2=8100.0, file="out/rows.gpkg") == ()


def test_the_mask_for_noise_is_blind_to_planes_and_to_what_bends_one_way():
    x, y = np.meshgrid(np.arange(80.0), np.arange(70.0))
    assert noise_sd(0.3 * x - 0.1 * y) == pytest.approx(0.0, abs=1e-12)
    assert noise_sd(0.01 * x**2 + np.sin(y / 5)) == pytest.approx(0.0, abs=1e-12)
    drawn = np.random.default_rng(1).normal(0, 0.07, x.shape)
    assert noise_sd(0.3 * x + drawn) == pytest.approx(0.07, rel=0.1)
    assert noise_sd(np.full((2, 9), 1.0)) == 0.0


def test_depth_below_the_banks_is_that_of_a_ditch_on_level_ground_and_nowhere_else():
    grid = surface(lambda x, y: flat(x, y) + ditch(x, 1.0, 6.0), size_m=60.0)
    depth = incision(grid, 13.5).depth.values
    own = 100.0 - grid.values
    np.testing.assert_allclose(depth, own, atol=1e-9)


@pytest.mark.parametrize(("length_m", "width_m"), [(100.0, 3.0), (20.0, 5.0), (7.0, 7.0)])
def test_the_ribbon_of_a_rectangle_is_the_rectangle(length_m, width_m):
    length, width = ribbons(np.array([box(0, 0, length_m, width_m)]))
    assert length[0] == pytest.approx(length_m)
    assert width[0] == pytest.approx(width_m)


# --- as a planter meets them ------------------------------------------------------------------------------------------

DESIGN = """\
name: invented
inputs:
  boundary: {file: field.gpkg}
  elevation: {file: dem.tif, unit: m}
output: {folder: out}
rows: {method: straight, bearing_deg: 90}
"""


@pytest.fixture
def folder(tmp_path):
    write_vector(tmp_path / "field.gpkg", [box(EAST, NORTH, EAST + 70, NORTH + 60)])
    x, y = np.meshgrid(np.arange(150) - 39.5, 109.5 - np.arange(150))
    heights = 200 + 0.06 * y + ditch(x - 30 - 0.1 * y, 1.2, 5.0)
    write_raster(tmp_path / "dem.tif", heights, west=EAST - 40, north=NORTH + 110, cell=1.0, units="m")
    (tmp_path / "design.yaml").write_text(DESIGN)
    return tmp_path


def run(*words):
    done = CliRunner().invoke(group, [str(word) for word in words], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return " ".join(done.stdout.split())


def test_check_tells_of_a_gully_how_deep_and_how_to_keep_rows_off(folder):
    text = run("check", folder / "design.yaml")
    assert "1 channel lies in the field, narrow and steep as gullies and ditches are: up to 1.2 m deep" in text
    assert "Nothing was taken off the field" in text
    assert "{file: out/rows.gpkg, layer: gullies, name: gully, buffer_m: 2}" in text
    assert "needs a licensed professional" in text
    assert not (folder / "out").exists()


def test_the_layer_that_rows_writes_is_taken_as_exclusions_by_the_words_of_the_finding(folder):
    first = run("rows", folder / "design.yaml")
    entry = first[first.index("{file:") : first.index("}") + 1]
    marked = gpd.read_file(folder / "out" / "rows.gpkg", layer="gullies")
    free = gpd.read_file(folder / "out" / "rows.gpkg", layer="plantable").union_all()
    assert free.contains(
        marked.union_all().buffer(-0.5).intersection(box(*free.bounds).buffer(-2))
    )  # nothing was taken

    (folder / "design.yaml").write_text(DESIGN.replace("output:", f"  exclusions: [{entry}]\noutput:"))
    for _ in range(2):  # the file that is read is written anew, with the same outlines
        text = run("rows", folder / "design.yaml")
        assert "narrow and steep" not in text
        again = gpd.read_file(folder / "out" / "rows.gpkg", layer="gullies")
        assert again.union_all().symmetric_difference(marked.union_all()).area < 1e-6
        rows = gpd.read_file(folder / "out" / "rows.gpkg", layer="tree_rows")
        assert rows.distance(marked.union_all()).min() > 1.99
        left = gpd.read_file(folder / "out" / "rows.gpkg", layer="unplanted")
        assert left.loc[left["reason"] == "exclusion", "area_m2"].sum() > marked["area_m2"].sum()


def test_some_of_the_channels_can_be_taken_by_their_numbers(folder):
    run("rows", folder / "design.yaml")
    some = '{file: out/rows.gpkg, layer: gullies, where: "gully <= 1"}'
    (folder / "design.yaml").write_text(DESIGN.replace("output:", f"  exclusions: [{some}]\noutput:"))
    assert "narrow and steep" not in run("check", folder / "design.yaml")


def test_calm_ground_has_no_layer_of_gullies(folder):
    y = np.repeat(109.5 - np.arange(150)[:, None], 150, axis=1)
    write_raster(folder / "dem.tif", 200 + 0.06 * y, west=EAST - 40, north=NORTH + 110, cell=1.0, units="m")
    assert "narrow and steep" not in run("rows", folder / "design.yaml")
    assert "gullies" not in gpd.list_layers(folder / "out" / "rows.gpkg")["name"].tolist()
