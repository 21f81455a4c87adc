"""Days of the plan, and the days on which weather allows planting."""

from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
import season_cases as cases
from hypothesis import given, settings
from hypothesis import strategies as st

from geoagro.season.clock import Clock, last_day
from geoagro.season.crops import season_crops
from geoagro.season.windows import PlantingDays, breaks, planting_days
from geoagro.values.season import Window

START = date(2027, 3, 15)
CLOCK = Clock(START, -40, last_day(START, 2))
CROPS = season_crops(["maize", "lemon"], cases.CROPS, cases.rule(crops={}))
RAINS = Window(name="rains", kind="rains", first="04-01", last="06-15")
WINTER = Window(name="winter", kind="frost", first="11-15", last="03-20")


def day(text):
    return (date.fromisoformat(text) - START).days


def allowed_of(*windows):
    days = planting_days(CROPS, windows, CLOCK)
    return {code: {int(d) for d in CLOCK.days[days.allowed[group]]} for code, group in days.group.items()}


def test_years_of_the_plan_have_twelve_months_from_that_of_the_start():
    """The start lies in March 2027: February before it and the months to February 2028 are year 1, then year 2."""
    months = pd.DatetimeIndex(CLOCK.months)
    assert (months[0], months[-1]) == (pd.Timestamp("2027-02-01"), pd.Timestamp("2029-02-01"))
    year = dict(zip(months.strftime("%Y-%m"), CLOCK.year_of_month.tolist(), strict=True))
    assert [year[m] for m in ("2027-02", "2027-03", "2028-02", "2028-03", "2029-02")] == [1, 1, 1, 2, 2]
    assert np.bincount(CLOCK.year_of_month)[1:].tolist() == [13, 12]
    assert (CLOCK.start_month, CLOCK.month_of(0), CLOCK.month_of(16), CLOCK.month_of(17)) == (1, 1, 1, 2)


def test_days_carry_the_dates_and_weekdays_of_the_calendar():
    dates = [START + timedelta(days=int(d)) for d in CLOCK.days]
    assert CLOCK.dates(CLOCK.days).tolist() == dates
    assert CLOCK.weekday().tolist() == [d.weekday() for d in dates]  # Python's calendar, 0 for Monday
    assert dates[-1] == date(2029, 2, 28)


def test_rains_hold_from_their_first_day_to_their_last_every_year():
    allowed = allowed_of(RAINS)["maize"]
    assert len(allowed) == 2 * (30 + 31 + 15)
    inside = {day("2027-04-01"), day("2027-06-15"), day("2028-04-01"), day("2028-06-15")}
    outside = {day("2027-03-31"), day("2027-06-16"), day("2028-03-31"), day("2028-06-16")}
    assert inside <= allowed
    assert not outside & allowed


def test_frost_over_new_year_forbids_both_its_ends_to_tender_crops():
    allowed = allowed_of(WINTER)["maize"]
    forbidden = {day("2027-03-20"), day("2027-11-15"), day("2027-12-31"), day("2028-01-01"), day("2028-03-20")}
    assert not forbidden & allowed
    assert {day("2027-03-21"), day("2027-11-14"), day("2028-03-21"), day("2028-11-14")} <= allowed


def test_days_that_break_a_window_name_it_and_the_others_none():
    windows = (RAINS, WINTER)
    for text, names in (("2027-06-16", ["rains"]), ("2027-06-15", []), ("2027-11-15", ["rains", "winter"])):
        assert [w.name for w in breaks(CROPS["maize"], windows, CLOCK, day(text))] == names


@settings(max_examples=60)
@given(flags=st.lists(st.booleans(), min_size=1, max_size=12), first=st.integers(-5, 0), asked=st.integers(-8, 20))
def test_the_next_and_the_last_allowed_day_are_those_that_counting_finds(flags, first, asked):
    clock = Clock(START, first, first + len(flags) - 1)
    days = PlantingDays(clock, {}, np.array([flags]), {})
    open_ = [d for d, ok in zip(clock.days.tolist(), flags, strict=True) if ok]
    group, at = np.array([0]), np.array([asked])
    assert days.next_allowed(group, at)[0] == min([d for d in open_ if d >= asked], default=clock.last + 1)
    assert days.last_allowed(group, at)[0] == max([d for d in open_ if d <= asked], default=clock.first - 1)


@pytest.mark.parametrize(("slack_weeks", "latest"), [(1, "2027-04-08"), (20, "2027-06-15")])
def test_planting_may_slip_by_its_slack_but_not_past_the_last_day_of_the_rains(slack_weeks, latest):
    """Wanted on 1 March, allowed from 1 April on."""
    rains = [{"name": "rains", "kind": "rains", "first": "04-01", "last": "06-15"}]
    crops = {"maize": {"slack_weeks": slack_weeks}}
    recipe = (("maize", "maize", "vegetable", 0.5, 0, 13, 17),)
    plan = cases.plan(cases.rule(windows=rains, crops=crops, years=1), size_m=20, recipe=recipe)
    (row,) = plan.calendar.query("task == 'plant'").itertuples()
    assert (row.earliest, row.latest) == (pd.Timestamp("2027-04-01"), pd.Timestamp(latest))
