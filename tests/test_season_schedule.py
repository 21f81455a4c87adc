import numpy as np
import pandas as pd
import pytest
import season_cases as cases
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from geoagro.season.clock import Clock
from geoagro.season.crew import least_people, level_with_crew, people_by_day
from geoagro.season.schedule import NEVER, level, wanted_days
from geoagro.season.tasks import Tasks
from geoagro.values.season import Crew

NONE = np.array([], dtype=np.int64)
ALWAYS = np.ones((1, 60), dtype=bool)


def tasks(hours, release, slack, *, group=None, kinds=None, edges=()):
    n = len(hours)
    frame = pd.DataFrame(
        {
            "task": kinds or ["plant"] * n,
            "hours": np.asarray(hours, dtype=float),
            "release": release,
            "slack": slack,
            "group": group or [-1] * n,
            "order": np.arange(n),
        }
    )
    before, after, offset = (
        (np.array(v, dtype=np.int64) for v in zip(*edges, strict=True)) if edges else (NONE, NONE, NONE)
    )
    return Tasks(frame, before, after, offset)


def smallest_lateness(work, capacity):
    """Solve the levelling exactly: hours and a yes/no per task and day; the least largest lateness, or 0 if none."""
    frame, days = work.frame, len(capacity)
    n = len(frame)
    hours, release = frame["hours"].to_numpy(), frame["release"].to_numpy()
    due = release + frame["slack"].to_numpy()
    size = n * days
    x = np.arange(size).reshape(n, days)
    total = 2 * size + 1  # hours, flags, largest lateness
    rows, low, high = [], [], []

    def constrain(entries, lower, upper):
        row = np.zeros(total)
        for column, value in entries:
            row[column] = value
        rows.append(row), low.append(lower), high.append(upper)

    for t in range(n):
        constrain([(c, 1) for c in x[t]], hours[t], hours[t])
        for d in range(days):
            constrain([(x[t, d], 1), (size + x[t, d], -hours[t])], -np.inf, 0)
            constrain([(size + x[t, d], d - due[t]), (total - 1, -1)], -np.inf, 0)
    for d in range(days):
        constrain([(c, 1) for c in x[:, d]], -np.inf, capacity[d])
    upper = np.concatenate([np.full(size, np.inf), np.ones(size), [np.inf]])
    for t in range(n):
        upper[x[t, : release[t]]] = 0
    lower = np.zeros(total)
    lower[-1] = -days
    cost = np.zeros(total)
    cost[-1] = 1
    kinds = np.concatenate([np.zeros(size), np.ones(size), [0]])
    found = milp(
        cost, integrality=kinds, bounds=Bounds(lower, upper), constraints=LinearConstraint(np.array(rows), low, high)
    )
    assert found.success
    return found.x[-1]


small = st.lists(st.tuples(st.integers(1, 9), st.integers(0, 5), st.integers(0, 5)), min_size=2, max_size=5).filter(
    lambda items: sum(i[0] for i in items) <= 24
)


@settings(max_examples=12, deadline=None, derandomize=True)
@given(small, st.lists(st.sampled_from([0, 4, 4, 6]), min_size=14, max_size=14))
def test_no_schedule_is_less_late_than_ours(items, capacity):
    capacity = np.array([*capacity, 24], dtype=float)
    work = tasks(*zip(*items, strict=True))
    plan = level(work, capacity, ALWAYS[:, :15], first=0)
    due = (work.frame["release"] + work.frame["slack"]).to_numpy()
    assert max(np.max(plan.end - due), 0) == pytest.approx(smallest_lateness(work, capacity), abs=1e-6)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(small)
def test_the_crew_never_works_more_than_its_hours_and_leaves_none_idle(items):
    capacity = np.full(40, 3.0)
    work = tasks(*zip(*items, strict=True))
    plan = level(work, capacity, ALWAYS[:, :40], first=0)
    used = np.bincount(plan.day, weights=plan.share * work.frame["hours"].to_numpy()[plan.task], minlength=40)
    assert (used <= capacity + 1e-9).all()
    assert used.sum() == pytest.approx(work.frame["hours"].sum())
    release = work.frame["release"].to_numpy()
    for day in np.flatnonzero(used < capacity - 1e-9):
        assert not ((release <= day) & (plan.end > day)).any()


def test_rows_are_planted_in_walking_order_when_equally_urgent():
    plan = level(tasks([2, 2, 2, 2], [0] * 4, [9] * 4), np.full(10, 3.0), ALWAYS[:, :10], first=0)
    assert list(plan.begin) == [0, 0, 1, 2]
    assert list(plan.end) == [0, 1, 1, 2]


def test_a_more_urgent_task_interrupts_and_the_first_is_taken_up_again():
    plan = level(tasks([6, 2], [0, 1], [9, 0]), np.full(10, 2.0), ALWAYS[:, :10], first=0)
    assert list(plan.end) == [3, 1]
    assert [(int(t), int(d)) for t, d in zip(plan.task, plan.day, strict=True)] == [(0, 0), (1, 1), (0, 2), (0, 3)]


def test_a_follower_waits_for_the_end_and_the_days_between():
    work = tasks([4, 1], [0, 3], [5, 2], kinds=["plant", "weed"], edges=[(0, 1, 7)])
    plan = level(work, np.full(20, 2.0), ALWAYS[:, :20], first=0)
    assert plan.end[0] == 1
    assert plan.begin[1] == 8
    assert [list(v) for v in wanted_days(work)] == [[0, 7], [5, 14]]


def test_a_window_holds_planting_back_while_other_work_goes_on():
    allowed = np.zeros((1, 12), dtype=bool)
    allowed[0, 6:] = True
    work = tasks([2, 2], [0, 0], [3, 9], group=[0, -1], kinds=["plant", "weed"])
    plan = level(work, np.full(12, 2.0), allowed, first=0)
    assert list(plan.begin) == [6, 0]


def test_what_the_crew_cannot_finish_is_left_undone():
    plan = level(tasks([100, 1], [0, 0], [1, 5]), np.full(5, 2.0), ALWAYS[:, :5], first=0)
    assert list(plan.end) == [NEVER, NEVER]
    assert list(plan.undone) == [True, True]
    assert plan.share.sum() == pytest.approx(0.1)


def test_a_crew_is_as_large_as_the_fullest_span_of_days_asks_for():
    clock = Clock(cases.START, 0, 59)
    day = people_by_day(Crew(weekdays=("mon", "tue", "wed", "thu", "fri", "sat", "sun")), clock, 1)
    assert least_people(tasks([16], [0], [1]), day, 8.0, clock) == 1  # two days of eight hours, just full
    assert least_people(tasks([16.1], [0], [1]), day, 8.0, clock) == 2
    # by hand: days 3 and 4 must hold 10 + 30 of 16 hours a person, though days 0 to 9 would hold all with one
    assert least_people(tasks([10, 30], [3, 3], [1, 1]), day, 8.0, clock) == 3
    assert least_people(tasks([10, 30], [0, 3], [9, 6]), day, 8.0, clock) == 1


@settings(max_examples=20, deadline=None, derandomize=True)
@given(small)
def test_the_crew_found_is_the_interval_bound_where_nothing_waits(items):
    clock = Clock(cases.START, 0, 59)
    work = tasks(*zip(*items, strict=True))
    crew = Crew(hours_per_day=1.0, weekdays=("mon", "tue", "wed", "thu", "fri", "sat", "sun"))
    people, _, late = level_with_crew(work, crew, ALWAYS, clock)
    assert people == least_people(work, people_by_day(crew, clock, 1), 1.0, clock)
    assert (late == 0).all()


def test_people_rest_at_weekends_and_in_pauses_and_helpers_come():
    crew = Crew.model_validate(
        {
            "people": 2,
            "pauses": [{"name": "feast", "first": "2027-03-03", "last": "2027-03-04"}],
            "helpers": [{"name": "neighbours", "first": "2027-03-05", "last": "2027-03-08", "people": 5}],
        }
    )
    people = people_by_day(crew, Clock(cases.START, 0, 8), 2)  # 1 March 2027 is a Monday
    assert list(people) == [2, 2, 0, 0, 7, 0, 0, 7, 2]
