"""Costs, draws, readings and planting material: each step by hand."""

from datetime import date
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from season_cases import rule
from season_steps import CLOCK, NAN, crop, tasks

from geoagro.season.chance import Stakes, _lasting, mean, quantile, simulate
from geoagro.season.clock import Clock, last_day
from geoagro.season.figures import _chances, _count, _losses, _month, _share, _upkeep, _work, _worth
from geoagro.season.finance import break_even, internal_rate, monthly_rate, net_present_value, sign_changes
from geoagro.season.husbandry.orders import orders
from geoagro.season.material import _planted, material_by_crop, running_share
from geoagro.season.money import _by_month as money_by_month
from geoagro.season.money import (
    _cash,
    _yields,
    full_places,
    material_costs,
    other_costs,
    plan_money,
    work_by_day,
    work_by_month,
)
from geoagro.season.schedule import Schedule
from geoagro.season.sensitivity import TOGETHER, Lever, _base, _levers, _row, _together
from geoagro.values.season import Cost, Range, Simulation

# --- money -------------------------------------------------------------------------------------------------------


def test_costs_fall_into_their_months():
    two = Clock(date(2027, 3, 10), -20, last_day(date(2027, 3, 10), 2))
    costs = (
        Cost(name="a", amount=100.0), Cost(name="b", amount=10.0, when="monthly", from_year=2),
        Cost(name="c", amount=7.0, when="yearly", per="ha"), Cost(name="d", amount=1.0, when="monthly", to_year=1),
    )  # fmt: skip
    found = other_costs(costs, 2.0, 2, two)
    assert found.tolist() == [0.0, 100 + 14 + 1.0, *[1.0] * 11, 14 + 10.0, *[10.0] * 11]
    assert money_by_month(pd.to_datetime(["2027-02-20", "2027-03-01", "2027-03-31"]), [1.0, 2.0, 4.0], two)[
        :3
    ].tolist() == [1.0, 6.0, 0.0]


def test_material_is_paid_when_it_is_sown_or_planted_by_piece_or_weight():
    days = pd.DataFrame(
        {
            "crop": ["maize", "lemon"],
            "total": [100, 3],
            "weight_kg": [0.5, NAN],
            "day": pd.to_datetime(["2027-04-02", "2027-05-02"]),
            "sow_on": pd.to_datetime([None, "2027-03-11"]),
        }
    )
    paid = material_costs(days, {"maize": crop(unit_cost=4.0), "lemon": crop("lemon", unit_cost=6.0)}, CLOCK)
    assert paid[:4].tolist() == [0.0, 18.0, 2.0, 0.0]


def test_the_balance_takes_high_hours_with_low_income():
    income = [np.array([5.0, 5.0]), np.array([10.0, 10.0]), np.array([20.0, 20.0])]
    clock = Clock(date(2027, 3, 1), 0, 60)
    runs = np.array([[1.0, 1.0], [2.0, 2.0], [3.0, 3.0]])
    cash = _cash(
        income,
        {"material": np.array([1.0, 0.0]), "other": np.array([0.0, 2.0])},
        np.array([4.0, 4.0]),
        runs,
        Range(low=0.5, likely=1.0, high=2.0),
        clock=clock,
    )
    assert cash["net_low"].tolist() == [5 - 1 - 8.0, 5 - 2 - 8.0] and cash["net_likely"].tolist() == [5.0, 4.0]
    assert cash["net_high"].tolist() == [20 - 1 - 2.0, 20 - 2 - 2.0] and cash["balance_high"].tolist() == [17.0, 33.0]
    assert cash["balance_p50"].tolist() == [2.0, 4.0] and cash["balance_p10"].tolist() == pytest.approx([1.2, 2.4])
    assert cash["balance_p90"].tolist() == pytest.approx([2.8, 5.6])


def test_work_is_summed_by_day_and_month():
    work = tasks(task=["plant", "weed"], hours=[10.0, 4.0])
    plan = Schedule(np.zeros(2), np.zeros(2), np.array([0, 0, 1]), np.array([0, 25, 25]), np.array([0.4, 0.6, 1.0]))
    days = work_by_day(work, plan, np.full(len(CLOCK.days), 2.0), rule(), CLOCK)
    hours = rule().crew.hours_per_day
    assert days["hours"].tolist() == [4.0, 6.0, 4.0] and days["person_days"].tolist() == pytest.approx(
        [4 / hours, 6 / hours, 4 / hours]
    )
    months = work_by_month(days, rule())
    assert months["hours"].tolist() == [4.0, 6.0, 4.0] and months["cost"].tolist() == [12.0, 18.0, 12.0]
    little = full_places(tasks(full_places=[0.5, 0.0]), plan, {"maize": crop()}, CLOCK)
    assert little[0, :3].tolist() == pytest.approx([0.0, 0.2, 0.3])
    kg = [np.array([[0.0, 0.1, 0.2]]), np.array([[0.0, 0.2, 0.4]]), np.array([[0.0, 0.3, 0.6]])]
    told = _yields(kg, [2 * k for k in kg], {"maize": crop()}, CLOCK)
    assert told["kg_high"].tolist() == [0.3, 0.6] and told["income_low"].tolist() == [0.2, 0.4]
    assert told["month"].astype(str).str[:7].tolist() == ["2027-03", "2027-04"]
    places = full_places(tasks(full_places=[10.0, 0.0]), plan, {"maize": crop()}, CLOCK)
    assert places[0, :3].tolist() == [0.0, 4.0, 6.0]


def test_worth_of_payments_has_its_closed_forms():
    assert monthly_rate(0.1) == pytest.approx(1.1 ** (1 / 12) - 1)
    assert net_present_value([-100.0] + [0.0] * 11 + [110.0], 0.1) == pytest.approx(0.0)
    assert net_present_value(np.ones((2, 1)), 0.1).tolist() == [1.0, 1.0]
    assert internal_rate([-100.0] + [0.0] * 11 + [110.0]) == pytest.approx(0.1)
    assert internal_rate([-100.0] + [0.0] * 11 + [50.0]) == pytest.approx(-0.5)
    assert internal_rate([1.0, 1.0]) is None and internal_rate([-1.0, 3.0, -2.5]) is None
    several = (
        [-100.0] + [0.0] * 11 + [150.0] + [0.0] * 11 + [-10.0]
    )  # the sum goes from below nought to above and stays there
    growth = (15 + np.sqrt(225 - 40)) / 20
    assert internal_rate(several) == pytest.approx(growth - 1)
    assert (sign_changes([0, -1, 0, 2, 3, -1]), sign_changes([1, 2])) == (2, 0)
    assert break_even(np.array([[0.0, 1.0], [-1.0, 0.0], [-1.0, -1.0]])).tolist() == [0, 1, -1]


def test_one_assumption_at_a_time_moves_the_result():
    """Two crops of 10 and 20 kg sold now, at 2 and 1: 40; work 5 at once, other costs 3."""
    stakes = Stakes(
        np.array([[10.0], [20.0]]), [Range(low=0.5, likely=1, high=2)] * 2, [Range(low=1, likely=2, high=3), Range(low=1, likely=1, high=1)],
        np.array([1]), np.array([5.0]), np.array([3.0]), Range(low=0.8, likely=1.0, high=1.5),
    )  # fmt: skip
    assert _base(stakes, rule()) == 40 - 5 - 3
    row = _row(32.0, Lever("maize", "price", "yours", Range(low=1, likely=2, high=3), 10.0))
    assert (row["at_low"], row["at_high"], row["swing"], row["turns"]) == (22.0, 42.0, 20.0, False)
    assert np.isnan(row["zero_at"])  # at a price of 2 - 3.2
    deep = _row(5.0, Lever("maize", "price", "yours", Range(low=1, likely=2, high=3), 10.0))
    assert deep["zero_at"] == 1.5 and deep["turns"]
    assert _row(5.0, Lever("maize", "price", "yours", Range(low=1, likely=1, high=1), 10.0)) is None
    (both,) = _together(np.array([10.0, 20.0]), stakes.prices, stakes.yields, "price", "yours")
    assert both.span.values == pytest.approx((30 / 40, 1.0, 50 / 40)) and both.worth == 40.0
    assert list(_together(np.array([10.0]), stakes.prices[:1], stakes.yields[:1], "price", "yours")) == []
    (small,) = _together(np.array([0.1, 0.2]), stakes.prices, stakes.yields, "price", "yours")
    assert small.worth == pytest.approx(0.4) and small.span.values == pytest.approx((30 / 40, 1.0, 50 / 40))
    assert list(_together(np.zeros(2), stakes.prices, stakes.yields, "price", "yours")) == []


def test_draws_have_the_mean_and_the_ends_of_their_distribution():
    span, u = Range(low=1.0, likely=2.0, high=5.0), (np.arange(20_000) + 0.5) / 20_000
    for shape, middle in (("triangular", 8 / 3), ("pert", 14 / 6)):
        drawn = quantile(u, span, shape)
        assert mean(span, shape) == pytest.approx(middle) == pytest.approx(drawn.mean(), abs=1e-3)
        assert (drawn.min(), drawn.max()) == (pytest.approx(1.0, abs=0.05), pytest.approx(5.0, abs=0.2))
    # triangular: variance (a^2 + b^2 + c^2 - ab - ac - bc) / 18; a third of the way up lies a quarter of the mass
    assert quantile(u, span, "triangular").var() == pytest.approx((1 + 4 + 25 - 2 - 5 - 10) / 18, rel=1e-3)
    assert quantile(np.array([0.25]), span, "triangular").tolist() == [2.0]
    # PERT is a beta distribution with a = 2, b = 4 here: variance 16 ab / ((a + b)^2 (a + b + 1))
    assert quantile(u, span, "pert").var() == pytest.approx(16 * 8 / (36 * 7), rel=2e-3)
    assert quantile(u, Range(low=3, likely=3, high=3), "pert").tolist() == [3.0] * len(u)


def test_years_and_crops_go_together_as_far_as_the_rule_says():
    law = Simulation(lasting=0.4, correlation=0.3, runs=1000)
    z = _lasting(np.random.default_rng(1), 2, (40_000, 2), law, shared=0.3)
    assert (
        z.shape == (2, 40_000, 2)
        and z.std() == pytest.approx(1.0, abs=0.01)
        and z.mean() == pytest.approx(0.0, abs=0.01)
    )
    assert np.corrcoef(z[0, :, 0], z[0, :, 1])[0, 1] == pytest.approx(0.4, abs=0.02)
    assert np.corrcoef(z[0, :, 0], z[1, :, 0])[0, 1] == pytest.approx(0.3, abs=0.02)
    assert np.corrcoef(z[0, :, 0], z[1, :, 1])[0, 1] == pytest.approx(0.12, abs=0.02)
    sure = Range(low=2, likely=2, high=2)
    stakes = Stakes(
        np.array([[10.0, 0.0, 30.0]]),
        [sure],
        [sure],
        np.array([1, 1, 2]),
        np.array([1.0, 2.0, 3.0]),
        np.array([4.0, 0.0, 0.0]),
        sure,
    )
    assert simulate(stakes, Simulation(runs=100)).tolist() == [[40 - 2 - 4.0, -4.0, 120 - 6.0]] * 100


def test_readings_of_figures_have_the_digits_that_they_need():
    def read(value):
        return str(_count(None, "n", value, "h", "")[4])

    assert [read(v) for v in (12.34, 99.96, 100.4, -250.6, 3.0)] == ["12.3 h", "100.0 h", "100 h", "-251 h", "3 h"]
    assert read(NAN) == "not within the plan"
    assert str(_share(None, "n", 0.123, "", runs=400)[4]) == "12.3 % of 400 runs"
    _, _, value, _, text, _ = _month(None, "n", 3, CLOCK)
    assert value == 2.0 and "month 2" in str(text) and np.isnan(_month(None, "n", -1, CLOCK)[2])
    money = SimpleNamespace(cash=pd.DataFrame({"net_low": [-7.0, 0.0]}))
    asked = rule(simulation={"runs": 100})
    share, reading = _losses(np.array([-1.0, 0.0, 2.0, -3.0]), money, asked)[2:5:2]
    assert share == 2.0 and str(reading).startswith("2.0 % of 100 draws; with everything at its worst end -7 EUR")
    assert str(_losses(np.array([0.0]), money, asked)[4]).startswith("none of 100 draws")


def test_key_figures_are_sums_quantiles_and_months_of_the_plan():
    """Eleven runs with worths of 0 to 1,000 by hundreds less 300, all within the first month; three of eleven at a loss."""
    money = SimpleNamespace(
        runs=np.column_stack([np.arange(0, 1100, 100) - 300.0, np.zeros(11)]),
        cash=pd.DataFrame({f"net_{k}": v for k, v in (("low", [-50.0, 0.0]), ("likely", [-10.0, 30.0]), ("high", [5.0, 5.0]))}),
        years=None,
    )  # fmt: skip
    for k in ("low", "likely", "high"):
        money.cash[f"balance_{k}"] = money.cash[f"net_{k}"].cumsum()
    two = Clock(date(2027, 3, 10), 0, 52)
    asked = rule(simulation={"runs": 100}, discount_rate_pct=0)
    chances = {str(line[0]): line[2] for line in _chances(money, asked, two)}
    assert list(chances.values())[:5] == pytest.approx(
        [-200, 200, 600, 200, np.std(money.runs[:, 0], ddof=1) / np.sqrt(11)]
    )
    assert list(chances.values())[5:] == pytest.approx([3.0, 800 / 11, 0.0])
    never = SimpleNamespace(runs=-np.ones((3, 2)), cash=money.cash)
    assert np.isnan(_chances(never, asked, two)[-1][2])
    worth = [line[2] for line in _worth(money, asked, two)]
    assert worth[:3] == [-50.0, 20.0, 10.0] and worth[3] == pytest.approx(3.0**12 - 1)
    assert np.isnan(worth[4]) and worth[5:] == [1.0, 0.0, -10.0]
    late = {
        "likely_from": pd.to_datetime(["2027-03-12", "2027-03-20"]),
        "likely_to": pd.to_datetime(["2027-03-15", "2027-03-25"]),
    }
    calendar = pd.DataFrame({"task": "plant", "planting": "p", "planting_no": 1, "late_days": [0, 4]} | late)
    work = {
        "day": pd.to_datetime(["2027-03-12", "2027-03-14", "2027-03-15", "2028-03-09", "2028-03-10"]), "hours": [8.0, 4.0, 8.0, 2.0, 1.0],
        "person_days": [1.0, 0.5, 1.2, 0.25, 0.125], "task": ["cut", "weed", "cut", "weed", "weed"],
    }  # fmt: skip
    material = pd.DataFrame({"places": [10, 20], "total": [12, 23]})
    rows = _work(two, material=material, calendar=calendar, days=pd.DataFrame(work), people=2, area_ha=0.5, standing=9)
    assert [line[2] for line in rows] == pytest.approx([30, 9, 35, 2, 22, 44, 23, 1.5, 14, 4])
    assert "2027-03-08" in str(rows[7][4]) or "8 March" in str(rows[7][4])  # a week from Monday to Sunday holds both
    assert _upkeep(pd.DataFrame(work), asked)[2] == 16.0


# --- material ----------------------------------------------------------------------------------------------------


def test_spares_are_rounded_up_over_all_beds_and_not_in_each():
    assert running_share([1.2, 1.2, 1.2, 0.5], [0, 0, 0, 1]).tolist() == [2, 1, 1, 1]
    days = pd.DataFrame(
        {
            "crop": "maize",
            "places": [10, 10],
            "total": [23, 22],
            "sow_on": pd.NaT,
            "day": pd.to_datetime(["2027-04-02", "2027-04-01"]),
        }
    )
    one = material_by_crop(
        days, {"maize": crop(piece_g=2.0, unit_cost=4.0, per_mother=4, nursery_days=7, nursery_losses=0.1)}
    ).iloc[0]
    assert (one["places"], one["pieces"], one["spares"], one["total"]) == (20, 40, 5, 45)  # two grains a place
    assert one["weight_kg"] == pytest.approx(0.09) and one["cost"] == pytest.approx(0.36)
    assert (one["mothers"], one["nursery_sown"]) == (12, 50)
    assert str(one["first_planting"])[:10] == "2027-04-01" and str(one["last_planting"])[:10] == "2027-04-02"
    work = tasks(task=["plant", "weed"], places=[10, 10])
    plan = Schedule(
        np.zeros(2), np.zeros(2), np.array([0, 0, 0, 1]), np.array([0, 1, 2, 2]), np.array([0.25, 0.25, 0.5, 1.0])
    )
    assert _planted(work, plan)["places"].tolist() == [2, 3, 5]


def test_orders_are_made_in_waves_with_own_stems_first():
    day = pd.to_datetime(["2027-03-10", "2027-04-07", "2027-05-06", "2028-03-10"])
    days = pd.DataFrame(
        {
            "crop": "cassava",
            "day": day,
            "material": "stem cutting",
            "bed": ["a", "b", "c", "a"],
            "places": [10, 10, 5, 30],
            "total": [12, 12, 6, 130],
            "weight_kg": 0.0,
        }
    )
    table = orders(days, {"cassava": crop("cassava", pack=25, per_mother=4, nursery_days=0)})
    assert table["total"].tolist() == [24, 6, 130]  # 28 days apart is one wave, 29 another
    assert table["beds"].tolist() == ["a – b", "c", "a"]
    assert table["order_by"].astype(str).tolist()[0] == "2027-02-10"
    assert (
        table["own"].tolist() == [0, 0, 20]
        and table["to_get"].tolist() == [24, 6, 110]
        and table["packs"].tolist() == [1, 1, 5]
    )


def test_a_plan_without_a_wage_has_no_cost_of_labour_and_its_income_is_kilograms_sold_at_their_price():
    """10 places of 1 to 3 kg in May, half of them sold at 3: 15, 30 and 45; 16 hours in March without a wage."""
    asked = rule(costs=[], wage_per_hour=None)
    months = CLOCK.months
    places = np.zeros((1, len(months)))
    may = list(months.astype("datetime64[M]").astype(str)).index("2027-05")
    places[0, may] = 10.0
    labour = pd.DataFrame(
        {"month": pd.to_datetime(["2027-03-01", "2027-03-01"]), "task": ["plant", "weed"], "hours": [6.0, 10.0],
         "person_days": [1.0, 1.0], "cost": [NAN, NAN]}
    )  # fmt: skip
    sure = Range(low=3, likely=3, high=3)
    grown = {"maize": crop(yield_kg=Range(low=1, likely=2, high=3), price=sure, sold=0.5)}
    material = np.zeros(len(months))
    material[may] = 4.0
    money = plan_money(places, labour, material=material, area_ha=1.0, crops=grown, rule=asked, clock=CLOCK)
    year = money.years.iloc[-1] if len(money.years) == 1 else money.years.sum()
    assert [year[f"income_{k}"] for k in ("low", "likely", "high")] == [15.0, 30.0, 45.0]
    assert [year[f"kg_{k}"] for k in ("low", "likely", "high")] == [10.0, 20.0, 30.0]
    assert (year["labour_likely"], year["material"], year["hours"]) == (0.0, 4.0, 16.0)
    assert money.cash["net_likely"].iloc[may] == 26.0 and money.cash["net_likely"].abs().sum() == 26.0
    assert len(money.yields) == 1
    assert money.yields["income_high"].iloc[0] == 45.0


def test_whose_yields_move_together_is_told_of_crops_that_yield():
    owners = {
        code: SimpleNamespace(whose=lambda item, who=who: who) for code, who in (("a", "yours"), ("b", "library"))
    }
    price, some, one = (
        Range(low=1, likely=1, high=1),
        Range(low=0.1, likely=0.2, high=0.5),
        Range(low=1, likely=1, high=2),
    )

    def told(first):
        stakes = Stakes(
            np.array([[1.0], [1.0]]), [first, one], [price] * 2, np.array([1]), np.zeros(1), np.zeros(1), price
        )
        return [
            lever.whose
            for lever in _levers(stakes, owners, rule())
            if (lever.subject, lever.item) == (TOGETHER, "yield")
        ]

    assert told(some) == ["both"]
    assert told(Range(low=0, likely=0, high=0)) == ["library"]
