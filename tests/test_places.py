"""Addresses: what they come to on laid beds, and what they say when they meet nothing."""

from itertools import pairwise

import numpy as np
import pytest
from builders import EAST, NORTH, plane, square_site, straight_beds, straight_rows
from plants_builders import crop
from pydantic import ValidationError
from shapely import box

from geoagro.errors import DesignError
from geoagro.places.resolve import Laid, resolve
from geoagro.plants.placement import place_plants
from geoagro.values.places import NamedArea, Numbers, Place
from geoagro.values.recipe import Planting

ROWS = straight_rows()
BEDS = straight_beds(ROWS)
AREA = NamedArea("nursery", box(EAST, NORTH, EAST + 50, NORTH + 20))
LAID = Laid(BEDS, square_site().boundary, (AREA,), 4.5, 0.0, 0.5)
LAST = len(ROWS.frame)
CROPS = {code: crop(name=code, spacing_m=1.5) for code in ("citrus", "avocado", "banana", "maize")}
TREES = {"sequence": ["citrus", "banana"], "bed": "tree", "spacing_m": 1.5, "name": "trees"}


def at(**place):
    return resolve((Place.model_validate(place),), LAID, "within")


def rows_of(reach):
    return sorted({int(name[1:4]) for name in reach.beds})


def placed(*plantings):
    recipe = [Planting(**p) for p in plantings]
    reach = {k: resolve(p.within, LAID, "within") for k, p in enumerate(recipe) if p.within}
    return place_plants(BEDS, plane(), CROPS, recipe, reach=reach)


@pytest.mark.parametrize(
    ("text", "numbers"),
    [("5", [5]), ("1-3, 7", [1, 2, 3, 7]), ("every 3 from 2", [2, 5, 8]), ("every 4", [1, 5, 9])],
)
def test_numbers_are_ranges_or_steps(text, numbers):
    assert np.flatnonzero(Numbers.of(text).holds(np.arange(10))).tolist() == numbers


@pytest.mark.parametrize("wrong", ["", "a", "3-1", "every 0", "1;2", True, {"rows": 1}, -3])
def test_numbers_that_mean_nothing_are_refused(wrong):
    with pytest.raises(ValidationError):
        Place.model_validate({"rows": wrong})


def test_rows_are_taken_with_all_their_beds():
    assert rows_of(at(rows=[1, "4-6"])) == [1, 4, 5, 6]


def test_all_of_an_address_must_hold_and_except_takes_away():
    reach = at(rows="1-10", beds="tree", **{"except": {"rows": 4}})
    trees = BEDS.tree_beds
    middle = trees["axis"].interpolate(0.5, normalized=True)
    held = reach.holds(list(trees["bed"]), np.arange(len(trees)), np.column_stack([middle.x, middle.y]))
    assert trees["row"][held].tolist() == [1, 2, 3, 5, 6, 7, 8, 9, 10]


def test_every_second_alley_takes_both_rows_beds_of_an_alley_and_never_two_neighbouring_alleys():
    taken = BEDS.beds["bed"].isin(list(at(alleys="every 2").beds)).to_numpy()
    pair = [tuple(sorted(p)) for p in zip(BEDS.beds["row"], BEDS.beds["facing_row"], strict=True)]
    by_alley = {p: {bool(t) for t, q in zip(taken, pair, strict=True) if q == p} for p in pair if p[0] > 0}
    assert all(len(kinds) == 1 for kinds in by_alley.values())
    order = [by_alley[p] for p in sorted(by_alley)]
    assert all(a != b for a, b in pairwise(order))


def test_a_side_reaches_so_many_rows_into_the_field():
    assert rows_of(at(side="north", beds="tree")) == [1]
    assert rows_of(at(side="south", deep=3, beds="tree")) == [LAST - 2, LAST - 1, LAST]


def test_a_windbreak_along_a_side_that_rows_run_into_keeps_to_that_side():
    plants = placed({"crop": "citrus", "bed": "tree", "within": {"side": "west", "deep": 2}}).frame
    assert plants["row"].nunique() == LAST
    assert plants["x"].max() <= EAST + 9.0


def test_an_area_holds_the_plants_inside_it():
    plants = placed({"crop": "maize", "bed": "vegetable", "within": {"area": "nursery"}}).frame
    assert len(plants) and plants.within(AREA.shape).all()
    whole = placed({"crop": "maize", "bed": "vegetable"}).frame
    assert len(plants) == whole.within(AREA.shape).sum()


def test_one_crop_instead_of_another_takes_its_places_and_leaves_the_rest():
    before = placed(TREES).frame
    after = placed(TREES, {"crop": "avocado", "bed": "tree", "instead_of": "citrus", "within": {"rows": 5}}).frame
    fifth = before["row"] == 5
    assert (after["crop"] == "avocado").sum() == (fifth & (before["crop"] == "citrus")).sum()
    assert not ((after["row"] == 5) & (after["crop"] == "citrus")).any()
    spots = [frozenset(map(tuple, frame[["x", "y"]].round(6).to_numpy())) for frame in (before, after)]
    assert spots[0] == spots[1] and len(after) == len(before)


def test_a_wider_crop_instead_of_a_narrow_one_leaves_places_empty():
    wide = {"crop": "avocado", "bed": "tree", "instead_of": "citrus", "within": {"rows": 5}, "spacing_m": 7}
    row = placed(TREES, wide).frame.query("crop == 'avocado'").sort_values("x")
    assert len(row) > 5 and np.diff(row["x"]).min() >= 7.0


@pytest.mark.parametrize(("spacing", "told"), [({}, 1), ({"spacing_m": 3.0}, 0)])
def test_a_crop_nearer_than_its_own_range_on_places_taken_over_is_told_unless_the_design_gives_its_spacing(
    spacing, told
):
    wide = CROPS | {"avocado": CROPS["avocado"].model_copy(update={"spacing_range_m": (4.5, 12.0)})}
    near = {"crop": "avocado", "bed": "tree", "instead_of": "citrus", "within": {"rows": 5}} | spacing
    recipe = [Planting(**TREES), Planting(**near)]
    plants = place_plants(BEDS, plane(), wide, recipe, reach={1: resolve(recipe[1].within, LAID, "within")})
    assert len([f for f in plants.findings if "apart on the places of citrus" in f.text]) == told


@pytest.mark.parametrize(
    ("place", "says"),
    [
        ({"rows": 90}, f"rows here are 1-{LAST}, the nearest is {LAST}"),
        ({"alleys": 90}, "alleys here are"),
        ({"beds": "R012-U9"}, "R012-U1"),
        ({"area": "nursary"}, "nearest is nursery"),
        ({"rows": 1, "area": "nursery"}, "no bed lies there"),
    ],
)
def test_an_address_that_meets_nothing_names_what_exists(place, says):
    with pytest.raises(DesignError, match=says):
        at(**place)


def test_an_empty_address_is_refused():
    with pytest.raises(ValidationError, match="say where"):
        Place()


def test_replacing_a_crop_that_nobody_plants_says_what_is_planted():
    with pytest.raises(DesignError, match="Did you mean citrus"):
        placed(TREES, {"crop": "avocado", "bed": "tree", "instead_of": "citrous"})
