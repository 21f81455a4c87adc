"""Plants of two plantings that come nearer to each other than they ask."""

import numpy as np
import pytest
from builders import plane
from hypothesis import given, settings
from hypothesis import strategies as st
from plants_builders import arc, crop, one_bed, straight

from geoagro.plants.placement import place_plants
from geoagro.plants.together.too_near import families, too_near
from geoagro.values.recipe import Planting
from geoagro.values.season import SeasonRule
from geoagro.values.timeline import Timeline

CROPS = {
    "citrus": crop(name="citrus", habit="tree", harvest_weeks=(150, 900)),
    "banana": crop(name="banana", habit="herb", harvest_weeks=(50, 300)),
    "pea": crop(name="pea", habit="shrub", harvest_weeks=(20, 150)),
    "ginger": crop(name="ginger", harvest_weeks=(30, 40)),
    "lettuce": crop(name="lettuce", harvest_weeks=(8, 10)),
}
TREES = {"name": "trees", "sequence": ["citrus", "banana"], "spacing_m": 1.5}


def near(*plantings, axis=None):
    recipe = [Planting(**({"bed": "vegetable"} | p)) for p in plantings]
    found = place_plants(one_bed(axis or straight(), 2.0), plane(), CROPS, recipe).findings
    return [f for f in found if "nearer to each other" in f.text]


def test_a_windbreak_laid_over_trees_is_told_with_place_crops_weeks_and_the_way_out():
    (found,) = near(TREES, {"crop": "pea", "name": "windbreak", "spacing_m": 1.0, "within": {"side": "west"}})
    assert found.level == "warning" and found.where == "plantings windbreak and trees"
    assert "than they ask in 26 places" in found.text  # all that don't stand on one place, 5 cm or less
    assert "0.25 m apart, where 1.00 m are asked, in bed R001-U1" in found.text and "weeks 0 to 150" in found.text
    assert "citrus and pea" in found.text
    for remedy in ("`instead_of`", "except", "`offsets_m`", "`first_offset_m`"):
        assert remedy in found.text


@pytest.mark.parametrize(
    "others",
    [
        [{"crop": "pea", "instead_of": "citrus", "within": {"side": "west"}}],  # trees made room
        [{"crop": "pea", "spacing_m": 1.5, "first_offset_m": 0.75}],  # midway between the trees, of one recipe
        [{"crop": "ginger", "beside": {"planting": "trees", "distance_m": 0.2, "where": "along"}}],  # as near as asked
        [{"crop": "ginger", "spacing_m": 0.3, "offsets_m": [-0.4, 0.4]}],  # lines of their own
        [{"crop": "pea", "spacing_m": 0.8, "offsets_m": [0.9], "within": {"side": "west"}}],  # .9 m and more
        [{"crop": "lettuce", "spacing_m": 0.3, "after": "trees"}],  # when they have gone
    ],
)
def test_what_the_recipe_asks_for_is_not_told(others):
    assert not near(TREES, *others)


def test_shrubs_midway_between_trees_are_companions_in_one_recipe_but_not_by_another_address():
    midway = {"crop": "pea", "spacing_m": 1.5, "first_offset_m": 0.75}
    assert not near(TREES, midway)
    (found,) = near(TREES, midway | {"within": {"side": "west"}})
    assert "0.75 m apart, where 1.50 m are asked" in found.text and "citrus and pea" in found.text


def test_herbs_in_the_line_of_trees_keep_half_their_own_distance():
    (found,) = near(TREES, {"crop": "ginger", "spacing_m": 0.4})
    assert "where 0.20 m are asked" in found.text


def test_bends_make_no_finding():
    assert not near(TREES, {"crop": "pea", "spacing_m": 1.5, "first_offset_m": 0.75}, axis=arc(12.0))


@settings(max_examples=40, deadline=None)
@given(
    spacing=st.tuples(st.floats(0.3, 2.0), st.floats(0.3, 2.0)),
    start=st.floats(0.0, 1.0),
    offset=st.floats(-0.8, 0.8),
    weeks=st.tuples(st.integers(0, 40), st.integers(0, 40)),
    addressed=st.booleans(),
)
def test_it_is_told_just_where_comparing_all_with_all_finds_it(spacing, start, offset, weeks, addressed):
    recipe = [
        Planting(crop="pea", bed="vegetable", name="one", spacing_m=spacing[0], week=weeks[0]),
        Planting(
            crop="citrus", bed="vegetable", spacing_m=spacing[1], offsets_m=(offset,), first_offset_m=start, week=weeks[1],
            within=({"side": "west"},) if addressed else (),
        ),
    ]  # fmt: skip
    frame = place_plants(one_bed(straight(), 2.0), plane(), CROPS, recipe).frame
    found = too_near(frame, Timeline.of(frame, CROPS), recipe, CROPS)
    xy, mine = frame[["x", "y"]].to_numpy(), (frame["planting"] == "one").to_numpy()
    far = np.hypot(*(xy[mine][:, None] - xy[~mine][None]).T).T
    asked = 0.98 * min(spacing) * (1.0 if addressed else 0.5)
    nearest = far.min(axis=1 if mine.sum() <= (~mine).sum() else 0)  # of each plant of the planting with fewer
    is_near = (nearest > 0.05) & (nearest < asked)
    assert bool(found) == bool(is_near.any())
    if found:
        assert (
            f"in {is_near.sum()} place" in found[0].text and f" {nearest[is_near].min():.2f} m apart" in found[0].text
        )


def test_later_rounds_count_too():
    rule = SeasonRule(years=2, vegetables={"every_weeks": 20, "years": 2})
    recipe = [
        Planting(crop="lettuce", bed="vegetable", spacing_m=1.0),
        Planting(crop="ginger", bed="vegetable", spacing_m=1.0, first_offset_m=0.2, week=12),
    ]
    frame = place_plants(one_bed(straight(), 2.0), plane(), CROPS, recipe).frame
    assert not too_near(frame, Timeline.of(frame, CROPS), recipe, CROPS)
    (found,) = too_near(frame, Timeline.of(frame, CROPS, rule), recipe, CROPS)
    assert "no. 2 and 1" in found.text or "no. 1 and 2" in found.text


def test_who_takes_over_places_or_stands_beside_is_of_the_family_of_those_in_the_same_kind_of_bed():
    recipe = [
        Planting(crop="apple", bed="tree", name="apples", spacing_m=4.0),
        Planting(crop="apple", bed="vegetable", name="nursery", spacing_m=0.5),
        Planting(crop="banana", bed="tree", name="bananas", instead_of="apple"),
        Planting(crop="pea", bed="vegetable", name="peas", spacing_m=0.2),
        Planting(crop="ginger", bed="vegetable", name="ginger", beside={"planting": "peas", "distance_m": 0.3}),
    ]
    family = families(recipe)
    assert family[0] == family[2] and family[3] == family[4]
    assert len({family[0], family[1], family[3]}) == 3
