"""Who stands beside whom and when: nearest neighbours, spells, gaps, months that are looked at, places taken over."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from builders import UTM, plane
from plants_builders import crop, one_bed, straight

from geoagro.plants.kinds import WEEKS_PER_MONTH, moments, months_of_rounds
from geoagro.plants.placement import place_plants
from geoagro.plants.timeline import bare_beds, gaps
from geoagro.plants.timing import Life
from geoagro.plants.together.nearest import nearest_m
from geoagro.plants.together.spells import Spells, spell
from geoagro.values.plants import FARTHEST_NEIGHBOUR_M
from geoagro.values.recipe import Planting
from geoagro.values.timeline import Standing, Stay, Timeline


def kind(*stays, places=1, crop="a", full_weeks=10.0):
    """A kind of plants by weeks of planting and end."""
    rounds = tuple(Stay(k, begin, begin, end, end) for k, (begin, end) in enumerate(stays, 1))
    standing = Standing("vegetable", "", crop, crop, places, rounds)
    life = Life(stays[0][0], stays[0][0], stays[0][1])
    return SimpleNamespace(standing=standing, life=life, full_size_weeks=full_weeks)


def test_spells_are_the_first_weeks_together_and_following_is_none():
    one, other = kind((0, 10), (20, 30), (40, 50)).standing, kind((5, 25), (48, 60)).standing
    met = spell(one, other)
    assert (met.begin, met.end, met.rounds, met.times) == (5, 10, (1, 1), 3)
    assert met.words() == "weeks 5 to 10, and again in later plantings, times: 2"
    assert spell(one, kind((10, 20)).standing) is None
    late = spell(one, kind((21, 29)).standing)
    assert late.words() == "weeks 21 to 29 (plantings no. 2 and 1)"
    assert spell(one, kind((9, 21)).standing).words() == "weeks 9 to 10, and again in later plantings, times: 1"


@pytest.mark.parametrize("seed", [0, 1])
def test_the_nearest_plant_is_that_of_a_full_table_of_all_that_stand_together(seed):
    rng = np.random.default_rng(seed)
    xy = np.vstack([rng.uniform(0, 18, (70, 2)), [[60.0, 60.0]]])
    kinds = tuple(kind((begin, begin + 8)).standing for begin in (0, 5, 8, 30))
    of = np.append(rng.choice(4, 70, p=[0.3, 0.3, 0.3, 0.1]), 0)
    timeline = Timeline(kinds, of)
    table = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    meets = np.array([[a == b or spell(kinds[a], kinds[b]) is not None for b in of] for a in of])
    np.fill_diagonal(meets, False)
    expected = np.where(meets & (table <= FARTHEST_NEIGHBOUR_M), table, np.inf).min(axis=1)
    expected[np.isinf(expected)] = np.nan
    assert np.isnan(expected[-1])
    assert nearest_m(xy, timeline) == pytest.approx(expected, nan_ok=True)
    known = Spells(timeline)
    i, j = np.nonzero(~np.eye(len(of), dtype=bool))
    assert (known.meet(of[i], of[j]) == meets[i, j]).all()
    assert np.isnan(nearest_m(xy[:1], Timeline(kinds, of[:1]))).all()


def test_two_plants_alone_are_each_others_nearest():
    timeline = Timeline((kind((0, 5)).standing,), np.zeros(2, dtype=int))
    assert nearest_m(np.array([[0.0, 0.0], [3.0, 0.0]]), timeline).tolist() == [3.0, 3.0]


def test_gaps_are_longer_than_asked_from_week_0_on():
    kinds = [kind((6, 20), (31, 40)), kind((3, 25)), kind((10, 12))]
    assert gaps(kinds, 4) == [(25, 31)]
    assert gaps(kinds, 2) == [(0, 3), (25, 31)]
    assert gaps(kinds, 6) == []


def test_bare_beds_are_told_together_with_all_their_gaps():
    stand = SimpleNamespace(kinds=[kind((0, 4), (20, 24), (50, 54)), kind((0, 54))], kind=np.array([0, 0, 0, 1, 0, 1]))
    frame = pd.DataFrame({"bed": ["A", "A", "B", "C", "D", "D"]})
    (found,) = bare_beds(frame, stand, 4)
    assert found.where == "2 beds (A, B)"
    assert "2 stretches of 16 to 26 weeks, 42 weeks in all, the first from week 4 to week 20" in found.text
    (found,) = bare_beds(frame, stand, 16)
    assert "Nothing grows from week 24 to week 50 (26 weeks)." in found.text
    more = replace_beds(frame, stand, 3)
    assert bare_beds(*more, 16)[0].where == "3 beds (A, B, ...)"


def replace_beds(frame, stand, beds):
    names = ["A", "B", "E"][:beds]
    return pd.DataFrame({"bed": names}), SimpleNamespace(kinds=stand.kinds, kind=np.zeros(beds, dtype=int))


def test_months_are_looked_at_one_by_one_and_then_once_a_year_until_all_are_grown():
    assert pytest.approx(365.25) == 12 * 7 * WEEKS_PER_MONTH
    month, week = moments([kind((0, 40))], 12)
    assert month.tolist() == list(range(1, 13))
    assert week == pytest.approx((np.arange(12) + 0.5) * 365.25 / 84)
    # a tree planted in week 4 is grown after 520 more: 120.5 months
    month, _ = moments([kind((4, 2000), full_weeks=520.0)], 12)
    assert month.tolist() == [*range(1, 13), *range(24, 133, 12)]
    month, _ = moments([kind((4, 60), full_weeks=520.0)], 12)  # felled in week 60, in month 14
    assert month.tolist() == [*range(1, 13), 24]
    assert months_of_rounds([kind((0, 40)), kind((0, 10), (20, 31))]) == 8  # 31 weeks are 7.1 months
    assert months_of_rounds([kind((0, 40))]) == 0


CROPS = {
    "citrus": crop(spacing_m=3.0),
    "pea": crop(spacing_m=1.0),
    "far": crop(spacing_range_m=(4.0, 6.0), spacing_m=5.0),
    "near": crop(spacing_range_m=(3.0, 6.0), spacing_m=5.0),
    "bare": crop(spacing_m=3.5),
}


def taken(**changes):
    recipe = [
        Planting(name="mix", sequence=["citrus", "pea"], bed="vegetable", spacing_m=1.5, offsets_m=[0.3, -0.3]),
        Planting(**({"bed": "vegetable", "instead_of": "citrus"} | changes)),
    ]
    return place_plants(one_bed(straight(30.0), 2.0), plane(), CROPS, recipe)


@pytest.mark.parametrize(("spacing_m", "step"), [(3.0, 3.0), (3.1, 6.0), (6.0, 6.0), (6.1, 9.0)])
def test_what_stands_instead_takes_every_nth_place_of_each_line_that_keeps_its_distance(spacing_m, step):
    plants = taken(crop="far", spacing_m=spacing_m).frame.query("crop == 'far'")
    for line in (1, 2):
        station = plants[plants["line"] == line]["station_m"].to_numpy()
        assert np.diff(station) == pytest.approx(step)
        assert station[0] == pytest.approx(0.75)  # the first place is kept


@pytest.mark.parametrize(("code", "told"), [("far", "3.00 m apart"), ("near", None), ("bare", "3.5 m or more")])
def test_a_crop_on_places_nearer_than_its_own_range_is_warned_of(code, told):
    texts = [f.text for f in taken(crop=code).findings if "on the places of citrus" in f.text]
    assert bool(texts) == bool(told)
    assert not told or told in texts[0]


def test_on_level_ground_uphill_is_the_upslope_side_of_the_row():
    flat = plane(slope=0.0)
    flat = replace(flat, aspect_deg=flat.aspect_deg.with_values(np.full(flat.aspect_deg.values.shape, np.nan)))
    assert flat.crs == UTM
    for word, bearing in (("uphill", 0.0), ("downhill", 180.0)):
        recipe = [Planting(crop="pea", bed="vegetable", direction=word)]
        found = place_plants(one_bed(straight(10.0), 2.0), flat, CROPS, recipe).frame["bearing_deg"]
        assert found.to_numpy() == pytest.approx(bearing)
