"""The recipe without a field: straight rows with beds on an even slope, and the section cut across them."""

from math import lcm

import numpy as np
import pytest
import shapely
from plants_builders import crop

from geoagro.plants.bed_sheet import model_stand
from geoagro.plants.model_field import model_beds, model_ground, model_reach
from geoagro.plants.section import section_of
from geoagro.values.design import BedRule
from geoagro.values.recipe import Planting

RULE = BedRule(tree_bed_width_m=1.0, bed_width_m=0.8, path_width_m=0.4)
CROPS = {"a": crop(spacing_m=0.5), "t": crop(habit="tree", harvest_weeks=(100, 400), spacing_m=3.0)}


def planting(**given):
    return Planting(**({"crop": "a", "bed": "vegetable"} | given))


def model(*plantings, spacing_m=4.5, rule=RULE, length_m=20.0):
    return model_beds(rule, spacing_m, plantings or (planting(),), length_m)


def across(layer):
    """Southern and northern edge of each strip."""
    return dict(zip(layer.iloc[:, 0], layer.bounds[["miny", "maxy"]].round(9).to_numpy().tolist(), strict=True))


def test_from_the_row_outward_lie_half_the_tree_bed_a_path_a_bed_a_path_a_bed():
    beds = model(planting(order=2))
    found = across(beds.tree_beds) | across(beds.beds) | across(beds.paths)
    # three rows; two beds on each side of a row need 1 + .4 + 4 * 1.2 m from row to row
    for row, middle in ((1, 12.4), (2, 6.2), (3, 0.0)):
        assert found[f"R00{row}-T"] == pytest.approx([middle - 0.5, middle + 0.5])
        for name, near, far in (("1P", 0.5, 0.9), ("1", 0.9, 1.7), ("2P", 1.7, 2.1), ("2", 2.1, 2.9)):
            assert found[f"R00{row}-U{name}"] == pytest.approx([middle + near, middle + far])
            assert found[f"R00{row}-D{name}"] == pytest.approx([middle - far, middle - near])
    every = np.concatenate([layer.geometry for layer in (beds.tree_beds, beds.beds, beds.paths)])
    assert shapely.union_all(every).area == pytest.approx(shapely.area(every).sum())  # nothing lies over anything
    for layer in (beds.tree_beds, beds.beds, beds.paths):
        assert layer["area_m2"].tolist() == pytest.approx(layer.area.tolist())
        assert (layer["length_m"] == 20.0).all()
        assert layer["width_m"].tolist() == pytest.approx((layer.area / 20.0).tolist())
        for axis, strip in zip(layer["axis"], layer.geometry, strict=True) if "axis" in layer else ():
            assert axis.coords[0][0] < axis.coords[1][0]
            assert axis.distance(strip.boundary) == pytest.approx(0.0)
            assert shapely.distance(axis.centroid, strip.centroid) < 1e-9


@pytest.mark.parametrize(
    ("spacing_m", "on_each_side", "apart_m"),
    [(3.79, 1, 3.8), (3.8, 1, 3.8), (4.5, 1, 4.5), (4.99, 1, 4.99), (5.0, 2, 6.2), (6.2, 2, 6.2), (7.0, 2, 7.0)],
)
def test_an_alley_carries_as_many_beds_as_fit_and_the_odd_one_on_both_sides(spacing_m, on_each_side, apart_m):
    beds = model(spacing_m=spacing_m)
    assert sorted(set(beds.beds["order"])) == list(range(1, on_each_side + 1))
    middles = sorted(axis.coords[0][1] for axis in beds.tree_beds["axis"])
    assert np.diff(middles) == pytest.approx(apart_m)


@pytest.mark.parametrize(("every", "rows"), [((1,), 3), ((2,), 4), ((2, 3), 8), ((4, 6), 12), ((5, 7), 12)])
def test_every_planting_comes_round_once_between_two_outer_rows_up_to_twelve(every, rows):
    beds = model(*(planting(name=f"n{k}", every=k) for k in every))
    assert len(beds.tree_beds) == rows == min(12, lcm(*every) + 2)
    assert beds.tree_beds["row"].tolist() == list(range(1, rows + 1))


def test_beds_face_the_next_row_and_those_outside_the_last_rows_none():
    beds = model().beds
    facing = {(r, s): f for r, s, f in zip(beds["row"], beds["side"], beds["facing_row"], strict=True)}
    assert facing == {(1, "up"): 0, (1, "down"): 2, (2, "up"): 1, (2, "down"): 3, (3, "up"): 2, (3, "down"): 0}


def test_each_address_has_a_row_of_its_own_from_the_second_on():
    plantings = (
        planting(name="all"),
        planting(name="wet", zone="wet"),
        planting(name="side", within={"side": "west"}),
        planting(name="dry", zone="dry", spacing_m=1.0),
        planting(name="wet too", zone="wet", spacing_m=2.0),
    )
    beds = model(*plantings)
    assert len(beds.tree_beds) == 3 + 3
    reach = model_reach(plantings, beds)
    names = [*beds.tree_beds["bed"], *beds.beds["bed"]]

    def rows(index):
        held = reach[index].holds(names, np.arange(len(names)), np.zeros((len(names), 2)))
        return {int(name[1:4]) for name, inside in zip(names, held, strict=True) if inside}

    assert [rows(k) for k in range(5)] == [{1, 3, 5, 6}, {2}, {3}, {4}, {2}]
    assert model_reach(plantings[:1], model()) == {}


def test_the_ground_falls_evenly_to_the_south_under_all_beds():
    beds = model()
    ground = model_ground(beds)
    west, south, east, north = beds.beds.total_bounds
    left, low, right, top = ground.slope.bounds
    assert left < west - 5 and low < south - 5 and right > east + 5 and top > north + 5
    x, y = np.array([west, east, east, west]), np.array([south, south, north, north])
    z = ground.heights.sample(x, y)
    assert z[:2] == pytest.approx(z[0]) and z[2:] == pytest.approx(z[2])
    assert (z[2] - z[0]) / (north - south) == pytest.approx(float(ground.slope.values[1, 1]))
    assert z[2] > z[0]
    assert (ground.aspect_deg.values == 180.0).all()  # downhill is south


def test_a_section_holds_each_line_where_it_stands_and_as_dense_as_it_is_planted():
    plantings = (
        planting(name="trees", crop="t", bed="tree", every=2, first_row=2),
        planting(name="two", offsets_m=[0.25, -0.15], spacing_m=0.5),
    )
    beds, plants = model_stand(RULE, 4.5, CROPS, plantings, 120.0)
    section, timeline = section_of(RULE, 4.5, CROPS, plantings)
    assert (section.width_m, section.rows) == (pytest.approx(2 * 4.5), 2)  # four rows, the outer ones left out
    assert len(timeline.kinds) == 2
    trees = [line for line in section.lines if line.kind.planting == "trees"]
    herbs = [line for line in section.lines if line.kind.planting == "two"]
    assert [line.x_m for line in trees] == pytest.approx([2.25])  # in the middle of the first of two spacings
    assert [line.spacing_m for line in trees] == pytest.approx([3.0])
    # beds lie .9 to 1.7 m off the row; upslope lines stand at 1.3 +- the offset above it, downslope ones below
    middles = [2.25 - 1.3, 2.25 + 1.3, 6.75 - 1.3, 6.75 + 1.3]
    assert sorted(line.x_m for line in herbs) == pytest.approx(
        sorted(m - off for m in middles for off in (0.25, -0.15))
    )
    assert {round(line.spacing_m, 6) for line in herbs} == {0.5}
    strips = sorted((s.left_m, s.right_m, s.bed_kind, s.side, s.order) for s in section.strips)
    expected = []
    for middle in (2.25, 6.75):
        expected += [
            (middle - 1.7, middle - 0.9, "vegetable", "up", 1),
            (middle - 0.5, middle + 0.5, "tree", "", 0),
            (middle + 0.9, middle + 1.7, "vegetable", "down", 1),
        ]
    assert [s[2:] for s in strips] == [s[2:] for s in expected]
    assert [s[:2] for s in strips] == [pytest.approx(s[:2]) for s in expected]
    assert plants.frame["bed"].nunique() == len(beds.beds) + 2
