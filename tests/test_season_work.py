"""What work takes, against published figures, and how the harvest is spread."""

import pytest
import season_cases as cases

from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.plants.timing import lives
from geoagro.season.husbandry import work_rates as w
from geoagro.season.records.figures import Key
from geoagro.values.recipe import Crop, Planting, Recipe
from geoagro.values.season import SeasonRule

LIBRARY = read_crop_library()


def test_beds_made_by_hand_take_what_the_manual_says():
    # WEC/FAO 1999: ridging 43.8 man-days of 8 hours a hectare
    assert 1e4 * w.PREPARE_H_PER_M2["hand"].likely == pytest.approx(43.8 * 8, rel=0.01)
    assert w.PREPARE_H_PER_M2["machine"].high < w.PREPARE_H_PER_M2["hand"].low


def test_planting_a_hectare_of_cassava_takes_what_the_manual_says():
    # WEC/FAO 1999: 28.3 man-days of 8 hours for 10,000 places
    assert 1e4 * w.PLANT_H["stem cutting"].likely == pytest.approx(28.3 * 8, rel=0.01)


@pytest.mark.parametrize(
    ("code", "low", "high"),
    [
        ("maize", 0.08, 0.13),  # FAO family farming: 110 h a tonne
        ("cassava", 0.0212, 0.0212),  # IITA 1996: 212 h for 10 t
        ("groundnut", 1 / 10.5, 0.15),  # stripping alone 10.5 kg/h
        ("coffee", 1 / 16, 1 / 6),  # 50-120 kg of cherries a day of 8 hours
    ],
)
def test_harvest_by_hand_takes_the_published_hours(code, low, high):
    assert low <= w.harvest_rate(code, LIBRARY[code].harvest).likely <= high


def test_ginger_and_pits_take_the_published_hours():
    # 150 workdays of 8 h a hectare at 20 x 20 cm (250,000 places); 30-80 holes a day (ILO-UNDP 1993)
    assert w.PLANT_H["rhizome"].likely == pytest.approx(150 * 8 / 250_000, rel=0.01)
    assert 8 / 80 <= w.PIT_H.likely <= 8 / 30


def test_every_rate_rises_from_low_to_high():
    rates = [*w.PREPARE_H_PER_M2.values(), *w.PLANT_H.values(), *w.FELL_H_PER_M2.values(), w.PIT_H, w.PRUNE_H_PER_M2]
    rates += [w.harvest_rate(code, str(crop.harvest)) for code, crop in LIBRARY.items()]
    assert all(rate.low <= rate.likely <= rate.high for rate in rates)


def test_felling_and_pruning_grow_with_the_trees_size():
    small, tall = Crop(height_m=4, canopy_width_m=3), Crop(height_m=20, canopy_width_m=6)
    assert w.fell_rate(tall, "hand").likely > 20 * w.fell_rate(small, "hand").likely
    assert w.prune_rate(tall).likely > 5 * w.prune_rate(small).likely
    assert w.fell_rate(tall, "hand").likely > 0.5  # was 0.05 h for a tree of 20 m
    assert w.fell_rate(tall, "machine").likely < w.fell_rate(tall, "hand").likely


def test_a_hectare_of_cassava_alone_takes_hours_within_the_published_range():
    # all field work: 778-830 h/ha (Zaire) to 1,868-2,206 h/ha (Uganda), FAO cassava processing text
    crop = LIBRARY["cassava"]
    places = 1e4 * crop.usual_per_m2
    rule = SeasonRule(carry_m=0)
    made = 1e4 * w.PREPARE_H_PER_M2["hand"].likely
    planted = places * w.PLANT_H["stem cutting"].likely
    weeded = 431.0  # a season of hand hoeing after hand cultivation, Nigeria trial CGSpace3075
    lifted = places * crop.yield_kg[1] * w.harvest_rate("cassava", "uproot").likely
    assert rule.hours.tool == "hand"
    assert 778 <= made + planted + weeded + lifted <= 2206


def test_a_harvest_that_comes_once_is_lifted_bed_after_bed_over_its_window():
    plan = cases.plan(cases.rule(), size_m=60)
    lifted = plan.bed_tasks[(plan.bed_tasks["task"] == "harvest") & (plan.bed_tasks["crop"] == "cassava")]
    first = lifted.groupby("planting_no")["earliest"].agg(["min", "max"])
    weeks = (first["max"] - first["min"]).dt.days / 7
    assert (weeks > 0.7 * (56 - 35)).all()  # the window of the crop is weeks 35 to 56


def test_levelled_work_peaks_no_higher_than_the_crew_that_work_as_wanted_calls_for():
    plan = cases.plan(cases.rule(), size_m=60)
    lifting = plan.weeks[plan.weeks["week"].dt.year >= 2028]
    assert lifting["person_days"].max() <= plan.weeks["wanted"].max() + 5 * plan.people


def test_a_fence_and_watering_are_planned_only_where_asked_for():
    plain = cases.plan(cases.rule(), size_m=30)
    asked = cases.plan(cases.rule(fence_m=120, watering={"weeks": 8}), size_m=30)
    assert not plain.days["task"].isin(["fence", "water"]).any()
    hours = asked.days.groupby("task")["hours"].sum()
    assert hours["fence"] == pytest.approx(120 * w.FENCE_H_PER_M.likely)
    trees = asked.calendar[(asked.calendar["task"] == "plant") & (asked.calendar["bed_kind"] == "tree")]["places"].sum()
    assert hours["water"] == pytest.approx(8 * trees * w.WATER_H_PER_PLACE.likely)


def test_carrying_counts_there_and_back_with_a_load_that_one_may_lift():
    # NIOSH load constant 23 kg: 100 m and back at 3 km/h are 4 minutes
    assert w.carry_h_per_kg(100) == pytest.approx(4 / 60 / 23)
    near, far = (cases.plan(cases.rule(carry_m=m), size_m=30).figure(Key.ALL_WORK) for m in (0, 400))
    assert far > near


def test_a_planting_in_batches_is_ripe_in_turn():
    recipe = Recipe(name="x", plantings=(Planting(crop="lettuce", bed="vegetable", batches=3, batch_weeks=2, week=4),))
    assert [(p.label, p.every, p.first_row, p.week) for p in recipe.plantings] == [
        ("lettuce 1", 3, 1, 4),
        ("lettuce 2", 3, 2, 6),
        ("lettuce 3", 3, 3, 8),
    ]


def test_a_planting_may_wait_for_the_first_harvest_week_only():
    maize = Planting(crop="maize", bed="vegetable")
    last = Planting(crop="bean", bed="vegetable", after="maize")
    first = last.model_copy(update={"after_harvest": "first"})
    assert lives([maize, last], LIBRARY)[1]["bean"].plant == LIBRARY["maize"].harvest_weeks[1]
    assert lives([maize, first], LIBRARY)[1]["bean"].plant == LIBRARY["maize"].harvest_weeks[0]
