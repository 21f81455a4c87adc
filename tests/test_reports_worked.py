"""Figures of the account worked out by hand, each from its definition, on the smallest tables that show them."""

from dataclasses import replace
from types import SimpleNamespace

import builders
import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from report_builders import CROPS, laid_out
from shapely import MultiPolygon, Point, box

from geoagro.errors import LayoutError
from geoagro.outputs.words.say import Words
from geoagro.planar.area_error import propagated_sd
from geoagro.reports.account import _density, account_for, areas, parts_of
from geoagro.reports.areas import LEAST_KNOWN_SHARE, ground_areas
from geoagro.reports.boundary_error import DRAWS, simulated_sd
from geoagro.reports.canopy import canopy_cover
from geoagro.reports.cautions import cautions
from geoagro.reports.crop_account import is_tree, order_of, row_account, tree_crops
from geoagro.reports.kinds import Areas, _tree, measure
from geoagro.reports.rounding import apportion
from geoagro.reports.shares import _shares, bed_crops, bed_table, crown_m2
from geoagro.reports.uncertainty import (
    COVARIANCE,
    SIMULATION,
    SURVEYS,
    boundary_sd,
    coarser_change_m2,
    edge_sd,
    uncertainty_table,
)
from geoagro.values.ground import UNPLANTED
from geoagro.values.report import CropFacts, ReportRule

NAN = float("nan")


@pytest.fixture(scope="module")
def laid():
    """12 m square: 3 rows 4 m apart, a tree bed and two beds of 1 m each, paths of 0.5 m."""
    return laid_out(size_m=12.0, spacing_m=4.0)


# --- rounding, areas, boundary -----------------------------------------------------------------------------------


def test_missing_steps_go_to_the_parts_that_lost_most_and_one_too_many_is_taken_from_the_last():
    assert apportion([1.02, 1.08, 1.04], 3.14).tolist() == [1.0, 1.1, 1.0]
    assert apportion([0.1, 0.1, 0.1], 0.2).tolist() == [0.1, 0.1, 0.0]
    assert apportion([0.3, 0.2], 0.5).tolist() == [0.3, 0.2]  # 0.3 / 0.1 is a hair under 3
    assert apportion([7.0, 4.0], 11.0, step=5.0).tolist() == [5.0, 5.0]
    assert apportion([], 0.0).size == 0
    for total in (0.1, 0.8):
        with pytest.raises(ValueError, match="can't be rounded"):
            apportion([0.1, 0.1, 0.1], total)


def test_sloping_areas_are_told_where_slope_is_known_on_nineteen_twentieths_of_the_field():
    assert LEAST_KNOWN_SHARE == 0.95  # "unknown on more than 5 % of the field", as the report's caution says
    ground = builders.plane(slope=0.3, size_m=100.0)
    field = gpd.GeoSeries(
        [MultiPolygon([box(builders.EAST, builders.NORTH, builders.EAST + 100, builders.NORTH + 100)])]
    )
    for unknown, told in ((4, True), (6, False)):
        values = ground.slope.values.copy()
        values[: 10 + unknown] = np.nan  # the margin and some metres of the field
        terrain = replace(ground, slope=ground.slope.with_values(values))
        (found, none) = measure([field, gpd.GeoSeries([], crs=builders.UTM)], terrain, builders.UTM)
        assert found.plan_m2 == 10_000.0
        assert np.isfinite(found.ground_m2) is np.bool_(told)
        assert none.plan_m2 == none.geodesic_m2 == 0.0
    assert ground_areas([MultiPolygon()], ground.slope)[1].tolist() == [1.0]


def test_kinds_of_ground_add_up_to_the_field_with_what_is_left_as_difference():
    def of(m2):
        return Areas(m2, 2 * m2, 3 * m2)

    measured = {
        "field": of(100.0),
        "setback": of(10.0),
        "tree_beds": of(20.0),
        "vegetable_beds": of(30.0),
        "paths": of(15.0),
    }
    measured |= {"row_margin": of(20.0), "too_steep": of(5.0)}
    kinds = {kind.item: kind for kind in _tree(measured, ["setback", "too_steep"], ["row_margin"])}
    plan = {item: kind.areas.plan_m2 for item, kind in kinds.items()}
    assert (plan["excluded"], plan["plantable"], plan["unplanted"], plan["difference"]) == (15.0, 85.0, 20.0, 0.0)
    assert kinds["plantable"].areas.triple == (85.0, 170.0, 255.0)
    assert {item: kind.part_of for item, kind in kinds.items()} == {
        "field": "", "excluded": "field", "setback": "excluded", "too_steep": "excluded", "plantable": "field",
        "tree_beds": "plantable", "vegetable_beds": "plantable", "paths": "plantable", "unplanted": "plantable",
        "row_margin": "unplanted", "difference": "plantable",
    }  # fmt: skip
    assert (of(0.1) + of(0.2)).triple == (0.3, 0.6, 0.9)


HOLED = shapely.Polygon(
    [(0, 0), (90, 0), (90, 20), (30, 20), (30, 50), (0, 50)], [[(5, 5), (5, 15), (25, 15), (25, 5)]]
)


def by_all_pairs(shape, error, reach):
    """The area's variance as the sum over all pairs of vertices of one ring, by shoelace derivatives in turn."""
    total = 0.0
    for ring, sign in ((shape.exterior, 1.0), *((hole, -1.0) for hole in shape.interiors)):
        points = np.array(ring.coords)[:-1]
        if not shapely.is_ccw(ring):
            points = points[::-1]
        n = len(points)
        grad = [sign * (points[(k + 1) % n] - points[k - 1]) / 2 for k in range(n)]
        steps = [np.hypot(*(points[(k + 1) % n] - points[k])) for k in range(n)]
        at, length = np.cumsum([0.0, *steps[:-1]]), sum(steps)
        for i in range(n):
            for j in range(n):
                apart = min(abs(at[i] - at[j]), length - abs(at[i] - at[j]))
                total += float(grad[i] @ grad[j]) * (np.exp(-apart / reach) if reach else float(i == j))
    return error * np.sqrt(total)


@pytest.mark.parametrize("reach", [0.0, 20.0])
def test_errors_of_a_boundary_with_a_hole_are_added_up_over_pairs_of_vertices(reach):
    shape = MultiPolygon([HOLED])
    assert propagated_sd(shape, 0.5, correlation_m=reach) == pytest.approx(by_all_pairs(HOLED, 0.5, reach))
    assert simulated_sd(shape, 0.5, correlation_m=reach, draws=4000) == pytest.approx(
        by_all_pairs(HOLED, 0.5, reach), rel=0.12
    )
    assert f"{DRAWS:,}" in SIMULATION


def test_a_boundary_of_more_vertices_than_are_taken_at_once_is_added_up_whole():
    dense = shapely.segmentize(HOLED, 0.4)
    assert len(dense.exterior.coords) > 550
    points = np.array(dense.exterior.coords)[:-1]
    n, step = len(points), np.hypot(*(points[1] - points[0]))
    across = (np.roll(points, -1, 0) - np.roll(points, 1, 0)) / 2
    apart = np.abs(np.subtract.outer(np.arange(n), np.arange(n))) * step
    near = np.exp(-np.minimum(apart, n * step - apart) / 20.0)
    outer = np.sqrt(np.einsum("ik,ij,jk->", across, near, across))
    assert propagated_sd(MultiPolygon([shapely.Polygon(dense.exterior)]), 1.0, correlation_m=20.0) == pytest.approx(
        outer
    )


# --- uncertainty -------------------------------------------------------------------------------------------------


def test_typical_errors_of_a_point_are_those_of_makers_and_guides():
    """8 mm + 1 ppm (rounded up by us), 0.25 to 0.40 m, 1 to 2 m, and 4.9 m in 95 of 100, which is 4.9 / 2.45 in each axis."""
    low_high = ((0.008, 0.025), (0.25, 0.40), (1.0, 2.0), (4.9 / 2.45, 4.9 / 2.45))
    for (_, error), (low, high) in zip(SURVEYS, low_high, strict=True):
        assert low <= error <= high + 1e-9
    assert SURVEYS[2][1] == 1.0


def test_an_area_counted_in_whole_cells_errs_a_little_less_than_the_closed_form():
    """Cell centres in discs of 15 to 25 m, thrown 600 times on cells of 1 m; neighbours' errors cancel a part of each other."""
    random = np.random.default_rng(4)
    (x, y), radius = random.uniform(0, 1, (2, 600, 1, 1)), random.uniform(15, 25, (600, 1, 1))
    cell = np.arange(-27, 28)
    inside = (cell[:, None] - x) ** 2 + (cell[None, :] - y) ** 2 <= radius**2
    thrown = (inside.sum(axis=(1, 2)) - np.pi * radius.ravel() ** 2).std()
    disc = np.array([Point(0, 0).buffer(20, quad_segs=90)], dtype=object)
    assert thrown < edge_sd(disc, 1.0) < 1.25 * thrown
    square = np.array([box(0, 0, 100, 100)], dtype=object)
    assert edge_sd(square, 2.0) == pytest.approx(4 * np.sqrt(4 * 400 / (np.pi * 2) / 12))


def test_sloping_area_by_cells_twice_as_large_is_that_of_their_mean_heights():
    """A ridge 1 m high over 6 x 5 cells; the odd column has no partner and keeps the slope of its neighbour."""
    heights = np.zeros((6, 5))
    heights[2] = 1.0
    heights[:, 4] += 0.5
    grid = builders.plane(size_m=10.0).heights
    grid = replace(grid, values=heights, west=0.0, north=6.0, cell_m=1.0)

    def sloping(values, cell):
        north, east = np.gradient(values, cell)
        return np.hypot(1, np.hypot(north, east)) * cell**2

    coarse = np.array([[heights[r : r + 2, c : c + 2].mean() for c in (0, 2)] for r in (0, 2, 4)])
    whole = MultiPolygon([box(0, 0, 4, 6)])
    expected = sloping(coarse, 2.0).sum() - sloping(heights, 1.0)[:, :4].sum()
    assert coarser_change_m2(whole, grid) == pytest.approx(expected)
    assert expected < 0  # a ridge is smoothed away


def test_the_table_of_uncertainty_has_a_line_for_each_cause_with_its_size(laid):
    rule = ReportRule(boundary_error_m=0.5, boundary_correlation_m=10.0)
    terrain = builders.plane(slope=0.1, size_m=12.0, cell_m=0.5)
    shape = box(builders.EAST, builders.NORTH, builders.EAST + 3, builders.NORTH + 2)
    left = {"reason": ["too_steep", "setback"], "area_m2": [6.0, 6.0]}
    steep = UNPLANTED.frame(left, geometry=[MultiPolygon([shape])] * 2, crs=builders.UTM)
    table = uncertainty_table(replace(laid, unplanted=steep), rule, terrain)
    assert table["size_m"].tolist() == [0.5] * 5 + [0.5, 0.5]
    assert table["alike_m"].tolist()[:4] == [0.0, 0.0, 10.0, 10.0] and table["alike_m"].iloc[4:].isna().all()
    alike = propagated_sd(laid.boundary, 0.5, correlation_m=10.0)
    expected = [0.5 * 12 * np.sqrt(2), simulated_sd(laid.boundary, 0.5), alike]
    expected += [simulated_sd(laid.boundary, 0.5, correlation_m=10.0), 0.5 * 48]
    assert table["sd_m2"].tolist()[:5] == pytest.approx(expected, abs=0.051)
    cells = edge_sd(np.array([shape], dtype=object), 0.5)
    assert table["sd_m2"].tolist()[5:] == pytest.approx([cells, 0.0], abs=0.051)
    assert table["sd_pct"].to_numpy() == pytest.approx(table["sd_m2"].to_numpy() / 1.44, abs=0.05)
    assert boundary_sd(laid, rule) == round(alike, 1)
    silent = ReportRule(boundary_correlation_m=10.0)
    assert np.isnan(boundary_sd(laid, silent))
    common = uncertainty_table(laid, silent, None)
    assert common["size_m"].tolist() == [error for _, error in SURVEYS] and set(common["method"]) == {COVARIANCE}
    assert common["sd_m2"].max() == pytest.approx(4 * alike, abs=0.06)  # a phone's 2 m


# --- crowns, beds, crops -----------------------------------------------------------------------------------------


def test_ground_under_crowns_is_counted_once_inside_the_field_and_told_only_where_all_are_known():
    field = box(0, 0, 100, 100)
    points = np.array([(50.0, 50.0), (50.0, 50.0), (0.0, 50.0)])
    assert canopy_cover(points[:1], np.array([20.0]), field) == 314.2
    assert canopy_cover(points[:2], np.array([20.0, 10.0]), field) == 314.2
    assert canopy_cover(points, np.array([20.0, 0.0, 20.0]), field) == pytest.approx(314.16 * 1.5, abs=0.1)
    assert np.isnan(canopy_cover(points, np.array([20.0, NAN, 20.0]), field))
    assert canopy_cover(points[:0], np.zeros(0), field) == 0.0
    assert crown_m2(CropFacts("x", canopy_width_m=2.0)) == pytest.approx(np.pi) and np.isnan(crown_m2(CropFacts("x")))


def test_beds_are_shared_out_by_weight_and_beds_without_weight_not_at_all():
    table = pd.DataFrame({"bed": ["a", "a", "b", "c", "c"], "bed_area_m2": [10.0, 10.0, 7.0, 1.0, 1.0]})
    shares = _shares(table, pd.Series([1.0, 3.0, 0.0, 1.0, 2.0]))
    assert shares.tolist() == [2.5, 7.5, 0.0, 0.3, 0.7]


def test_a_bed_layer_may_differ_from_its_table_by_rounding_alone(laid):
    totals = {"tree_beds": 36.0, "vegetable_beds": 72.0}
    assert bed_table(laid, totals)["bed_area_m2"].tolist() == [12.0] * 9
    for wrong in (0.05, -0.05):
        assert bed_table(laid, totals | {"vegetable_beds": 72.0 + wrong})["bed_area_m2"].sum() == pytest.approx(
            108.0, abs=0.11
        )
    for wrong in (0.08, -0.08):
        with pytest.raises(LayoutError, match="edited after"):
            bed_table(laid, totals | {"vegetable_beds": 72.0 + wrong})


def test_plants_are_counted_by_bed_row_and_crop(laid):
    beds = bed_table(laid, {"tree_beds": 36.0, "vegetable_beds": 72.0})
    mixed = bed_crops(laid, beds, "plants")
    assert mixed["plants"].sum() == len(laid.plants)
    tree = mixed[mixed["kind"] == "tree"]
    for _, bed in tree.groupby("bed"):  # plums at 1.5, 4.5, 7.5, 10.5 m and an alder at 6 m
        assert dict(zip(bed["crop"], bed["plants"], strict=True)) == {"hill_plum": 4, "shade_alder": 1}
        assert dict(zip(bed["crop"], bed["share_area_m2"], strict=True)) == pytest.approx(
            {"hill_plum": 9.6, "shade_alder": 2.4}
        )
    rows = row_account(laid, beds, is_tree(laid))
    assert rows["row"].tolist() == [1, 2, 3] and rows["beds"].tolist() == [3] * 3
    assert rows["bed_area_m2"].tolist() == [36.0] * 3 and rows["length_m"].tolist() == [12.0] * 3
    assert rows["trees"].tolist() == [5] * 3 and rows["plants"].tolist() == [5 + 2 * 24 + 12] * 3


def test_a_row_is_told_to_the_decimetre_its_beds_to_a_tenth_of_a_square_metre_its_grade_to_a_hundredth(laid):
    finer = laid.tree_rows.assign(length_m=12.36, elevation_m=100.26, grade_p95_pct=1.236)
    beds = bed_table(laid, {"tree_beds": 36.0, "vegetable_beds": 72.0}).assign(bed_area_m2=12.02)
    rows = row_account(replace(laid, tree_rows=finer), beds, is_tree(laid))
    told = rows[["length_m", "elevation_m", "grade_p95_pct", "bed_area_m2"]]
    assert told.iloc[0].tolist() == [12.4, 100.3, 1.24, 36.1]


def test_trees_are_told_by_habit_where_all_habits_are_known_and_else_by_bed(laid):
    assert tree_crops(laid) == ({"hill_plum", "shade_alder"}, True)
    unknown = CROPS | {"salad": replace(CROPS["salad"], habit=None)}
    other = replace(laid, crops=unknown)
    assert tree_crops(other) == ({"hill_plum", "shade_alder"}, False)
    moved = laid.plants.assign(crop=laid.plants["crop"].where(laid.plants["plant"] != 1, "salad"))
    assert int(is_tree(replace(other, plants=moved)).sum()) == 15  # the one salad of a tree bed, none of the beds
    assert [order_of(s) for s in ("emergent", "high", "medium", "low", "ground", "", None)] == [0, 1, 2, 3, 4, 5, 5]


def test_crops_and_strata_are_given_per_hectare_of_each_ground(laid):
    told = []
    got = account_for(laid, ReportRule(), progress=lambda _, share: told.append(share))
    assert told == sorted(told) and told[0] == 0.0 and told[-1] == 1.0
    plum = got.crops.set_index("crop").loc["hill_plum"]
    assert (plum["plants"], plum["rows"], plum["beds"], plum["bed_area_m2"]) == (12, 3, 3, 36.0)
    assert plum["canopy_m2"] == pytest.approx(12 * np.pi * 4, abs=0.05)
    assert plum["per_ha_field"] == plum["per_ha_plantable"] == pytest.approx(12 / 0.0144, abs=0.05)
    assert plum["per_ha_planted"] == pytest.approx(12 / 0.0108, abs=0.05)
    assert plum["per_ha_own_beds"] == pytest.approx(12 / 0.0036, abs=0.05)
    assert got.crops["crop"].tolist() == ["shade_alder", "hill_plum", "bitter_root", "salad"]
    assert got.strata["stratum"].tolist() == ["emergent", "high", "medium", "low"]
    assert got.strata["crops"].tolist() == [1] * 4
    assert got.strata["per_ha_planted"].iloc[1] == plum["per_ha_planted"]
    head = got.headline
    assert (head.rows, head.crops, head.trees, head.row_length_m) == (3, 4, 15, 36.0)
    assert head.trees_per_ha_field == pytest.approx(15 / 0.0144, abs=0.05)
    assert (_density(5, 2000.0), np.isnan(_density(5, 0.0))) == (25.0, True)
    field = areas(laid, head).set_index("item")["field_pct"]
    assert (field["tree_beds"], field["planted"], field["field"]) == (25.0, 75.0, 100.0)


def test_parts_of_the_field_come_from_the_largest_on(laid):
    west, south, east, north = laid.boundary.bounds
    hole = box(west + 5.2, south + 5.7, west + 5.4, south + 5.8)
    parts = [box(west, south, west + 4, north), box(west + 4, south, east, north).difference(hole)]
    head = SimpleNamespace(field_m2=144.0, field_geodesic_m2=144.2)
    trees = is_tree(laid)
    got = parts_of(replace(laid, boundary=MultiPolygon(parts)), trees, head)
    assert got["part"].tolist() == ["01", "02"]
    assert got["area_m2"].tolist() == [96.0, 48.0] and got["geodesic_area_m2"].sum() == pytest.approx(144.2)
    assert got["perimeter_m"].tolist() == [pytest.approx(2 * 20 + 0.6), 2 * 16.0] and got["holes"].tolist() == [1, 0]
    right = laid.plants.geometry.x.to_numpy() >= west + 4
    assert got["plants"].tolist() == [right.sum(), (~right).sum()]
    assert got["trees"].tolist() == [(right & trees).sum(), (~right & trees).sum()]


# --- cautions ----------------------------------------------------------------------------------------------------


def told(laid, *, rule=None, basis="canopy", surveyed=True, **head):
    values = {"field_ground_m2": 1.0, "field_m2": 1000.0, "empty_beds_m2": 0.0, "canopy_cover_m2": 1.0} | head
    rule = rule or ReportRule(boundary_error_m=0.1)
    found = cautions(laid, rule, SimpleNamespace(**values), basis=basis, surveyed=surveyed)
    return [Words("en")(caution.text, **caution.values) for caution in found]


def test_each_caution_is_given_where_it_is_needed_and_only_there(laid):
    def but(**changes):
        return told(replace(laid, **changes))

    def difference(m2):
        table = laid.area_summary
        return but(area_summary=table.assign(area_m2=table["area_m2"].where(table["item"] != "difference", m2)))

    plain = told(laid)
    assert len(plain) == 2 and "Poisonous raw" in plain[1]
    assert any("differ from the whole by 0.6 m²" in text for text in difference(0.6))
    assert any("by -0.6 m²" in text for text in difference(-0.6))
    assert not [text for text in difference(0.4) if "differ" in text]  # half a thousandth of the field
    assert [t for t in told(laid, empty_beds_m2=0.1) if t.startswith("0.1 m² of beds")]
    assert [t for t in told(laid, field_ground_m2=NAN) if "5 % of the field" in t]
    assert [t for t in told(laid, canopy_cover_m2=NAN) if "canopy at full size" in t]
    assert [t for t in told(laid, rule=ReportRule()) if "boundary_error_m" in t]
    assert "No survey" in told(laid, surveyed=False)[0]
    warned = laid.findings.assign(severity="warning")
    assert [t for t in but(findings=warned) if "gave 1 warning; it is" in t]
    for state, words in (("changed", "has been changed"), ("missing", "no longer there")):
        now = laid.sources.assign(now=["", "", "", state])
        assert [t for t in but(sources=now) if f"boundary.gpkg {words}" in t or ("boundary.gpkg is " + words) in t]
    narrow = CROPS | {"salad": replace(CROPS["salad"], canopy_width_m=None)}
    assert [t for t in told(replace(laid, crops=narrow), basis="plants") if "crown's width is unknown for" in t]
    assert told(replace(laid, crops=narrow)) == told(laid, basis="plants") == plain
