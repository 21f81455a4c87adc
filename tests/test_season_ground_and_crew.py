"""When beds are taken and free, what company leaves, and how many people the work asks for: each step by hand."""

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest
from season_steps import BEDS, CLOCK, crop, lots, schedule, stands, tasks

from geoagro.season.clock import Clock, last_day
from geoagro.season.company import in_company, place_span, round_share, year_shares
from geoagro.season.crew import _as_good, late_days, least_people, people_by_day
from geoagro.season.husbandry.spans import free_spans
from geoagro.season.load import load_by_week, wanted_by_day
from geoagro.season.occupancy import _names, bed_months, free_beds, standing
from geoagro.season.schedule import NEVER, Schedule
from geoagro.season.task_frame import repeated
from geoagro.season.tasks import Tasks
from geoagro.values.season import Crew, Repeat
from geoagro.values.section import key_of
from geoagro.values.timeline import Standing, Stay, Timeline
from geoagro.values.yields import Span, YieldShare, YieldsInCompany

# --- the ground --------------------------------------------------------------------------------------------------


def test_days_and_months_of_the_plan_are_those_of_the_calendar():
    assert CLOCK.dates(CLOCK.last) == np.datetime64("2028-02-29") and len(CLOCK.days) == 20 + 1 + CLOCK.last
    assert CLOCK.month_of([-20, -10, -9, 21, 22]).tolist() == [0, 0, 1, 1, 2]
    assert CLOCK.start_month == 1 and CLOCK.months[[0, 1, -1]].tolist() == [
        date(2027, 2, 1),
        date(2027, 3, 1),
        date(2028, 2, 1),
    ]
    assert CLOCK.year_of_month.tolist() == [1] * 13 and CLOCK.weekday()[20] == 2
    two = Clock(date(2027, 3, 10), -20, last_day(date(2027, 3, 10), 2))
    assert two.year_of_month.tolist() == [1] * 13 + [2] * 12


def test_months_of_beds_hold_their_crops_and_count_their_free_days():
    """Bed a: maize 10 March to 9 April, beans 1 to 30 April; bed b: beans on 31 March alone; c stands empty."""
    table = bed_months(
        stands(("a", "p", "maize", 0, 30), ("a", "q", "bean", 22, 51), ("b", "q", "bean", 21, 21)), BEDS, CLOCK
    )
    wide = table.set_index(["bed", table["month"].astype(str).str[:7]])
    assert wide.loc["a", "crops"].tolist()[:3] == ["maize", "bean+maize", ""]
    assert wide.loc["a", "free_days"].tolist()[:3] == [0, 0, 31]
    assert wide.loc["b", "crops"].tolist()[:2] == ["bean", ""] and wide.loc["b", "free_days"].tolist()[:2] == [21, 30]
    assert wide.loc["c", "free_days"].tolist() == [
        22,
        30,
        31,
        30,
        31,
        31,
        30,
        31,
        30,
        31,
        31,
        29,
    ]  # March from the tenth on
    assert wide.index.get_level_values(1)[0] == "2027-03" and table["row"].tolist()[::12] == [1, 1, 2]
    early = bed_months(stands(("a", "p", "maize", 25, 300)), BEDS, CLOCK).set_index("bed")
    assert early.loc["a", "free_days"].tolist()[0] == 22 and early.loc["a", "crops"].tolist()[0] == ""
    names, code = _names(np.array([[True, False, True], [True, False, False]]), ["x", "y"])
    assert names[code].tolist() == ["x+y", "", "x"]


def test_beds_are_free_from_a_week_on():
    spans = free_spans(
        stands(("a", "p", "m", 7, 20), ("a", "q", "m", 28, 40), ("a", "r", "m", 47, 90), ("b", "p", "m", 6, 99)),
        BEDS,
        100,
    )
    assert spans[["bed", "free_from", "free_to", "next_planting"]].values.tolist() == [
        ["a", 0, 6, "p"], ["a", 21, 27, "q"], ["a", 91, 100, ""], ["c", 0, 100, ""],
    ]  # fmt: skip
    inside = free_spans(
        stands(("a", "p", "m", 0, 60), ("a", "q", "m", 10, 20), ("a", "r", "m", 80, 100)), BEDS.iloc[:1], 100
    )
    assert inside[["free_from", "free_to"]].values.tolist() == [
        [61, 79]
    ]  # the shorter one ends in the longer one's time
    table = free_beds(stands(("a", "p", "m", 14, 365)), BEDS.iloc[:1], Clock(date(2027, 3, 10), -20, 365))
    assert table["weeks"].tolist() == [2.0] and str(table["free_from"].iloc[0])[:10] == "2027-03-10"


def test_lots_stand_from_their_planting_to_their_harvest_in_the_levelled_plan():
    frame = pd.DataFrame(
        {"task": ["plant", "harvest", "harvest", "plant", "plant", "plant", "harvest"], "lot": [0, 0, 0, 1, 2, 3, 3]}
    )
    plan = schedule([5, 80, 90, 6, NEVER, 8, NEVER], [7, 85, 95, 9, NEVER, 10, NEVER])
    tree, none = crop("lemon"), crop()
    given = lots(4, crop=["maize", "lemon", "maize", "maize"], plant_day=[0, 10, 0, 0], to_day=[98, 210, 98, 98])
    found = standing(Tasks(frame, *(np.zeros(0, int),) * 3), plan, given, {"maize": none, "lemon": tree}, CLOCK)
    assert found["lot"].tolist() == [0, 1, 3] and found["begin"].tolist() == [5, 6, 8]
    assert found["end"].tolist() == [
        95,
        209,
        CLOCK.last,
    ]  # the tree ends with its life, what isn't reaped with the plan


# --- yields in company -------------------------------------------------------------------------------------------


def test_a_round_gives_the_users_share_before_the_models():
    kind = Standing("vegetable", "m", "p", "maize", 10, (Stay(1, 0, 13, 17, 17), Stay(2, 52, 65, 69, 69)))
    once = replace(kind, stays=kind.stays[:1])

    def share(round_, likely):
        place = Span(likely - 0.1, likely, likely + 0.2)
        return YieldShare(key_of(kind), round_, 0, 0.0, 17.0, 1, 1, 1, 1, 1, 1, 1, place, place, "model", "")

    yields = YieldsInCompany((share(1, 0.8), share(2, 0.5)), (), "")
    assert round_share(kind, 2, Repeat(), yields) == 0.5 and round_share(kind, 2, Repeat(), None) == 1.0
    own = Repeat(yield_pct=(100, 70))
    assert round_share(kind, 2, own, yields) == pytest.approx(0.7 * 0.8)
    assert round_share(kind, 1, own, yields) == 0.8 and round_share(kind, 3, own, None) == 0.7
    assert round_share(once, 1, Repeat(yield_pct=(90,)), None) == 1.0
    assert place_span(kind, yields, round_=2).high == 0.7
    timeline = Timeline((kind,), np.zeros(10, dtype=int))
    assert year_shares(timeline, yields, 3).tolist() == [[0.8] * 3]
    wide = in_company({"maize": crop()}, timeline, yields)["maize"]
    low, high = (0.7 / 0.8 + 0.4 / 0.5) / 2, (1.0 / 0.8 + 0.7 / 0.5) / 2
    assert wide.yield_kg.values == pytest.approx((0.05 * low, 0.1, 0.15 * high))
    tight = YieldsInCompany((replace(share(1, 0.8), place=Span(0.9, 0.8, 0.7)),), (), "")
    assert in_company({"maize": crop()}, timeline, tight)["maize"].yield_kg.values == pytest.approx((0.05, 0.1, 0.15))
    nought = YieldsInCompany((replace(share(1, 0.8), place=Span(0.0, 0.0, 0.0)),), (), "")
    assert in_company({"maize": crop()}, timeline, nought)["maize"].yield_kg == crop().yield_kg


# --- work and people ---------------------------------------------------------------------------------------------


def test_the_crew_rests_on_weekends_and_in_pauses_and_helpers_come():
    crew = Crew.model_validate(
        {
            "people": 2,
            "helpers": [{"name": "h", "people": 3, "first": "2027-03-15", "last": "2027-03-16"}],
            "pauses": [{"name": "p", "first": "2027-03-18", "last": "2027-03-19"}],
        }
    )
    present = people_by_day(crew, CLOCK, 2.0)[20:32]  # Wednesday 10 to Sunday 21 March
    week = [2 if day in crew.weekdays else 0 for day in ("wed", "thu", "fri", "sat", "sun")]
    assert present.tolist() == [*week, 5, 5, 2, 0, 0, *week[3:]]
    assert _as_good(np.array([0, 1]), np.array([0, 1])) and not _as_good(np.array([0, 2]), np.array([3, 1]))


def test_what_is_not_done_is_late_to_the_end_of_the_plan():
    work = tasks(release=[0, 0, 0], slack=[5, 5, 5])
    late = late_days(work, schedule([0, 0, NEVER], [5, 7, NEVER]), CLOCK)
    assert late.tolist() == [0, 2, CLOCK.last - 5]


def test_the_fewest_people_follow_from_the_tightest_span_of_days():
    """20 h within days 0 and 1, of 8 h each: 1.25 people, so two; 60 h over five days ask for 1.5 of one person's 40."""
    ones = np.ones(len(CLOCK.days))
    assert least_people(tasks(release=[0, 0], slack=[1, 1], hours=[10.0, 10.0]), ones, 8.0, CLOCK) == 2
    assert least_people(tasks(release=[0, 3], slack=[4, 1], hours=[30.0, 30.0]), ones, 8.0, CLOCK) == 2
    assert least_people(tasks(release=[0], slack=[1], hours=[16.0]), ones, 8.0, CLOCK) == 1
    assert least_people(tasks(release=[0, 3], slack=[0, 0], hours=[8.0, 24.0]), ones, 8.0, CLOCK) == 3
    assert least_people(tasks(release=[CLOCK.last - 1], slack=[5], hours=[800.0]), ones, 8.0, CLOCK) == 0


def test_the_load_of_a_week_is_wanted_done_and_possible_work():
    work = tasks(release=[0, -30], slack=[3, 10], hours=[16.0, 11.0])
    wanted = wanted_by_day(work, CLOCK)
    assert wanted[20:24].tolist() == pytest.approx([4.0] * 4) and wanted[24] == 0.0
    assert wanted[0] == pytest.approx(1.0) and wanted[1] == 0.0  # day -20 is the last that it could be done
    plan = Schedule(
        np.array([0, -20]), np.array([1, -20]), np.array([0, 0, 1]), np.array([0, 5, -20]), np.array([0.25, 0.75, 1.0])
    )
    table = load_by_week(work, plan, np.ones(len(CLOCK.days)), 8.0, CLOCK)
    assert table["week"].astype(str).tolist()[:5] == [
        "2027-02-15",
        "2027-02-22",
        "2027-03-01",
        "2027-03-08",
        "2027-03-15",
    ]
    assert table["person_days"].tolist()[:5] == pytest.approx([11 / 8, 0, 0, 4 / 8, 12 / 8])
    assert table["wanted"].tolist()[3] == pytest.approx(2.0) and table["capacity"].tolist()[:2] == [4.0, 7.0]


def test_repeated_work_comes_at_its_steps_and_ends_with_the_plan():
    given = lots(2, plant_day=[0, 300])
    found = repeated(
        "weed",
        given,
        np.array([3, 2]),
        CLOCK,
        step=np.array([10, 60]),
        first=5,
        slack=7,
        hours=pd.Series([1.0, 2.0]),
        link="lot",
    )
    assert found["release"].tolist() == [5, 15, 25, 305] and found["round"].tolist() == [1, 2, 3, 1]
    assert found["hours"].tolist() == [1.0] * 3 + [2.0] and found["offset"].tolist() == [5, 15, 25, 5]
    assert (
        len(
            repeated(
                "weed", given.iloc[:0], np.zeros(0, int), CLOCK, step=1, first=1, slack=1, hours=pd.Series([]), link=""
            )
        )
        == 0
    )
