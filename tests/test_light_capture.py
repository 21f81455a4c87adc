"""Light that crops take through their lives, against one crown and one month at a time, worked out by hand."""

import numpy as np
import pytest

from geoagro.light.canopy import light_in, taken_alone
from geoagro.light.capture import Scene, _spans, captures, lines_of
from geoagro.light.growth import Canopy
from geoagro.light.rays import Sky
from geoagro.light.sun import MEAN_DAY, extraterrestrial_mj
from geoagro.values.section import Key, Line, Section
from geoagro.values.timeline import Standing, Stay

WEEKS = 365.25 / 7
TALL, LOW = Key("vegetable", "m", "tall", "reed", 0, 26), Key("vegetable", "m", "low", "moss", 0, 26)


def canopy(height, radius=0.4, *, base=0.0, full=1.0, leafless=()):
    """Grown to full size in a week unless said."""
    return Canopy(radius, height, 1.0, 1.0, base, 0.6, 0.5, 0.5, full, leafless)


def stand(key, plant=0, end=26, **more):
    return Standing(key.bed_kind, key.mixture, key.planting, key.crop, 1, (Stay(1, plant, end, end, end),), **more)


SECTION = Section(2.0, 1, (Line(TALL, 0.3, 0.5), Line(TALL, 0.9, 1.0), Line(LOW, 1.0, 0.4)), ())
CANOPIES = {TALL: canopy(2.0, base=0.5), LOW: canopy(0.6)}
BOTH = [stand(TALL), stand(LOW)]
NEVER_YEARS = {TALL: False, LOW: False}


def scene(sky=None, month=None, **canopies):
    return Scene(SECTION, CANOPIES, sky or Sky(None), 40.0, month)


def lone(plant, end, *, sky=None, month=None, weeks=None, perennial=False, **shape):
    """Captures of a low crop by itself, which stands from one week to another."""
    key = LOW._replace(plant_week=plant, end_week=end)
    own = {"height": 0.6} | shape
    at = Scene(Section(2.0, 1, (Line(key, 1.0, 0.4),), ()), {key: canopy(**own)}, sky or Sky(None), 40.0, month)
    return captures(at, [stand(key, plant, end)], weeks=weeks or end, perennial={key: perennial})


def test_light_in_company_alone_and_grown_alone_is_that_of_the_crowns():
    """26 weeks in steps of two at full size: thirteen times the light of one moment."""
    at = scene()
    tall, low = captures(at, BOTH, weeks=26.0, perennial=NEVER_YEARS)
    rays = at.sky.rays((1,), 40.0)
    crowns = [CANOPIES[key].crown(lines_of(SECTION, key), (1.0, 1.0)) for key in (TALL, LOW)]
    light = light_in(crowns, 2.0, rays)
    for k, (one, crown) in enumerate(zip((tall, low), crowns, strict=True)):
        assert one.captured == pytest.approx(13 * light.captured[k]) and one.incoming == pytest.approx(
            light.incoming[k]
        )
        assert one.alone == pytest.approx(13 * taken_alone(crown, 2.0, rays))
        own = CANOPIES[one.kind]
        width, lines = own.sole_lines()
        grown = taken_alone(own.crown(lines, (1.0, 1.0)), width, rays)
        assert one.sole == pytest.approx(13 * grown)
        assert (one.round, one.year, one.from_week, one.weeks) == (1, 0, 0.0, 26.0)
    assert low.incoming < tall.incoming == pytest.approx(1.0)
    assert (tall.per_m2, low.per_m2) == pytest.approx(((1 / 0.5 + 1 / 1.0) / 2, 1 / 0.4 / 2))
    # all that is taken, over what grown stands take, each weighed by what it takes
    rates = [one.sole / 13 for one in (tall, low)]
    usual = (light.captured * rates).sum() / light.captured.sum()
    assert tall.fullness == low.fullness == pytest.approx(light.captured.sum() / usual)


@pytest.mark.parametrize(("first", "months"), [(6, (6, 7)), (12, (12, 1))])
def test_months_count_by_their_radiation_and_their_sun(first, months):
    """Eight weeks in the first month and the next: weeks 1 and 3 in the one, 5 and 7 in the other."""
    sky = Sky(48.0, 0.5)
    (one,) = lone(0, 8, sky=sky, month=first)
    crown = CANOPIES[LOW].crown(lines_of(SECTION, LOW), (1.0, 1.0))
    parts = [extraterrestrial_mj(48.0, MEAN_DAY[m - 1]) * taken_alone(crown, 2.0, sky.rays((m,), 40.0)) for m in months]
    assert one.captured == pytest.approx(2 * sum(parts))


def test_weeks_fall_into_calendar_months():
    at = scene(month=11)
    month = WEEKS / 12
    assert [at.months(w) for w in (0.0, 0.99 * month, 1.01 * month, 2.01 * month)] == [(11,), (11,), (12,), (1,)]
    assert scene().months(30.0) == tuple(range(1, 13))


def test_steps_are_of_two_weeks_up_to_three_years_and_of_four_beyond():
    fine, coarse = (lone(6, 26, weeks=weeks)[0] for weeks in (156.0, 157.0))
    assert (fine.from_week, fine.weeks) == (6.0, 20.0)  # looked at in weeks 7, 9, ... 25
    assert (coarse.from_week, coarse.weeks) == (4.0, 20.0)  # in weeks 6, 10, ... 22
    assert lone(6, 26, weeks=0.5) == () == captures(scene(), [], weeks=9.0, perennial={}) == lone(60, 90, weeks=50.0)


def test_rounds_are_told_apart_and_perennials_year_by_year():
    twice = Standing("vegetable", "m", "low", "moss", 1, (Stay(1, 0, 26, 26, 26), Stay(2, 40, 60, 66, 66)))
    found = captures(scene(), [twice], weeks=80.0, perennial=NEVER_YEARS)
    assert [(c.round, c.year, c.from_week, c.weeks) for c in found] == [(1, 0, 0.0, 26.0), (2, 0, 40.0, 26.0)]
    times = np.arange(1.0, 156.0, 2.0)
    spans = [
        (round_, year, times[inside][[0, -1]].tolist())
        for round_, year, inside in _spans(stand(LOW, 10, 99), times, True)
    ]
    assert spans == [(1, 1, [11.0, 51.0]), (1, 2, [53.0, 99.0])]  # the last week of harvest counts


def test_young_perennials_leave_more_than_grown_ones_would():
    """Fullness is what is taken over what grown stands take: half grown in the middle of a year, a year to full size."""
    key = Key("vegetable", "m", "low", "moss", 0, 500)
    section = Section(2.0, 1, (Line(key, 1.0, 0.4),), ())
    slow = Scene(section, {key: canopy(0.6, full=200.0)}, Sky(None), 40.0, None)
    found = captures(slow, [stand(key, 0, 500)], weeks=104.0, perennial={key: True})
    rays = slow.sky.rays((1,), 40.0)
    own = slow.canopies[key]
    width, lines = own.sole_lines()
    grown = taken_alone(own.crown(lines, (1.0, 1.0)), width, rays)
    for one in found:
        assert one.fullness == pytest.approx(one.captured / (one.weeks / 2) / grown)
        assert one.captured == pytest.approx(one.alone)
    assert found[0].fullness < found[1].fullness


def test_leafless_months_take_no_light_where_a_month_is_known():
    (one,), (all_year,) = lone(0, 8, month=3, leafless=(3,)), lone(0, 8, leafless=(3,))
    assert one.captured == pytest.approx(all_year.captured / 2)  # weeks 1 and 3 lie in March, 5 and 7 in April
    assert lone(0, 8, height=0.0) == ()
