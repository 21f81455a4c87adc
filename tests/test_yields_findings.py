"""What is said of yields in company: when a bed is too dark or too full, what helps, and what is left unsaid."""

from dataclasses import replace

import pytest

from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.values.section import Key
from geoagro.values.yields import Span, YieldShare, YieldsInCompany
from geoagro.yields.model import LIKELY, response
from geoagro.yields.tables import TOO_DARK, Remedy, recipe_yields

LIBRARY = read_crop_library()
IN_PROPORTION = next(
    code for code, crop in sorted(LIBRARY.items()) if crop.shade_response_pct is None and crop.usual_per_m2
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
    assert "planting no. 2" in said(SOUND, first, second)[0][1]
    assert "year 3" in said(replace(SOUND, round=1, year=3, incoming=0.5))[0][1]
    assert said(replace(SOUND, incoming=0.3, basis="measured")) == []


def test_beds_of_trees_are_not_called_too_dark():
    assert said(replace(SOUND, kind=KIND._replace(bed_kind="tree"), incoming=0.3)) == []


def test_a_later_round_may_be_left_to_grass_but_not_the_first():
    assert "grass or mulch from planting no. 2" in said(replace(SOUND, round=2, incoming=0.5))[0][1]
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


def test_tables_say_what_was_reckoned_column_by_column():
    round_ = replace(
        SOUND, round=3, per_m2=4.5, density=1.1, crowding=0.9, company=0.8, shade=0.7, incoming=0.65, fullness=1.3,
        place=Span(0.4, 0.5, 0.6), ground=Span(0.5, 0.75, 1.0), response="a trial",
    )  # fmt: skip
    found = recipe_yields(YieldsInCompany((round_,), (), "open sky"), LIBRARY, {})
    assert found.yields.iloc[0].to_dict() == {
        "bed_kind": "vegetable", "mixture": "m", "planting": "line", "crop": IN_PROPORTION, "planting_no": 3, "year": 0,
        "per_m2": 4.5, "density": 1.1, "light_pct": 65.0, "crowding": 0.9, "company": 0.8, "shade": 0.7, "place_low": 0.4,
        "place_likely": 0.5, "place_high": 0.6, "fullness": 1.3, "basis": "model", "response": "a trial",
    }  # fmt: skip
    one, whole = found.land.to_dict("records")
    assert (one["year"], one["crop"], one["ratio_low"], one["ratio"], one["ratio_high"]) == (
        1,
        IN_PROPORTION,
        0.5,
        0.75,
        1.0,
    )
    assert one["area_time"] != one["area_time"]  # only of all crops together
    assert (whole["crop"], whole["ratio_low"], whole["ratio"], whole["ratio_high"]) == ("all", 0.5, 0.75, 1.0)
    assert whole["area_time"] == pytest.approx(0.75 * 30 / 52.1786, rel=1e-4)


def test_a_dark_bed_is_told_with_its_light_its_loss_and_crops_that_bear_it():
    dark = replace(SOUND, incoming=0.6)
    text = said(dark)[0][1]
    assert (
        f"Too dark for {IN_PROPORTION} in planting no. 1: 60 % of open light reaches it, which costs about 40 % of its yield."
        in text
    )
    named = text.split("(")[1].split(" keeps 85 %")[0].split(", ")
    good = {c for c, crop in LIBRARY.items() if response(crop, 0.6) >= 0.85 and crop.habit not in {"tree", None}}
    assert len(named) == min(4, len(good)) and set(named) <= good - {IN_PROPORTION}
    assert "costs about 70 %" in said(replace(SOUND, incoming=0.3))[0][1]


def test_a_crop_that_keeps_its_yield_in_shade_is_not_offered_for_itself_nor_are_trees():
    plain = LIBRARY[IN_PROPORTION]
    keeps = ((0, 0), (50, 85), (100, 100))

    def offered(**crops):
        yields = YieldsInCompany((replace(SOUND, incoming=0.5),), (), "")
        return recipe_yields(yields, {IN_PROPORTION: plain} | crops, {KIND: 20}, ()).findings[0].text

    herb = plain.model_copy(update={"shade_response_pct": keeps, "habit": "herb"})
    assert "(fern keeps 85 % or more" in offered(fern=herb)
    for other in ({"habit": "tree"}, {"habit": None}, {"shade_response_pct": ((0, 0), (50, 84), (100, 100))}):
        assert "keeps" not in offered(fern=herb.model_copy(update=other))


def test_yields_that_lack_a_density_are_told_to_be_uncorrected():
    found = recipe_yields(YieldsInCompany((), ((KIND, "why"),), ""), LIBRARY, {})
    assert [(f.level, f.where) for f in found.findings] == [("warning", "planting line")]
    assert len(found.yields) == len(found.land) == 0
