"""What stands where and when: one value that every figure reads."""

import numpy as np
import pandas as pd
import pytest
import season_cases as cases
from hypothesis import given, settings
from hypothesis import strategies as st
from plants_builders import crop, stand

from geoagro.values.timeline import KEYS, Stay, Timeline

MAIZE = (("maize", "maize", "vegetable", 0.5, 0, 13, 17),)


def of(recipe, **season):
    _, plants = cases.field(30.0, 4.5, recipe)
    rule = cases.rule(**season) if season else None
    return Timeline.of(plants.frame, cases.CROPS, rule)


def test_without_a_season_every_place_is_planted_once():
    timeline = of(MAIZE)
    assert [len(kind.stays) for kind in timeline.kinds] == [1]
    assert timeline.all_plantings() == timeline.most_at_once() == len(timeline.kind)


def test_rounds_begin_within_the_years_of_the_repeat():
    timeline = of(MAIZE, vegetables={"every_weeks": 26, "years": 2})
    assert [stay.plant_week for stay in timeline.kinds[0].stays] == [0, 26, 52, 78]
    assert timeline.all_plantings("maize") == 4 * timeline.most_at_once("maize")


def test_rounds_end_with_the_plan():
    timeline = of(MAIZE, years=1, vegetables={"every_weeks": 26, "years": 3})
    assert [stay.plant_week for stay in timeline.kinds[0].stays] == [0, 26, 52]


def test_crops_that_take_turns_are_not_counted_as_standing_together():
    recipe = (("maize", "maize", "vegetable", 0.5, 0, 13, 17), ("sweet_potato", "vines", "vegetable", 0.5, 18, 33, 43))
    timeline = of(recipe)
    assert timeline.most_at_once() == timeline.kinds[0].places
    assert timeline.all_plantings() == sum(kind.places for kind in timeline.kinds)


def test_a_place_that_is_planted_again_holds_one_plant():
    timeline = of((("cassava", "cassava", "vegetable", 0.6, 0, 35, 56),), vegetables={"every_weeks": 52, "years": 3})
    kind = timeline.kinds[0]
    assert [(stay.plant_week, stay.end_week) for stay in kind.stays] == [(0, 52), (52, 104), (104, 160)]
    assert kind.stay_at(52) is kind.stays[1]


def test_trees_and_perennials_are_planted_once():
    timeline = of(cases.RECIPE, vegetables={"every_weeks": 26, "years": 2})
    assert {kind.crop: len(kind.stays) for kind in timeline.kinds if kind.bed_kind == "tree"} == {
        "lemon": 1,
        "gliricidia": 1,
    }


def test_pruning_takes_a_crown_back_and_it_grows_on():
    stay = Stay(1, 0, 10, 400, 400, prunings=(104, 156))
    assert stay.size(52, 104, 0.5) == 0.5
    assert stay.size(103, 104, 0.5) == pytest.approx(103 / 104)
    assert stay.size(104, 104, 0.5) == 0.5
    assert stay.size(130, 104, 0.5) == pytest.approx(0.75)
    assert stay.size(156, 104, 0.5) == 0.5


def test_a_plant_that_is_still_small_loses_nothing_by_pruning():
    stay = Stay(1, 0, 10, 400, 400, prunings=(10,))
    assert stay.size(12, 104, 0.5) == pytest.approx(12 / 104)


def test_cover_shows_every_round():
    """Cover of round 2 is that of round 1, since nothing else stands there."""
    season = cases.rule(vegetables={"every_weeks": 52, "years": 3}, crops={})
    plantings, crops = [{"crop": "a"}], {"a": crop(harvest_weeks=(20, 26))}
    plants, _ = stand(plantings, crops)
    timeline = Timeline.of(plants.frame, crops, season)
    _, analysis = stand(plantings, crops, timeline=timeline)
    field = analysis.cover[analysis.cover["bed"] == "field"].set_index("month")["cover_pct"]
    assert field[3] > 20
    assert np.allclose([field[15], field[27]], field[3], atol=4)
    assert field[9] == field[21] == 0
    assert analysis.timeline["planting_no"].tolist() == [1, 2, 3]


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_plants_are_alike_where_a_grouping_of_the_table_says_so(data):
    count = data.draw(st.integers(1, 40))
    words = st.sampled_from(["b", "a", "", None])
    weeks = st.sampled_from([0, 3, 70, None])
    cells = {name: weeks if name.endswith("week") else words for name in KEYS}
    plants = pd.DataFrame(
        {name: data.draw(st.lists(cell, min_size=count, max_size=count)) for name, cell in cells.items()}
    )
    plants["plants"] = data.draw(st.lists(st.integers(1, 9), min_size=count, max_size=count))
    unknown = {name: 0 if name.endswith("week") else "" for name in KEYS} | {"harvest_to_week": 100_000}
    filled = plants.astype(object).fillna(unknown)
    groups = filled.groupby(list(KEYS), sort=True)
    timeline = Timeline.of(plants)
    assert timeline.kind.tolist() == groups.ngroup().tolist()
    assert [kind.places for kind in timeline.kinds] == groups.size().tolist()
    weighted = Timeline.of(plants, weights="plants")
    assert [kind.places for kind in weighted.kinds] == groups["plants"].sum().tolist()
    as_categories = plants.astype({name: "category" for name in KEYS if not name.endswith("week")})
    assert Timeline.of(as_categories).kind.tolist() == timeline.kind.tolist()
