"""Zones: own recipe or purpose, and an account that adds up."""

from dataclasses import replace

import pytest
from builders import EAST, NORTH, plane, square_ground, square_site, straight_beds, straight_rows
from plants_builders import crop
from pydantic import ValidationError
from shapely import box

from geoagro.beds.skipping import skip_beds
from geoagro.errors import DesignError
from geoagro.ground.leftover import leftover_ground
from geoagro.ground.plantable import plantable_ground
from geoagro.pipeline.places import laid_for, planting_reaches, without_skipped
from geoagro.pipeline.zones import zones_of
from geoagro.plants.placement import place_plants
from geoagro.values.design import Design, GroundRule
from geoagro.values.places import NamedArea
from geoagro.values.zones import REST, Zone

CROPS = {code: crop(name=code, spacing_m=1.0) for code in ("maize", "cowpea")}
CORNER = NamedArea("corner", box(EAST, NORTH, EAST + 30, NORTH + 30))
ROWS, GROUND = straight_rows(), square_ground()
BEDS = straight_beds(ROWS)


def design(**sections):
    given = {"name": "square", "inputs": {"boundary": {"file": "a.gpkg"}, "elevation": {"file": "a.tif"}}}
    made = Design.model_validate(given | sections)
    zoned = [p.model_copy(update={"zone": z.name}) for z in made.zones for p in z.plantings]
    return made.model_copy(update={"plantings": (*made.plantings, *zoned)})


def laid_out(asked):
    site = replace(square_site(), areas=(CORNER,))
    laid = laid_for(asked, site, BEDS)
    beds, skipped = without_skipped(asked, laid)
    reach = planting_reaches(asked, replace(laid, beds=beds))
    plants = place_plants(beds, plane(), CROPS, asked.plantings, reach=reach)
    unplanted = leftover_ground(GROUND, beds, ROWS.cut, spacing_m=4.5, skipped=(skipped.shapes, skipped.reasons))
    return beds, plants, unplanted, zones_of(asked, laid, beds, unplanted, plants)


EVERYWHERE = {"crop": "maize", "bed": "vegetable"}
OWN = {"name": "corner plot", "within": {"area": "corner"}, "plantings": [{"crop": "cowpea", "bed": "vegetable"}]}


def test_a_zone_with_plantings_keeps_them_in_and_the_others_out():
    _, plants, _, _ = laid_out(design(zones=[OWN], plantings=[EVERYWHERE]))
    inside = plants.frame.within(CORNER.shape)
    assert set(plants.frame["crop"][inside]) == {"cowpea"}
    assert set(plants.frame["crop"][~inside]) == {"maize"}


def test_areas_and_plants_by_zone_add_up_to_the_field():
    rows = {"name": "middle", "within": {"rows": "5-7"}, "purpose": "nursery"}
    _, plants, _, account = laid_out(design(zones=[OWN, rows], plantings=[EVERYWHERE]))
    assert account.areas["area_m2"].sum() == pytest.approx(100 * 100, abs=2)
    assert account.crops["plants"].sum() == len(plants.frame)
    corner = account.areas.query("zone == 'corner plot'")["area_m2"].sum()
    assert corner == pytest.approx(30 * 30, abs=0.5)
    assert set(account.crops["zone"]) == {"corner plot", REST}
    assert account.zones.set_index("zone")["plants"]["middle"] == 0


def test_skipped_beds_are_booked_with_their_reason():
    beds, _, unplanted, _ = laid_out(design(beds={"skip": [{"beds": "R003-U1"}, {"rows": 5}]}))
    assert "R003-U1" not in set(beds.beds["bed"]) and 5 not in set(beds.beds["row"])
    gone = BEDS.beds.query("bed == 'R003-U1' or row == 5").area.sum() + BEDS.tree_beds.query("row == 5").area.sum()
    assert unplanted.query("reason == 'skipped'")["area_m2"].sum() == pytest.approx(gone)


def test_drawn_zones_without_beds_are_taken_from_the_plantable_ground():
    ground = plantable_ground(square_site(), plane(), GroundRule(setback_m=0), bare={"grass": CORNER.shape})
    assert ground.plantable.area == pytest.approx(100 * 100 - 900)
    assert ground.unplanted["reason"].tolist() == ["grass"]


def test_nothing_skipped_leaves_beds_as_they_are():
    beds, skipped = skip_beds(BEDS, [])
    assert beds.beds.equals(BEDS.beds) and len(skipped.shapes) == 0


def test_a_planting_in_an_unknown_zone_names_the_nearest():
    with pytest.raises(DesignError, match="Did you mean 'corner plot'"):
        laid_out(design(zones=[OWN], plantings=[EVERYWHERE | {"zone": "corner plt"}]))


@pytest.mark.parametrize(
    "wrong",
    [
        {"name": "a", "within": []},
        {"name": REST, "within": {"rows": 1}},
        {"name": "a", "within": {"rows": 1}, "purpose": "grass", "plantings": [EVERYWHERE]},
        {"name": "a", "within": {"rows": 1}, "purpose": "parking"},
    ],
)
def test_zones_that_contradict_themselves_are_refused(wrong):
    with pytest.raises(ValidationError):
        Zone.model_validate(wrong)


def test_after_and_beside_look_in_their_own_zone():
    again = {"crop": "maize", "bed": "vegetable", "name": "second", "after": "first"}
    first = {"crop": "cowpea", "bed": "vegetable", "name": "first", "week": 3}
    zone = {"name": "z", "within": {"rows": 2}, "plantings": [first, again]}
    _, plants, _, _ = laid_out(design(zones=[zone], plantings=[first | {"week": 30}, again]))
    weeks = plants.frame.groupby(["mixture", "planting"])["plant_week"].unique()
    assert weeks["z"]["second"].tolist() == [3 + 40]
