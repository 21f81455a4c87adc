"""Zones with a bed rule or spacing of their own: rows, beds and every account by zone."""

import json
from dataclasses import replace

import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, plane, square_ground, square_site
from pydantic import ValidationError
from shapely import box

from geoagro.beds.room import bed_findings, bed_measures
from geoagro.beds.zoned import lay_zoned_beds
from geoagro.errors import DesignError, LayoutError
from geoagro.pipeline.steps import tree_rows_of
from geoagro.pipeline.zone_rules import apart_grounds, bed_zones, outside, spacings_of
from geoagro.places.alleys import alley_numbers
from geoagro.places.resolve import Laid
from geoagro.values.design import Design
from geoagro.values.places import NamedArea
from geoagro.values.zones import Zone

CORNER = NamedArea("corner", box(EAST + 20, NORTH + 20, EAST + 60, NORTH + 60))
SITE = replace(square_site(), areas=(CORNER,))
GROUND, TERRAIN = square_ground(), plane()
PLAIN = {"method": "straight", "bearing_deg": 90, "spacing_m": 4.5}


def design(*zones, **sections):
    given = {"name": "square", "inputs": {"boundary": {"file": "a.gpkg"}, "elevation": {"file": "a.tif"}}}
    return Design.model_validate(given | {"rows": PLAIN, "zones": zones} | sections)


def laid(asked):
    rows = tree_rows_of(asked, SITE, TERRAIN, GROUND)
    return rows, lay_zoned_beds(rows, GROUND.plantable, asked.beds, bed_zones(asked, SITE, rows))


IN_CORNER = {"name": "corner plot", "within": {"area": "corner"}}
OWN_SPACING = IN_CORNER | {"spacing_m": 7.0, "min_row_length_m": 10}
OWN_BEDS = IN_CORNER | {"beds": {"bed_width_m": 0.6, "tree_bed_width_m": 0.5}}
BY_ROWS = {"name": "top", "within": {"rows": "1-3"}, "beds": {"bed_width_m": 0.7}}


def test_rows_of_a_zone_keep_its_spacing_and_keep_off_the_others():
    asked = design(OWN_SPACING)
    rows, _ = laid(asked)
    inside = apart_grounds(asked, SITE)[0].holds(rows.frame.geometry.to_numpy())
    zone, rest = rows.frame.geometry[inside].to_numpy(), rows.frame.geometry[~inside].to_numpy()
    assert len(zone) >= 4 and not shapely.intersects(CORNER.shape.buffer(-0.01), shapely.union_all(rest))
    y = np.sort(shapely.get_y(shapely.centroid(zone)))
    assert np.diff(y) == pytest.approx(7.0, abs=0.01)
    assert (
        shapely.distance(shapely.union_all(zone), shapely.union_all(rest)) >= 0.9 * (7.0 + 4.5) / 2 - 0.005
    )  # reaches are rounded by arcs of 16 parts
    assert spacings_of(apart_grounds(asked, SITE), rows)[inside].tolist() == [7.0] * len(zone)


def test_measures_of_rows_leave_out_zones_with_a_spacing_of_their_own():
    asked = design(OWN_SPACING)
    rows, _ = laid(asked)
    others, ground = outside(apart_grounds(asked, SITE), rows, GROUND.plantable)
    assert ground.area == pytest.approx(100 * 100 - 40 * 40)
    assert len(others.frame) < len(rows.frame)


@pytest.mark.parametrize("zone", [OWN_SPACING, OWN_BEDS, BY_ROWS])
def test_strips_of_all_zones_overlap_nothing_and_have_ids_of_their_own(zone):
    _, beds = laid(design(zone))
    strips = np.concatenate([layer.geometry for layer in (beds.tree_beds, beds.beds, beds.paths)])
    assert shapely.area(strips).sum() == pytest.approx(shapely.union_all(strips).area, abs=1e-6)
    for names in (beds.tree_beds["bed"], beds.beds["bed"], beds.paths["path"]):
        assert names.is_unique


def test_beds_have_the_zones_widths_inside_and_the_designs_outside():
    _, beds = laid(design(OWN_BEDS))
    for layer, own, others in ((beds.beds, 0.6, 1.0), (beds.tree_beds, 0.5, 1.0)):
        inside = layer.within(CORNER.shape.buffer(1e-3)).to_numpy()
        assert inside.any() and set(layer["width_m"][inside]) == {own}
        assert set(layer["width_m"][~inside]) == {others}
    assert {"R010-T", "R010-Tb", "R010-Tc"} <= set(beds.tree_beds["bed"])


def test_no_bed_touches_a_bed_of_another_zone():
    _, beds = laid(design(OWN_BEDS))
    inside = beds.beds.within(CORNER.shape).to_numpy()
    apart = shapely.distance(beds.beds.geometry[inside].union_all(), beds.beds.geometry[~inside].union_all())
    assert apart >= 0.3 - 0.02


def test_a_zone_of_rows_holds_its_half_of_the_alley_to_the_next_row():
    _, beds = laid(design(BY_ROWS))
    assert set(beds.beds["width_m"][beds.beds["row"] <= 3]) == {0.7}
    assert set(beds.beds["width_m"][beds.beds["row"] > 3]) == {1.0}


def test_alleys_are_numbered_where_rows_have_several_tree_beds():
    _, beds = laid(design(OWN_BEDS))
    places = Laid(beds, SITE.boundary, SITE.areas, 4.5, 0.0, 0.3)
    assert len(places.alleys) == len(beds.tree_beds) + len(beds.beds)
    axes = dict(zip(beds.tree_beds["row"], beds.tree_beds["axis"], strict=True))
    assert alley_numbers(beds.beds, axes, 0.6).min() == 1


def test_bed_share_counts_every_zone_by_its_own_need():
    asked = design(OWN_BEDS)
    _, beds = laid(asked)
    measured = {m.quantity.key: m.value for m in bed_measures(beds, GROUND.plantable, asked.beds, 4.5)}
    rest, zone = sorted(beds.parts, key=lambda part: part.name)
    could = rest.ground_m2 * 2 * 1.0 / 4.5 + zone.ground_m2 * 4 * 0.6 / 4.5
    assert measured["bed_share_pct"] == pytest.approx((rest.beds_m2 + zone.beds_m2) / could)
    assert any(f.where == "beds, zone corner plot" for f in bed_findings(beds, asked.beds, asked.rows))


def test_zones_without_rules_of_their_own_change_nothing():
    _, plain = laid(design())
    _, zoned = laid(design(IN_CORNER))
    assert plain.beds.equals(zoned.beds) and plain.tree_beds.equals(zoned.tree_beds)


def test_a_zone_too_small_for_a_row_is_named():
    with pytest.raises(LayoutError, match=r"zones\[1\].spacing_m: .*'corner plot'.*min_row_length_m"):
        laid(design(OWN_SPACING | {"min_row_length_m": 60}))


def test_tree_beds_that_would_meet_are_told_with_their_zone():
    with pytest.raises(LayoutError, match=r"corner plot.*tree_bed_width_m is 4.2"):
        laid(design(IN_CORNER | {"beds": {"tree_bed_width_m": 4.2}}))


def test_a_narrowest_path_above_the_path_is_refused_with_the_zone():
    with pytest.raises(DesignError, match=r"corner plot.*narrowest_path_m"):
        laid(design(IN_CORNER | {"beds": {"narrowest_path_m": 0.5}}))


@pytest.mark.parametrize(
    "wrong",
    [
        {"name": "a", "within": {"rows": 1}, "spacing_m": 3},
        {"name": "a", "within": {"area": "x"}, "min_row_length_m": 3},
        {"name": "a", "within": {"alleys": 1}, "beds": {"bed_width_m": 1}},
        {"name": "a", "within": {"area": "x"}, "purpose": "grass", "spacing_m": 3},
        {"name": "a", "within": {"area": "x"}, "beds": {"bed_width_m": 0}},
    ],
)
def test_rules_without_a_place_to_hold_are_refused(wrong):
    with pytest.raises(ValidationError):
        Zone.model_validate(wrong)


def test_a_design_with_addresses_survives_being_written_into_a_layout():
    asked = design(
        BY_ROWS, plantings=[{"crop": "maize", "bed": "vegetable", "within": {"rows": 2, "except": {"rows": 2}}}]
    )
    text = asked.model_dump_json(by_alias=True)
    assert Design.model_validate(json.loads(text)).zones == asked.zones
