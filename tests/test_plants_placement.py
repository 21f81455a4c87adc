from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, plane, straight_beds, straight_rows
from hypothesis import given, settings
from hypothesis import strategies as st
from plants_builders import arc, one_bed
from shapely import LineString

from geoagro.errors import DesignError, LayoutError
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.plants.placement import place_plants
from geoagro.values.plants import PLANTS
from geoagro.values.recipe import Crop, Planting

CROP = Crop(spacing_m=0.5, stratum="low", harvest_weeks=(10, 12), root_opening_deg=90)
CROPS = {"a": CROP, "b": CROP, "c": CROP}


def lay(*plantings, beds=None, terrain=None, **more):
    beds = beds if beds is not None else straight_beds(straight_rows())
    return place_plants(beds, terrain or plane(), CROPS, [Planting(**p) for p in plantings], **more)


def test_counts_on_straight_beds_follow_the_closed_form():
    frame = lay({"crop": "a", "bed": "vegetable", "lines": 2, "end_margin_m": 0.3}).frame
    beds = 2 * len(straight_rows().frame)
    assert len(frame) == beds * 2 * (int((100 - 0.6) / 0.5) + 1)


@pytest.mark.parametrize(
    ("r", "p", "per_place", "published"),
    [  # plants per hectare; sources: IITA cowpea 75 x 20 cm x 2; IITA ProPAS 153 banana; KZN plant populations
        (0.75, 0.20, 2, 133_333),
        (3.0, 3.0, 1, 1_111),
        (2.0, 2.0, 1, 2_500),
        (0.45, 0.25, 1, 88_888),
    ],
)
def test_rectangular_population_matches_published_tables(r, p, per_place, published):
    width, length = 8 * r, 500 * p
    bed = one_bed(LineString([(EAST, NORTH), (EAST + length, NORTH)]), width)
    frame = lay({"crop": "a", "bed": "vegetable", "lines": 8, "spacing_m": p}, beds=bed).frame
    assert len(frame) * per_place / (width * length) * 1e4 == pytest.approx(published, abs=1)


@pytest.mark.parametrize(
    ("code", "row_m", "lines", "published"),
    [  # plants per hectare at the row distance of the same source, as named in the crop library
        ("cassava", 1.0, 4, 10_000),
        ("maize", 0.75, 4, 53_333),
        ("turmeric", 0.6, 3, 66_667),
        ("potato", 0.75, 2, 44_444),
        ("teak", 3.0, 2, 1_111),
    ],
)
def test_a_hectare_of_beds_planted_at_the_librarys_distance_holds_the_published_population(
    code, row_m, lines, published
):
    """Counted in the field: plants that stand in a bed of 400 m, whose lines share its width evenly."""
    width = lines * row_m
    bed = one_bed(LineString([(EAST, NORTH), (EAST + 400, NORTH)]), width)
    recipe = [Planting(crop=code, bed="vegetable", lines=lines)]
    frame = place_plants(bed, plane(size_m=500.0), {code: read_crop_library()[code]}, recipe).frame
    across = np.unique(frame["y"].round(3))
    assert np.diff(across) == pytest.approx(row_m, abs=1e-3)
    assert len(frame) / (width * 400) * 1e4 == pytest.approx(published, rel=0.01)


def test_triangular_population_is_fifteen_percent_denser_than_square():
    # 1.1547 A / s^2: Paull & Duarte, Tropical Fruits, text of figure 3.4
    s = 0.6
    lines = round(30 / (s * np.sqrt(3) / 2))
    bed = one_bed(LineString([(EAST, NORTH), (EAST + 300 * s, NORTH)]), lines * s * np.sqrt(3) / 2)
    frame = lay({"crop": "a", "bed": "vegetable", "lines": lines, "spacing_m": s, "stagger": True}, beds=bed).frame
    per_square = lines * s * np.sqrt(3) / 2 * 300
    assert len(frame) / per_square * s == pytest.approx(1.1547, rel=0.01)


def test_staggered_lines_stand_half_a_step_apart():
    frame = lay({"crop": "a", "bed": "vegetable", "lines": 2, "stagger": True}).frame
    bed = frame[frame["bed"] == "R001-D1"]
    first, second = (bed.loc[bed["line"] == k, "station_m"].to_numpy() for k in (1, 2))
    assert second[0] - first[0] == pytest.approx(0.25)
    assert np.allclose(np.diff(first), 0.5)
    assert np.allclose(np.diff(second), 0.5)


@given(st.floats(0.2, 3.0), st.floats(-0.45, 0.45), st.floats(8.0, 60.0))
@settings(max_examples=15, deadline=None)
def test_steps_are_equal_along_the_offset_curve(step, offset, radius):
    axis = arc(radius)
    planting = {"crop": "a", "bed": "vegetable", "offsets_m": [offset], "spacing_m": step, "end_margin_m": 0}
    frame = lay(planting, beds=one_bed(axis)).frame
    centre = np.array([EAST + 50, NORTH + 60])
    # the axis turns left, so its left side is the inside of the bend
    distance = np.hypot(*(shapely.get_coordinates(frame.geometry) - centre).T)
    assert np.allclose(distance, radius - offset, atol=radius * 4e-5)
    angle = np.unwrap(np.arctan2(*(shapely.get_coordinates(frame.geometry) - centre).T))
    assert np.allclose(-np.diff(angle) * (radius - offset), step, rtol=1e-3)


def test_lines_are_numbered_from_the_upslope_side():
    frame = lay({"crop": "a", "bed": "vegetable", "offsets_m": [-0.2, 0.3]}).frame
    bed = frame[frame["bed"] == "R002-U1"]
    assert bed.loc[bed["line"] == 1, "y"].iloc[0] - bed.loc[bed["line"] == 2, "y"].iloc[0] == pytest.approx(0.5)


def test_a_sequence_repeats_and_shifts_from_row_to_row():
    trees = {"sequence": ["a", "b", "-", "b"], "bed": "tree", "spacing_m": 1.5, "sequence_shift": 1}
    frame = lay(trees).frame
    for row, expected in ((1, "abb"), (2, "bba")):
        stand = frame[frame["row"] == row]
        assert "".join(stand["crop"].iloc[:3]) == expected
    row = frame[frame["row"] == 1]
    assert row["station_m"].iloc[:4].tolist() == [0.75, 2.25, 5.25, 6.75]


@pytest.mark.parametrize("degrees", [60, 330])
def test_a_plant_behind_another_keeps_distance_and_side_on_a_curve(degrees):
    stems = {"crop": "a", "bed": "vegetable", "direction": "along", "spacing_m": 0.6}
    taro = {"crop": "b", "bed": "vegetable", "beside": {"planting": "a", "distance_m": 0.25, "where": "behind"}}
    plants = lay(stems, taro, beds=one_bed(arc(8.0, degrees, 6 * degrees)))
    by_crop = plants.by_crop()
    a, b = by_crop["a"], by_crop["b"]
    assert len(a) == len(b)
    step = shapely.get_coordinates(b.geometry) - shapely.get_coordinates(a.geometry)
    roots = np.radians(a["bearing_deg"].to_numpy())
    assert np.allclose(np.hypot(*step.T), 0.25)
    assert np.allclose(step[:, 0] * np.sin(roots) + step[:, 1] * np.cos(roots), -0.25)


def test_a_neighbour_outside_the_bed_is_left_out_and_said():
    stems = {"crop": "a", "bed": "vegetable", "direction": "along", "end_margin_m": 0.1}
    taro = {"crop": "b", "bed": "vegetable", "beside": {"planting": "a", "distance_m": 0.25}}
    plants = lay(stems, taro)
    beds = 2 * len(straight_rows().frame)
    assert len(plants.by_crop()["a"]) - len(plants.by_crop()["b"]) == beds
    assert f"{beds} of" in plants.findings[0].text


@pytest.mark.parametrize(("where", "side", "away"), [("upslope", 1, 0), ("downslope", -1, 180)])
def test_a_plant_beside_the_tree_line_faces_away_from_it_on_its_own_side(where, side, away):
    """Rows run east, uphill is north: a companion on the upslope side stands and faces north, else south."""
    trees = {"crop": "a", "bed": "tree", "lines": 1}
    herbs = {"crop": "b", "bed": "tree", "direction": "away"}
    beside = {"beside": {"planting": "a", "distance_m": 0.3, "where": where}}
    plants = lay(trees, herbs | beside).by_crop()
    off = plants["b"]["y"].to_numpy() - plants["a"]["y"].to_numpy()
    assert np.allclose(off, 0.3 * side)
    assert np.allclose(plants["b"]["bearing_deg"], away)


@pytest.mark.parametrize(("where", "ahead"), [("along", 0.2), ("against", -0.2)])
def test_a_plant_along_the_line_keeps_its_place_on_the_bed(where, ahead):
    stems = {"crop": "a", "bed": "vegetable", "direction": "along", "end_margin_m": 0.3}
    taro = {"crop": "b", "bed": "vegetable", "beside": {"planting": "a", "distance_m": 0.2, "where": where}}
    plants = lay(stems, taro).by_crop()
    assert np.allclose(plants["b"]["station_m"].to_numpy() - plants["a"]["station_m"].to_numpy(), ahead)
    assert np.allclose(plants["b"]["x"].to_numpy() - plants["a"]["x"].to_numpy(), ahead)


@pytest.mark.parametrize(
    ("direction", "up", "down"),
    [
        ("along", 90, 90),
        ("against", 270, 270),
        ("uphill", 0, 0),
        ("downhill", 180, 180),
        ("away", 0, 180),
        (33.0, 33, 33),
    ],
)
def test_directions_as_bearings(direction, up, down):
    frame = lay({"crop": "a", "bed": "vegetable", "direction": direction}).frame
    for bed, expected in (("R002-U1", up), ("R002-D1", down)):
        azimuth = frame.loc[frame["bed"] == bed, "bearing_deg"].to_numpy()
        assert np.allclose((azimuth - expected + 180) % 360 - 180, 0, atol=1e-6)


def test_all_round_plants_carry_no_azimuth():
    assert lay({"crop": "a", "bed": "tree"}).frame["bearing_deg"].isna().all()


def test_uphill_needs_ground_with_a_direction():
    blind = replace(plane(), aspect_deg=None, heights=None, smooth=None)
    with pytest.raises(LayoutError, match="slope raster alone carries no direction"):
        lay({"crop": "a", "bed": "tree", "direction": "uphill"}, terrain=blind)
    assert lay({"crop": "a", "bed": "tree"}, terrain=blind).frame["z"].isna().all()


def test_heights_come_from_the_ground_as_surveyed():
    frame = lay({"crop": "a", "bed": "tree"}).frame
    assert np.allclose(frame["z"], 100 + 0.1 * (frame["y"] - NORTH))


def test_numbers_are_the_same_for_the_same_input_and_follow_the_beds():
    recipe = ({"crop": "a", "bed": "tree"}, {"crop": "b", "bed": "vegetable", "lines": 2})
    first, second = lay(*recipe).frame, lay(*recipe).frame
    assert first.equals(second)
    assert first["plant"].tolist() == list(range(1, len(first) + 1))
    assert first["row"].is_monotonic_increasing
    assert first.loc[first["row"] == 1, "bed"].drop_duplicates().tolist() == ["R001-T", "R001-U1", "R001-D1"]
    PLANTS.check(first)


def test_edge_beds_take_their_own_mixture_where_there_is_one():
    recipe = [{"crop": "a", "bed": "vegetable"}]
    assert "R001-U1" in set(lay(*recipe).frame["bed"])
    frame = lay(*recipe, {"crop": "b", "bed": "edge"}).frame
    assert set(frame.loc[frame["bed"] == "R001-U1", "crop"]) == {"b"}
    assert set(frame.loc[frame["bed"] == "R001-D1", "crop"]) == {"a"}


def test_mixtures_can_change_from_row_to_row():
    frame = lay(
        {"crop": "a", "bed": "vegetable", "every": 2, "mixture": "odd"},
        {"crop": "b", "bed": "vegetable", "every": 2, "first_row": 2, "mixture": "even"},
    ).frame
    assert set(frame.loc[frame["crop"] == "a", "row"] % 2) == {1}
    assert set(frame.loc[frame["crop"] == "b", "row"] % 2) == {0}
    assert set(frame["mixture"]) == {"odd", "even"}


def test_what_follows_starts_when_the_other_is_harvested():
    frame = lay(
        {"crop": "b", "bed": "vegetable", "after": "a", "gap_weeks": 2},
        {"crop": "a", "bed": "vegetable", "week": 3},
        start=date(2031, 4, 7),
    ).frame
    b = frame[frame["crop"] == "b"].iloc[0]
    assert (b["plant_week"], b["harvest_from_week"], b["harvest_to_week"]) == (17, 27, 29)
    assert str(b["plant_date"].date()) == "2031-08-04"


def test_a_line_that_leaves_its_bed_is_cut_at_the_edge():
    axis = LineString([(EAST, NORTH), (EAST + 10, NORTH)])
    bed = one_bed(axis)
    cut = shapely.Polygon(
        [(EAST, NORTH - 0.5), (EAST + 10, NORTH - 0.5), (EAST + 9, NORTH + 0.5), (EAST + 1, NORTH + 0.5)]
    )
    bed.beds.geometry = [cut]
    frame = lay({"crop": "a", "bed": "vegetable", "lines": 2, "end_margin_m": 0}, beds=bed).frame
    assert shapely.covers(cut.buffer(1e-9), frame.geometry.to_numpy()).all()
    assert frame.loc[frame["line"] == 1, "x"].min() == pytest.approx(EAST + 0.75)
    assert frame.loc[frame["line"] == 1, "station_m"].min() == 0


@pytest.mark.parametrize(
    ("plantings", "message"),
    [
        ([{"crop": "a", "bed": "tree", "offsets_m": [0.7]}], "offsets_m .* reaches outside bed R001-T"),
        ([{"crop": "a", "bed": "tree", "direction": "away"}], "away needs a side"),
        ([{"crop": "a", "bed": "tree", "after": "z"}], "after 'z' doesn't exist .*none"),
        ([{"crop": "a", "bed": "tree", "after": "b"}, {"crop": "b", "bed": "tree", "after": "a"}], "circle"),
        ([{"sequence": ["a", "b"], "bed": "tree"}], "a sequence needs spacing_m"),
        (
            [
                {"crop": "a", "bed": "tree"},
                {"crop": "b", "bed": "tree", "beside": {"planting": "a", "distance_m": 0.2}},
            ],
            "grows all round",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_its_remedy(plantings, message):
    with pytest.raises(DesignError, match=message):
        lay(*plantings)
