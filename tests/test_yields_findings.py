"""What is said of yields in company: when a bed is too dark or too full, what helps, and what is left unsaid."""

from dataclasses import replace

import pytest

from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.values.section import Key
from geoagro.values.yields import Span, YieldShare, YieldsInCompany
from geoagro.yields.model import LIKELY
from geoagro.yields.tables import TOO_DARK, Remedy, recipe_yields

LIBRARY = read_crop_library()
IN_PROPORTION = next(
    code for code, crop in sorted(LIBRARY.items()) if crop.shade_response is None and crop.usual_per_m2
)
KIND = Key("vegetable", "m", "line", IN_PROPORTION, 0, 30)
SOUND = YieldShare(
    KIND, 1, 0, 0.0, 30.0, 4.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.9, Span(0.9, 1.0, 1.1), Span(0.9, 1.0, 1.1), "model", ""
)


def said(*shares, remedies=()):
    yields = YieldsInCompany(tuple(shares), (), "")
    return [(f.level, f.text) for f in recipe_yields(yields, LIBRARY, {KIND: 20}, remedies).findings]


def eased(light):
    return Remedy("prune in spring", YieldsInCompany((replace(SOUND, incoming=light),), (), ""))


def test_nothing_is_said_of_a_sound_stand():
    assert said(SOUND) == []


@pytest.mark.parametrize(("lost", "dark"), [(TOO_DARK - 0.01, False), (TOO_DARK + 0.01, True)])
def test_a_bed_is_too_dark_from_the_stated_loss_on(lost, dark):
    assert bool(said(replace(SOUND, incoming=1 - lost))) is dark


def test_only_the_first_dark_round_of_a_planting_is_told_and_none_of_a_measured_yield():
    first, second = replace(SOUND, round=2, incoming=0.5), replace(SOUND, round=3, incoming=0.3)
    assert len(said(SOUND, first, second)) == 1
    assert "round 2" in said(SOUND, first, second)[0][1]
    assert "year 3" in said(replace(SOUND, round=1, year=3, incoming=0.5))[0][1]
    assert said(replace(SOUND, incoming=0.3, basis="measured")) == []


def test_beds_of_trees_are_not_called_too_dark():
    assert said(replace(SOUND, kind=KIND._replace(bed_kind="tree"), incoming=0.3)) == []


def test_a_later_round_may_be_left_to_grass_but_not_the_first():
    assert "grass or mulch from round 2" in said(replace(SOUND, round=2, incoming=0.5))[0][1]
    assert "grass or mulch" not in said(replace(SOUND, round=1, incoming=0.5))[0][1]


def test_a_remedy_is_named_only_where_it_gives_over_five_points_of_light():
    dark = replace(SOUND, incoming=0.5)
    assert "prune in spring (56 % of the light)" in said(dark, remedies=[eased(0.56)])[0][1]
    assert "prune in spring" not in said(dark, remedies=[eased(0.54)])[0][1]


def test_a_stand_over_twice_the_usual_density_is_told_once():
    dense = replace(SOUND, density=2.1, fullness=3.0, place=Span(0.3, 0.4, 0.5))
    assert said(dense, replace(dense, round=2)) == [
        ("warning", f"{IN_PROPORTION} stands 2.1 times as dense as grown alone; a place yields 0.40 of one alone.")
    ]
    assert said(replace(SOUND, density=2.0)) == []


@pytest.mark.parametrize(
    ("times", "place", "told"), [(1.06, 0.74, True), (1.04, 0.74, False), (1.06, 0.76, False), (3.0, 0.5, True)]
)
def test_a_mixture_that_asks_more_than_the_ground_feeds_is_told_where_it_costs(times, place, told):
    full = replace(SOUND, fullness=times * LIKELY.fullest, place=Span(place - 0.1, place, place + 0.1))
    assert [level for level, _ in said(full)] == (["note"] if told else [])
