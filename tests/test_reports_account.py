from dataclasses import replace

import builders
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from report_builders import CROPS, laid_out, planting
from shapely import MultiPolygon, Polygon, box

from geoagro.errors import LayoutError
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.outputs.words.say import Words
from geoagro.planar.area_error import propagated_sd, writing_sd
from geoagro.reports.account import account_for
from geoagro.reports.boundary_error import simulated_sd
from geoagro.reports.records.account import FOUND
from geoagro.reports.rounding import apportion
from geoagro.reports.uncertainty import coarser_change_m2
from geoagro.values.measures import hectares_text
from geoagro.values.recipe import Crop
from geoagro.values.report import ReportRule, SurveyCounts
from geoagro.values.rules.crop_notes import notes_of
from geoagro.values.zones import REST, ZONE_AREAS, ZONE_CROPS, ZONES, ZoneAccount


def account(rule=None, **shape):
    return account_for(laid_out(**shape), rule or ReportRule(), terrain=builders.plane(slope=0.1))


def test_the_headline_of_a_square_field_is_its_closed_form():
    head = account().headline  # 20 rows of 90 m, 4.5 m apart
    assert head.field_m2 == 8100.0
    assert head.planted_m2 == 20 * 90 * 3.0
    assert head.trees == 20 * (30 + 7)  # plums every 3 m, alders every 12 m from 6 m on
    assert head.plants == 20 * (30 + 7 + 360 + 90)
    assert head.row_length_m == 1800.0
    assert head.trees_per_ha_planted == pytest.approx(740 / 0.54, abs=0.05)
    assert head.empty_beds_m2 == 0.0


@settings(max_examples=6, deadline=None)
@given(size=st.floats(30, 70), spacing=st.floats(4.2, 7), setback=st.floats(0.5, 4))
def test_planted_area_is_shared_out_to_crops_without_a_rest(size, spacing, setback):
    got = account(size_m=size, spacing_m=spacing, setback_m=setback)
    planted = f"{got.headline.planted_m2:.1f}"
    assert f"{got.crops['share_area_m2'].sum():.1f}" == planted
    assert f"{got.strata['share_area_m2'].sum():.1f}" == planted
    assert f"{got.bed_crops['share_area_m2'].sum():.1f}" == planted
    assert f"{got.rows['bed_area_m2'].sum():.1f}" == f"{got.headline.planted_m2 + got.headline.empty_beds_m2:.1f}"
    for table in (got.crops, got.strata, got.rows, got.parts, got.row_crops, got.bed_crops):
        assert table["plants"].sum() == got.headline.plants
    assert got.rows["trees"].sum() == got.parts["trees"].sum() == got.headline.trees


def test_lengths_and_heights_of_rows_are_told_to_a_decimetre():
    """Rows 4.5 m apart on a slope of one in ten differ by 0.45 m in height."""
    rows = account().rows
    for name in ("length_m", "elevation_m", "bed_area_m2"):
        tenths = 10 * rows[name].to_numpy()
        assert np.allclose(tenths, tenths.round(), atol=1e-6), name
    assert np.abs(np.diff(rows["elevation_m"])).min() >= 0.39


def test_a_bed_is_shared_out_by_crown_area():
    got = account().crops.set_index("crop")
    plum, alder = 30 * 4.0**2, 7 * 6.0**2  # crown areas without pi / 4
    assert got.loc["hill_plum", "share_area_m2"] == pytest.approx(1800 * plum / (plum + alder), abs=1.0)
    assert got.loc["hill_plum", "bed_area_m2"] == got.loc["shade_alder", "bed_area_m2"] == 1800.0


def test_without_crown_widths_beds_are_shared_out_by_plants_and_the_report_says_so():
    crops = CROPS | {"salad": replace(CROPS["salad"], canopy_width_m=None)}
    got = account(crops=crops)
    assert got.share_basis == "plants"
    assert got.crops.set_index("crop").loc["hill_plum", "share_area_m2"] == pytest.approx(1800 * 30 / 37, abs=1.0)
    assert any("Salad" in str(caution.values) for caution in got.cautions)
    with pytest.raises(LayoutError, match=r"salad.*canopy_width_m"):
        account(ReportRule(mixture_share="canopy"), crops=crops)


def test_what_is_told_of_a_crop_stays_a_sentence_that_other_languages_say():
    notes = notes_of(Crop(keeps_days=(3, 8)))
    got = account(crops=CROPS | {"salad": replace(CROPS["salad"], notes=notes)}).crops.set_index("crop")
    told = got.loc["salad", "notes"]
    assert told == "harvest keeps 3 to 8 days"
    assert "harvest" not in Words("fr")(told)


@pytest.mark.parametrize("locale", ["es", "fr", "pt_BR"])
def test_how_a_crop_hurts_is_said_in_the_readers_language(locale):
    bean = next(crop for crop in read_crop_library().values() if crop.name == "common bean")
    crops = CROPS | {"salad": replace(CROPS["salad"], name=bean.name, caution=bean.caution)}
    words = Words(locale)
    said = [words(caution.text, **caution.values) for caution in account(crops=crops).cautions]
    assert any(one.startswith(words.crop("common bean")) and one.endswith(words(bean.caution)) for one in said)
    assert words(bean.caution) != bean.caution


def test_where_a_habit_is_unknown_plants_of_tree_beds_count_as_trees():
    crops = {code: replace(crop, habit=None) for code, crop in CROPS.items()}
    got = account(crops=crops)
    assert (got.trees_basis, got.headline.trees) == ("bed", 740)
    assert any("habit" in caution.text for caution in got.cautions)


def test_crowns_that_do_not_touch_cover_the_area_of_their_circles():
    crops = CROPS | {
        "hill_plum": replace(CROPS["hill_plum"], canopy_width_m=2.0),
        "shade_alder": replace(CROPS["shade_alder"], canopy_width_m=0.0),
    }
    got = account(crops=crops)
    assert got.headline.canopy_cover_m2 == pytest.approx(600 * np.pi, abs=0.1)
    assert account().headline.canopy_cover_m2 < 600 * np.pi * 4  # overlaps once, inside the field


def test_beds_without_plants_are_not_planted():
    got = account(plants=lambda beds: planting(replace(beds, beds=beds.beds.iloc[1:].reset_index(drop=True))))
    assert got.headline.empty_beds_m2 == 90.0
    assert got.bed_crops["crop"].isna().sum() == 1
    assert any("carry no plant" in caution.text for caution in got.cautions)


def test_layers_edited_after_the_layout_are_refused():
    laid = laid_out()
    wider = laid.beds.assign(geometry=laid.beds.geometry.buffer(0.1))
    with pytest.raises(LayoutError, match="edited after the layout"):
        account_for(replace(laid, beds=wider), ReportRule())
    away = laid.plants.assign(x=laid.plants["x"] + 500.0)
    with pytest.raises(LayoutError, match="stands outside the field"):
        account_for(replace(laid, plants=away), ReportRule())
    with pytest.raises(LayoutError, match="which no bed layer holds"):
        account_for(replace(laid, plants=laid.plants.assign(bed="R999-T")), ReportRule())


# 282.8 m2 and 123.3 m2: the closed form sd * side * sqrt(2) for 4 corners, and its value for 40 even vertices
@pytest.mark.parametrize(("vertices", "expected"), [(4, 282.8), (40, 123.3)])
def test_boundary_error_by_formula_and_by_simulation(vertices, expected):
    ring = box(0, 0, 100, 100).exterior
    shape = Polygon([ring.interpolate(k * 400 / vertices).coords[0] for k in range(vertices)])
    assert propagated_sd(shape, 2.0) == pytest.approx(expected, abs=0.05)
    assert simulated_sd(shape, 2.0) == pytest.approx(expected, rel=0.05)
    assert simulated_sd(shape, 2.0) == simulated_sd(shape, 2.0)


def test_errors_that_go_together_over_a_dense_boundary_matter_more_and_a_common_shift_not_at_all():
    dense = shapely.segmentize(box(0, 0, 100, 100), 1.0)
    alone, alike = propagated_sd(dense, 2.0), propagated_sd(dense, 2.0, correlation_m=25.0)
    assert alike > 3 * alone
    assert alone == pytest.approx(
        2.0 * np.sqrt((400 - 4) + 4 / 2), rel=1e-6
    )  # sd x root of (sides squared, corners half)
    assert simulated_sd(dense, 2.0, correlation_m=25.0) == pytest.approx(alike, rel=0.06)
    assert propagated_sd(dense, 2.0, correlation_m=1e9) == pytest.approx(0.0, abs=1.0)


def test_points_out_of_reach_of_each_other_may_be_left_out_of_the_sum():
    line = shapely.segmentize(box(0, 0, 400, 300), 1.0)
    points = shapely.get_coordinates(line)[:-1]
    along = np.arange(len(points), dtype=float)
    apart = np.abs(along[:, None] - along[None, :])
    alike = np.exp(-np.minimum(apart, len(points) - apart) / 5.0)
    across = (np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)) / 2
    whole = 2.0 * np.sqrt(np.einsum("ik,ij,jk->", across, alike, across))
    assert propagated_sd(line, 2.0, correlation_m=5.0) == pytest.approx(whole, rel=1e-9)


@given(st.floats(0, 5e6), st.sampled_from([float("nan"), 0.0, 3.0, 23.0, 120.0, 2500.0]))
@settings(max_examples=40)
def test_terminal_and_pages_write_hectares_alike(area_m2, sd_m2):
    assert hectares_text(area_m2, sd_m2) == f"{Words('en').hectares(area_m2, sd_m2)} ha"


@given(st.floats(0, 5e6), st.sampled_from([float("nan"), 0.0, 3.0, 23.0, 120.0, 2500.0]))
@settings(max_examples=40)
@example(42_767.46, 5.6)
def test_an_area_as_measured_and_as_read_from_a_table_are_the_same_hectares(area_m2, sd_m2):
    """Pictures hold areas as measured, tables to 0.1 m2; rounded twice they differed by a digit."""
    assert hectares_text(area_m2, sd_m2) == hectares_text(round(area_m2, 1), sd_m2)


@pytest.mark.parametrize("rule", [ReportRule(), ReportRule(boundary_error_m=0.02), ReportRule(boundary_error_m=9.0)])
def test_the_report_writes_areas_to_the_decimals_of_check_and_pictures(rule):
    laid = laid_out()
    sd = writing_sd(laid.boundary, rule.boundary_error_m, correlation_m=rule.boundary_correlation_m)
    told = account(rule)
    assert told.area_sd_m2 == sd == told.uncertainty.query("method.str.contains('covariances')")["sd_m2"].max()


def test_the_uncertainty_table_says_what_common_surveys_mean_where_the_design_is_silent():
    silent, stated = account().uncertainty, account(ReportRule(boundary_error_m=0.5)).uncertainty
    assert "phone under open sky" in silent["cause"].str.cat()
    assert stated["sd_m2"].iloc[:2].tolist() == pytest.approx([0.5 * 90 * np.sqrt(2)] * 2, rel=0.05)
    assert "sloping area with cells twice as large" in set(stated["cause"])
    area = laid_out().boundary.area
    assert stated["sd_pct"].to_numpy() == pytest.approx(100 * stated["sd_m2"].to_numpy() / area, abs=2e-3)


def test_a_plane_has_the_same_sloping_area_at_any_cell_size():
    terrain = builders.plane(slope=0.3)
    assert coarser_change_m2(builders.square_site().boundary, terrain.heights) == pytest.approx(0.0, abs=1e-6)


def test_each_part_of_the_field_is_a_plot_with_its_plants():
    laid = laid_out()
    west, south, east, north = laid.boundary.bounds
    two = MultiPolygon([box(west, south, east, north - 45), box(west, north - 45 + 1e-6, east, north)])
    got = account_for(replace(laid, boundary=two), ReportRule())
    assert got.parts["part"].tolist() == ["01", "02"]
    assert got.parts["area_m2"].sum() == pytest.approx(8100.0)
    assert got.parts["plants"].sum() == got.headline.plants


def survey(day, alive, *, built=None):
    counts = {"crop": ["hill_plum", "hill_plum"], "row": [0, 1], "planned": [100, 5], "surveyed": [96, 5]}
    more = {
        "alive": [alive, 5],
        "dead": [4, 0],
        "missing": [2, 0],
        "low_pct": [80.449, 50.0],
        "high_pct": [95.123, 100.0],
    }
    areas = built and pd.DataFrame(
        {"item": ["vegetable_beds"], "definition": ["Beds."], "designed_m2": [50.04], "built_m2": [built]}
    )
    return SurveyCounts(day, pd.DataFrame(counts | more | {"method": "count"}), areas)


def test_survival_and_built_areas_change_against_the_survey_before():
    got = account(surveys=(survey("2031-04-01", 90, built=48.04), survey("2031-10-01", 84, built=47.5)))
    assert got.survival["survival_pct"].tolist() == [93.8, 87.5]
    assert got.survival["change_pct"].tolist()[1] == pytest.approx(-6.3)
    assert np.isnan(got.survival["change_pct"][0])
    assert got.survival["low_pct"].tolist() == [80.4, 80.4]
    assert got.survival["high_pct"].tolist() == [95.1, 95.1]
    assert got.built["designed_m2"].tolist() == [50.0, 50.0]  # as drawn 50.04
    assert got.built["less_m2"].tolist() == [-2.0, -2.5]
    assert got.built["change_m2"][1] == -0.5
    assert not any("No survey" in caution.text for caution in got.cautions)
    with pytest.raises(LayoutError, match="don't fit together"):
        account(surveys=(survey("2031-04-01", 97),))


@given(st.lists(st.floats(0, 50), min_size=1, max_size=40))
def test_rounded_parts_add_up_and_stay_near(parts):
    rounded = apportion(parts, sum(parts))
    assert (
        f"{rounded.sum():.1f}" == f"{np.floor(sum(parts) * 10 + 0.5) / 10:.1f}"
        or abs(rounded.sum() - sum(parts)) < 0.051
    )
    assert np.abs(rounded - parts).max() < 0.1 + 1e-6


def test_zones_of_an_account_add_up_to_the_field_and_its_plants():
    laid = laid_out()
    west, south, _, _ = laid.boundary.bounds
    shape = box(west, south, west + 30, south + 40)
    strips = {"tree_beds": laid.tree_beds, "vegetable_beds": laid.beds, "paths": laid.paths}
    inside = {item: frame.intersection(shape).area.sum() for item, frame in strips.items()}
    whole = {item: frame.area.sum() for item, frame in strips.items()}
    bare = (30 * 40 - sum(inside.values()), 8100.0 - sum(whole.values()))
    parts = [("nursery", item, area) for item, area in [*inside.items(), ("row_margin", bare[0])]]
    parts += [(REST, item, area - inside[item]) for item, area in whole.items()] + [
        (REST, "row_margin", bare[1] - bare[0])
    ]
    areas = ZONE_AREAS.frame(dict(zip(ZONE_AREAS.columns, zip(*parts, strict=True), strict=True)))
    named = {"zone": ["nursery"], "purpose": ["nursery"], "row_spacing_m": [6.0], "bed_width_m": [1.0]}
    counted = {"area_m2": [1200.0], "rows": [9], "vegetable_beds": [18], "bed_area_m2": [0.0], "plants": [0]}
    layer = ZONES.frame(named | counted, geometry=[MultiPolygon([shape])], crs=laid.crs)
    got = account_for(replace(laid, zones=ZoneAccount(layer, areas, ZONE_CROPS.empty())), ReportRule())
    table = got.zones.set_index("zone")
    assert table["row_spacing_m"].to_dict() == {"nursery": 6.0, REST: laid.spacing_m}
    assert table["area_m2"].sum() == pytest.approx(got.headline.field_m2, abs=1e-6)
    assert table.loc["nursery", "area_m2"] == pytest.approx(1200, abs=0.2)
    assert table["field_pct"].tolist() == pytest.approx([100 * 1200 / 8100, 100 * 6900 / 8100], abs=0.01)
    assert table["plants"].sum() == got.headline.plants and table["trees"].sum() == got.headline.trees
    assert table.loc["nursery", "plants"] == laid.plants.intersects(shape).sum() > 0
    assert got.zone_crops["plants"].sum() == got.headline.plants
    assert account_for(laid, ReportRule()).zones.empty


def counted(day, *, alive, surveyed, by_plots=False, warnings=()):
    low, high = (80.0, 95.0) if by_plots else (np.nan, np.nan)
    counts = {"crop": ["all", "hill_plum"], "row": 0, "planned": 200, "surveyed": surveyed, "alive": alive}
    more = {"dead": surveyed - alive, "missing": 0, "low_pct": low, "high_pct": high, "method": "count"}
    areas = pd.DataFrame(
        {"item": ["tree_beds_planted"], "definition": ["Beds."], "designed_m2": [500.0], "built_m2": [450.0]}
    )
    return SurveyCounts(day, pd.DataFrame(counts | more), areas, warnings, by_plots)


def test_what_the_last_survey_found_stands_beside_the_plan_with_its_warnings():
    warned = "rows: 1 row off its place: row 3 stands 0.40 m downslope."
    got = account(surveys=(counted("2031-04-01", alive=190, surveyed=200), counted("2031-10-01", alive=150, surveyed=180, warnings=(warned,))))  # fmt: skip
    found = got.found.set_index("figure")
    assert found.loc["trees", ["survey", "planned", "looked_at", "found"]].tolist() == ["2031-10-01", 200, 180, 150]
    assert found.loc["planted_area_m2", ["planned", "found"]].tolist() == [500.0, 450.0]
    texts = [caution.text.format(**caution.values) for caution in got.cautions]
    assert f"Survey 2031-10-01 warned: {warned}" in texts
    assert got.headline.trees == account().headline.trees  # the plan stays as it is


def test_plots_give_an_estimate_for_the_field_and_say_so():
    got = account(surveys=(counted("2031-04-01", alive=45, surveyed=50, by_plots=True),))
    trees = got.found.set_index("figure").loc["trees"]
    assert (trees["found"], trees["low"], trees["high"]) == (180, 160, 190)
    assert "planned" in FOUND.columns
    area = got.found.set_index("figure").loc["planted_area_m2"]
    assert area["found"] == pytest.approx(0.9 * got.headline.planted_m2, abs=0.1)
    assert any("sample plots only" in caution.text for caution in got.cautions)


def test_a_zone_without_some_kind_of_ground_has_none_of_it():
    """Half of the field's strips in the zone, all that is left beside them in the rest, no path in either."""
    laid = laid_out()
    whole = laid.boundary.area
    parts = [
        ("nursery", "tree_beds", 0.25 * whole),
        (REST, "vegetable_beds", 0.5 * whole),
        (REST, "row_margin", 0.25 * whole),
    ]
    areas = ZONE_AREAS.frame(dict(zip(ZONE_AREAS.columns, zip(*parts, strict=True), strict=True)))
    named = {"zone": ["nursery"], "purpose": ["nursery"], "row_spacing_m": [6.0], "bed_width_m": [1.0]}
    counted = {"area_m2": [0.0], "rows": [0], "vegetable_beds": [0], "bed_area_m2": [0.0], "plants": [0]}
    layer = ZONES.frame(named | counted, geometry=[MultiPolygon([laid.boundary.buffer(-40)])], crs=laid.crs)
    got = account_for(replace(laid, zones=ZoneAccount(layer, areas, ZONE_CROPS.empty())), ReportRule())
    table = got.zones.set_index("zone")[["tree_beds_m2", "vegetable_beds_m2", "paths_m2", "other_m2", "area_m2"]]
    field = got.headline.field_m2
    assert table.loc["nursery"].tolist() == pytest.approx([field / 4, 0.0, 0.0, 0.0, field / 4], abs=0.11)
    assert table.loc[REST].tolist() == pytest.approx([0.0, field / 2, 0.0, field / 4, 0.75 * field], abs=0.11)
