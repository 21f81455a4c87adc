import numpy as np
import pytest
from scipy import stats

from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.season.chance import Stakes, mean, quantile, simulate
from geoagro.season.crops import season_crops
from geoagro.season.finance import net_present_value
from geoagro.season.sensitivity import sensitivity_table
from geoagro.values.season import Range, SeasonRule, Simulation

SPAN = Range(low=2, likely=3, high=7)
U = np.linspace(0.01, 0.99, 33)


def test_triangular_quantiles_agree_with_the_statistics_library():
    theirs = stats.triang.ppf(U, (3 - 2) / (7 - 2), loc=2, scale=5)
    np.testing.assert_allclose(quantile(U, SPAN, "triangular"), theirs, rtol=1e-12)


def test_pert_quantiles_agree_with_the_statistics_library():
    theirs = stats.beta.ppf(U, 1 + 4 * 1 / 5, 1 + 4 * 4 / 5, loc=2, scale=5)
    np.testing.assert_allclose(quantile(U, SPAN, "pert"), theirs, rtol=1e-9)


@pytest.mark.parametrize("shape", ["triangular", "pert"])
def test_the_mean_of_the_draws_is_the_mean_of_the_distribution(shape):
    fine = (np.arange(200_000) + 0.5) / 200_000
    assert quantile(fine, SPAN, shape).mean() == pytest.approx(mean(SPAN, shape), rel=1e-5)
    assert mean(SPAN, shape) == pytest.approx({"triangular": 12 / 3, "pert": (2 + 12 + 7) / 6}[shape])


def test_a_sure_value_is_never_drawn_otherwise():
    assert (quantile(U, Range.model_validate(4), "pert") == 4).all()


def stakes(crops=2, years=3):
    year = np.repeat(np.arange(1, years + 1), 12)
    sold = np.ones((crops, len(year)))
    return Stakes(sold, [SPAN] * crops, [Range(low=1, likely=2, high=3)] * crops, year, np.ones(36), np.ones(36), SPAN)


def test_the_mean_of_the_runs_is_the_closed_form():
    rule = Simulation(runs=20_000, correlation=0.5, shape="pert")
    runs = simulate(stakes(), rule).sum(axis=1)
    expected = 36 * (2 * mean(SPAN, "pert") * 2.0 - mean(SPAN, "pert") - 1)
    assert runs.mean() == pytest.approx(expected, abs=4 * runs.std() / np.sqrt(len(runs)))


def test_the_same_seed_gives_the_same_runs_and_another_seed_others():
    rule = Simulation(runs=200)
    np.testing.assert_array_equal(simulate(stakes(), rule), simulate(stakes(), rule))
    assert not np.allclose(simulate(stakes(), rule), simulate(stakes(), Simulation(runs=200, seed=2)))


def test_yields_that_move_together_spread_the_result_wider():
    apart = simulate(stakes(crops=6), Simulation(runs=4000, correlation=0.0)).sum(axis=1).std()
    together = simulate(stakes(crops=6), Simulation(runs=4000, correlation=0.9)).sum(axis=1).std()
    assert together > 1.3 * apart


def test_nothing_to_sell_leaves_only_costs():
    bare = Stakes(np.zeros((0, 12)), [], [], np.ones(12, dtype=int), np.ones(12), np.ones(12), Range.model_validate(2))
    assert (simulate(bare, Simulation(runs=100)) == -3).all()


def grown(*codes):
    """Crops under any code, as a season takes them; what they are doesn't matter here."""
    maize = season_crops(["maize"], read_crop_library(), SeasonRule())["maize"]
    return dict.fromkeys(codes, maize)


def test_sensitivity_is_the_change_of_the_present_value_with_one_value_moved():
    one = stakes()
    table = sensitivity_table(one, grown("a", "b"), SeasonRule(discount_rate_pct=8)).set_index(["subject", "item"])
    sales, cost = (net_present_value(flow, 0.08) for flow in (one.sold_places[0], one.labour))
    base = 2 * sales * 3 * 2.0 - 3 * cost - cost
    assert table.loc[("a", "yield"), "at_low"] == pytest.approx(base + sales * 2.0 * (2 - 3))
    assert table.loc[("b", "price"), "at_high"] == pytest.approx(base + sales * 3 * (3.0 - 2.0))
    assert table.loc[("all work", "hours"), "at_high"] == pytest.approx(base - cost * (7 - 3))
    assert table["swing"].is_monotonic_decreasing


def test_a_sure_value_has_no_sensitivity():
    sure = Stakes(
        np.ones((1, 12)), [Range.model_validate(2)], [SPAN], np.ones(12, dtype=int), np.zeros(12), np.zeros(12), SPAN
    )
    assert sensitivity_table(sure, grown("a"), SeasonRule(discount_rate_pct=0))[
        ["subject", "item"]
    ].values.tolist() == [["a", "price"]]


def test_yields_that_last_through_the_years_spread_the_result_wider_and_keep_their_distribution():
    """With lasting 1 a run's years are all alike, so 12 of them spread 12 times as wide as one, not the root of 12 times."""
    spread = {
        lasting: simulate(stakes(years=3), Simulation(runs=4000, lasting=lasting)).sum(axis=1).std()
        for lasting in (0.0, 1.0)
    }
    assert spread[1.0] > 1.3 * spread[0.0]
    one = Stakes(
        np.ones((1, 36)), [SPAN], [Range.model_validate(1)], np.repeat([1, 2, 3], 12), np.zeros(36), np.zeros(36), SPAN
    )
    drawn = simulate(one, Simulation(runs=20_000, lasting=0.7))[:, 24]
    theirs = stats.beta(1 + 4 * 1 / 5, 1 + 4 * 4 / 5, loc=2, scale=5)
    assert stats.kstest(drawn, theirs.cdf).statistic < 0.015
    same = simulate(one, Simulation(runs=200, lasting=1.0))
    np.testing.assert_allclose(same[:, 0], same[:, 24])


def test_sensitivity_tells_where_the_result_comes_to_nought_and_what_turns_it_alone():
    one = stakes()
    table = sensitivity_table(one, grown("a", "b"), SeasonRule(discount_rate_pct=8)).set_index(["subject", "item"])
    sales, cost = (net_present_value(flow, 0.08) for flow in (one.sold_places[0], one.labour))
    base = 2 * sales * 3 * 2.0 - 3 * cost - cost
    row = table.loc[("a", "price")]
    assert row["zero_at"] == pytest.approx(2.0 - base / (sales * 3)) or np.isnan(row["zero_at"])
    together = table.loc[("all crops", "yield")]
    assert together["at_low"] == pytest.approx(base + 2 * sales * 2.0 * (2 - 3))
    assert together["zero_at"] == pytest.approx(1 - base / (2 * sales * 3 * 2.0))
    assert table["turns"].any() == (table[["at_low", "at_high"]].min(axis=None) < 0)
