"""The files of rows alone: layers, raster, pictures, and settings side by side."""

from dataclasses import replace

import numpy as np
import pyogrio
import pytest
import rasterio
from builders import EAST, NORTH
from row_plan_builders import FIELD, LIMITS, row_plan, saddle
from shapely.affinity import scale
from test_outputs_picture import lightness

from geoagro.outputs.rows.difficulty_picture import _PAINTS as DIFFICULTY_PAINTS
from geoagro.outputs.rows.difficulty_picture import draw_difficulty, write_difficulty_picture
from geoagro.outputs.rows.difficulty_raster import NO_DATA, NO_END, write_difficulty_raster
from geoagro.outputs.rows.files import write_rows
from geoagro.outputs.rows.picture import draw_plan
from geoagro.outputs.staging import WORK
from geoagro.terrain.difficulty import terrain_difficulty
from geoagro.terrain.difficulty_zones import difficulty_zones


@pytest.fixture(scope="module")
def plan():
    return row_plan()


def test_the_geopackage_holds_rows_cuts_reasons_and_tables(plan, tmp_path):
    written = write_rows(plan, tmp_path)
    assert {p.name for p in written} == {"rows.gpkg", "rows.png", "difficulty.png", "difficulty.tif"}
    assert {p.name for p in tmp_path.iterdir()} == {*(p.name for p in written), WORK}
    read = {
        name: pyogrio.read_dataframe(tmp_path / "rows.gpkg", layer=name)
        for name, _ in pyogrio.list_layers(tmp_path / "rows.gpkg")
    }
    assert len(read["tree_rows"]) == len(plan.rows.frame)
    assert read["row_cuts"]["reason"].tolist() == ["grade_limit"]
    assert read["row_cuts"]["length_m"].tolist() == [20.0]
    assert set(read["unplanted"]["reason"]) == {"grade_limit", "row_margin"}
    assert read["terrain_limits"]["first"].tolist() == ["neither"]
    assert read["limit_costs"]["area_m2"].sum() == pytest.approx(read["unplanted"]["area_m2"].sum())
    assert {"layout_quality", "terrain_difficulty", "plantable", "contours", "layer_styles"} <= set(read)


def test_the_same_rows_give_the_same_bytes(plan, tmp_path):
    for name in "ab":
        write_rows(plan, tmp_path / name)
    for file in ("rows.gpkg", "rows.png", "difficulty.png", "difficulty.tif"):
        assert (tmp_path / "a" / file).read_bytes() == (tmp_path / "b" / file).read_bytes(), file


def test_without_heights_there_is_no_difficulty_but_rows_are_written(plan, tmp_path):
    bare = replace(plan, difficulty=None, zones=plan.zones.iloc[:0])
    assert {p.name for p in write_rows(bare, tmp_path)} == {"rows.gpkg", "rows.png"}


def test_the_picture_names_the_limits_and_what_was_cut(plan):
    words = {text.get_text().replace("\n", " ") for text in draw_plan(plan).legends[0].get_texts()}
    assert {"Tree row, with its number", "Piece of row cut away", "Row grade above the limit"} <= words
    assert "Leftover at edges and row ends" in words
    assert not {w for w in words if "bed" in w.lower()}


def test_the_raster_says_any_distance_and_no_data_with_numbers_of_their_own(plan, tmp_path):
    level = plan.difficulty.equidistant_m.values.copy()
    level[0, 0], level[0, 1] = np.nan, np.inf
    changed = replace(plan.difficulty, equidistant_m=plan.difficulty.equidistant_m.with_values(level))
    write_difficulty_raster(changed, tmp_path / "a.tif")
    with rasterio.open(tmp_path / "a.tif") as file:
        assert file.descriptions == ("equidistant_m", "holds_grade_m", "flow_curvature")
        assert file.crs.to_epsg() == 32633
        assert (file.transform.c, file.transform.f) == (EAST - 10, NORTH + 70)
        band = file.read(1)
        assert file.nodata == NO_DATA
    assert band[0, 0] == NO_DATA
    assert band[0, 1] == np.float32(NO_END)
    inner = level[5:-5, 5:-5]
    np.testing.assert_allclose(band[5:-5, 5:-5], np.minimum(inner, NO_END), rtol=1e-6)


def difficulty_words(steepness):
    terrain = saddle(steepness)
    hard = terrain_difficulty(terrain, FIELD, **LIMITS)
    plan = row_plan()
    ground = replace(plan.ground, boundary=FIELD, plantable=FIELD)
    site = replace(plan.site, boundary=FIELD)
    plan = replace(plan, site=site, ground=ground, terrain=terrain, zones=difficulty_zones(hard, FIELD, spacing_m=4.5))
    figure = draw_difficulty(plan, hard)
    return [t.get_text() for axes in figure.axes for t in axes.get_legend().get_texts()], figure, hard


def test_the_difficulty_maps_say_in_words_what_gives_out_first():
    gentle, figure, hard = difficulty_words(0.003)
    assert "spacing is the tighter limit" in gentle
    assert "grade is the tighter limit" not in gentle
    assert {"below 20 m", "20 to 50 m", "200 m or more", "below 5 rows", "40 rows or more"} <= set(gentle)
    assert any(hard.sentence[:30] in text.get_text().replace("\n", " ") for text in figure.texts)
    assert "grade is the tighter limit" in difficulty_words(0.02)[0]


def test_each_difficulty_map_has_an_arrow_to_grid_north_clear_of_its_key(plan):
    figure = draw_difficulty(plan, plan.difficulty)
    figure.draw_without_rendering()
    for axes in figure.axes:
        (letter,) = (text for text in axes.texts if text.get_text() == "N")
        (arrow,) = (text.arrow_patch for text in axes.texts if getattr(text, "arrow_patch", None) is not None)
        foot, head = (arrow.get_path().get_extents().intervaly + 0.0).tolist()
        assert head > foot
        shaft, below, key = arrow.get_window_extent(), letter.get_window_extent(), axes.get_legend().get_window_extent()
        assert abs((shaft.x0 + shaft.x1) / 2 - (below.x0 + below.x1) / 2) < 2  # straight up the page, N at its head
        assert below.y0 >= shaft.y1 - 2 and below.y1 < axes.get_window_extent().y0
        assert shaft.y0 > 0 and shaft.x0 > key.x1


def test_a_wide_field_has_its_maps_one_above_the_other(tmp_path, plan):
    write_difficulty_picture(plan, plan.difficulty, tmp_path / "a.png")
    assert (tmp_path / "a.png").stat().st_size > 10_000
    first, second = (axes.get_position() for axes in draw_difficulty(plan, plan.difficulty).axes)
    assert second.x0 > first.x1
    stretched = replace(plan, site=replace(plan.site, boundary=scale(plan.site.boundary, 4.0, 1.0)))
    first, second = (axes.get_position() for axes in draw_difficulty(stretched, plan.difficulty).axes)
    assert second.y1 < first.y0


def test_harder_ground_is_darker_in_black_and_white_by_even_steps():
    steps = np.diff([lightness(paint) for paint in DIFFICULTY_PAINTS])
    assert (steps > 8).all()
