import numpy as np
import pytest
from plants_builders import arc, crop, stand

from geoagro.planar.zones import lens_area

MONTH = 365.25 / 12 / 7


def pair(analysis, first, second):
    table = analysis.root_pairs
    return table[(table["crop"] == first) & (table["with_crop"] == second)].iloc[0]


def two_lines(distance, **changes):
    crops = {"a": crop(name="aa", **changes), "b": crop(name="bb", **changes)}
    plantings = [
        {"crop": "a", "offsets_m": [distance / 2], "spacing_m": 4.0},
        {"crop": "b", "offsets_m": [-distance / 2], "spacing_m": 4.0},
    ]
    return stand(plantings, crops)


@pytest.mark.parametrize("distance", [0.3, 0.6, 0.9])
def test_two_discs_share_what_the_closed_form_says(distance):
    _, analysis = two_lines(distance)
    expected = lens_area(np.array([distance]), np.array([0.5]), np.array([0.5]))[0] / (np.pi * 0.25)
    # counted on 128 points per zone, the same in all: within 2 percentage points here
    assert pair(analysis, "a", "b")["mean_share_pct"] == pytest.approx(100 * expected, abs=2)


def test_plants_out_of_reach_share_nothing():
    _, analysis = two_lines(1.2)
    assert len(analysis.root_pairs) == 0
    assert len(analysis.conflicts) == 0


def test_plants_that_never_live_together_share_nothing():
    crops = {"a": crop(harvest_weeks=(5, 8)), "b": crop()}
    plantings = [
        {"crop": "a", "offsets_m": [0.1], "spacing_m": 4.0},
        {"crop": "b", "offsets_m": [-0.1], "spacing_m": 4.0, "after": "a"},
    ]
    _, analysis = stand(plantings, crops)
    assert len(analysis.root_pairs) == 0


def test_zones_grow_with_age_so_that_conflict_comes_with_time():
    _, analysis = two_lines(0.3, full_size_weeks=26)
    row = pair(analysis, "a", "b")
    # grown after 26 weeks = 6 months; the threshold of 25 % is passed before that, not in the first month
    assert row["month"] >= 6
    assert 1 < row["from_month"] < row["month"]


def test_the_conflict_layer_holds_the_plants_above_the_threshold():
    plants, analysis = two_lines(0.3)
    conflicts = analysis.conflicts
    assert len(conflicts) == len(plants.frame)
    assert set(zip(conflicts["crop"], conflicts["with_crop"], strict=True)) == {("a", "b"), ("b", "a")}
    assert (conflicts["share_pct"] >= 25).all()
    none = stand([{"crop": "a", "spacing_m": 0.3}], {"a": crop()})[1]
    assert len(none.conflicts) == 0  # its own kind isn't a conflict
    assert pair(none, "a", "a")["mean_share_pct"] > 50


SLANTED = {"a": crop(name="stem"), "b": crop(name="corm", root_reach_m=0.3)}


def slanted(direction, where="behind", axis=None):
    plantings = [
        {"crop": "a", "spacing_m": 0.6, "direction": direction},
        {"crop": "b", "beside": {"planting": "a", "distance_m": 0.25, "where": where}},
    ]
    return stand(plantings, SLANTED, axis=axis)


@pytest.mark.parametrize("axis", [None, arc(20.0)], ids=["straight", "curved"])
def test_a_sentence_names_the_crops_the_month_and_the_turn_that_helps(axis):
    # common practice, no source: stakes every 60 cm, a companion 25 cm behind, away from the roots; along the row
    # the companion stands in the roots of the stake before
    _, analysis = slanted("along", axis=axis)
    row = pair(analysis, "b", "a")
    assert row["mean_share_pct"] > 50
    assert row["text"].startswith(f"corm shares {row['mean_share_pct']:.0f} % of its root zone with stem in month")
    assert "; turn stem downhill (corm moves with it) and it is" in row["text"] or "; turn stem uphill" in row["text"]
    told = float(row["text"].split("it is ")[1].removesuffix(" %."))
    _, after = slanted("away", axis=axis)  # the row's upslope side, on the curve too
    assert pair(after, "b", "a")["mean_share_pct"] == pytest.approx(told, abs=3)
    assert told < 10


def test_large_stands_are_judged_by_stretches_and_say_so():
    crops = {"a": crop(), "b": crop()}
    plantings = [
        {"crop": "a", "offsets_m": [0.2], "spacing_m": 0.5},
        {"crop": "b", "offsets_m": [-0.2], "spacing_m": 0.5},
    ]
    plants, part = stand(plantings, crops, length=400.0, most_plants=400)
    _, full = stand(plantings, crops, length=400.0, most_plants=10_000)
    assert full.sampling == "all plants"
    assert f"of {len(plants.frame)} plants" in part.sampling
    for first, second in (("a", "b"), ("b", "a"), ("a", "a")):
        assert pair(part, first, second)["mean_share_pct"] == pytest.approx(
            pair(full, first, second)["mean_share_pct"], abs=2
        )
