"""The files of rows alone: layers, raster, pictures, and settings side by side."""

import csv
from dataclasses import replace

import numpy as np
import pyogrio
import pytest
import rasterio
from builders import EAST, NORTH, plane, square_ground
from row_plan_builders import FIELD, LIMITS, row_plan, saddle
from shapely.affinity import scale
from test_outputs_picture import lightness

from geoagro.outputs.rows.difficulty_picture import _PAINTS as DIFFICULTY_PAINTS
from geoagro.outputs.rows.difficulty_picture import draw_difficulty, write_difficulty_picture
from geoagro.outputs.rows.difficulty_raster import NO_DATA, NO_END, write_difficulty_raster
from geoagro.outputs.rows.files import write_comparison, write_rows
from geoagro.outputs.rows.picture import draw_plan
from geoagro.outputs.rows.trade_curve import draw_trade_curve
from geoagro.outputs.staging import WORK
from geoagro.rows.comparison import compare_settings
from geoagro.rows.records.comparison import ROW_COMPARISON
from geoagro.terrain.difficulty import terrain_difficulty
from geoagro.terrain.difficulty_zones import difficulty_zones
from geoagro.values.design import RowRule


@pytest.fixture(scope="module")
def plan():
    return row_plan()


@pytest.fixture(scope="module")
def table():
    rules = [RowRule(method="straight", max_grade_pct=g) for g in (2.0, 4.0)]
    rules.append(RowRule(method="straight", max_grade_pct=6.0, min_row_length_m=500))
    return compare_settings(square_ground(60), plane(size_m=60), rules, own=rules[1])


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
    assert {"spacing gives out first", "grade gives out first nowhere"} <= set(gentle)
    assert {"below 20 m", "20 to 50 m", "200 m or more", "below 5 rows", "40 rows or more"} <= set(gentle)
    assert any(hard.sentence[:30] in text.get_text().replace("\n", " ") for text in figure.texts)
    assert "grade gives out first" in difficulty_words(0.02)[0]


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


def test_charts_show_each_measure_and_ring_the_design_once_in_each(table):
    figure = draw_trade_curve(table, title="invented")
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    assert titles[:5] == [
        "Ground with rows that hold all limits",
        "Ground with rows",
        "Row ends per hectare",
        "Grade along the rows",
        "Distance between rows",
    ]
    for axes in figure.axes[:4]:
        rings = [line for line in axes.lines if line.get_fillstyle() == "none" and len(line.get_xdata())]
        assert len(rings) == 1
        np.testing.assert_allclose(rings[0].get_xdata(), [1.0], atol=0.3)  # band of the second grade limit
    key = figure.axes[5]
    words = {text.get_text() for text in key.get_legend().get_texts()}
    assert {"straight rows", "the design as it stands"} <= words
    assert any("straight at 6 %" in text.get_text() for text in key.texts)  # it gave no rows, and the chart says so


def test_a_gap_in_the_rows_is_told_as_a_number_and_does_not_flatten_the_chart(table):
    wide = table.assign(spacing_p95_m=[9.04, 4.6, np.nan])
    axes = draw_trade_curve(wide, title="invented").axes[4]
    assert "9.0 m" in {text.get_text() for text in axes.texts}
    assert axes.get_ylim()[1] < 7


def test_charts_of_unknown_grades_say_so(table):
    blind = table.assign(grade_p95_pct=np.nan)
    axes = draw_trade_curve(blind, title="invented").axes[3]
    assert any("heights unknown" in text.get_text() for text in axes.texts)


def test_the_comparison_as_csv_keeps_every_line_and_leaves_the_unknown_empty(table, tmp_path):
    written = write_comparison(table, tmp_path, title="invented")
    assert [p.name for p in written] == ["rows_compared.png", "rows_compared.csv"]
    with written[1].open(encoding="utf-8", newline="") as file:
        lines = list(csv.DictReader(file))
    assert list(lines[0]) == ROW_COMPARISON.columns
    assert [line["max_grade_pct"] for line in lines] == ["2.00", "4.00", "6.00"]
    assert [line["own"] for line in lines] == ["False", "True", "False"]
    assert float(lines[0]["covered"]) == pytest.approx(table["covered"][0], abs=1e-4)
    assert lines[2]["covered"] == ""
    assert "500 m" in lines[2]["problem"]
