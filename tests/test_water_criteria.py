"""Published criteria, soil loss by the rows' direction, slope across rows: what is measured, and limits from both sides."""

import numpy as np
import pytest
from water_builders import WEST, ground, rows_of, slope_of

from geoagro.values.rules.water import WaterRule
from geoagro.water.criteria import Measured, criteria_table, measured
from geoagro.water.machines import slope_classes
from geoagro.water.row_profiles import row_profiles
from geoagro.water.soil_loss import off_grade_factor, soil_loss

SIX = "Slopes where contour rows save most soil"
TILLED, COVERED, SLOW = "Row grade, alleys tilled", "Row grade, alleys under cover", "Least row grade on slow soils"
BESIDE, STEEP, WAY = "Rows beside a base row", "Steep ground", "Longest way of water one way"
ABOVE, WATER, MACHINES = "Length of slope above a row", "Distance to open water", "Ride-on machines"
STORM = {"rows": "lead", "intensity_mm_h": 60, "runoff_coefficient": 0.5}
ORCHARD = WaterRule(**STORM, cover="orchard_grass", soil_group="C")


def seen(grade=0.01, slope=0.06, weight=None, row=None, **told):
    """Stations of rows; grade and slope as numbers or one for each station."""
    grade, slope = np.broadcast_arrays(np.atleast_1d(np.asarray(grade, float)), np.asarray(slope, float))
    count = len(grade)
    weight = np.ones(count) if weight is None else np.asarray(weight, float)
    row = np.zeros(count) if row is None else np.asarray(row, float)
    told = {"longest_way_m": 50.0, "slope_above_m": 5.0, "beyond": False} | told
    return Measured(grade=grade, slope=slope, weight=weight, row=row, **told)


def criterion(name, measures, rule=None, to_water_m=None):
    return criteria_table(measures, rule, to_water_m).set_index("criterion").loc[name]


def profiles(height, *lines):
    surface = ground(height)
    return row_profiles(rows_of(*lines).frame, surface, slope_of(surface))


def inclined(x, y):
    return 0.08 * y + 0.02 * x


@pytest.mark.parametrize(
    ("name", "passing", "failing"),
    [
        (TILLED, {"grade": 0.03, "slope": 0.06}, {"grade": 0.031, "slope": 0.06}),
        (TILLED, {"grade": 0.04, "slope": 0.12}, {"grade": 0.045, "slope": 0.12}),
        (COVERED, {"grade": 0.10, "slope": 0.22}, {"grade": 0.11, "slope": 0.25}),
        (COVERED, {"grade": 0.06, "slope": 0.12}, {"grade": 0.07, "slope": 0.12}),
        (SLOW, {"grade": 0.003}, {"grade": 0.001}),
        (SIX, {"slope": 0.03}, {"slope": 0.015}),
        (SIX, {"slope": 0.09}, {"slope": 0.11}),
        (STEEP, {"slope": 0.12}, {"slope": 0.13}),
        (MACHINES, {"slope": 0.26}, {"slope": 0.28}),
        (WAY, {"longest_way_m": 100.0}, {"longest_way_m": 101.0}),
        (ABOVE, {"slope": 0.07, "slope_above_m": 60.0}, {"slope": 0.07, "slope_above_m": 62.0}),
    ],
)
def test_each_published_limit_holds_up_to_it_and_no_farther(name, passing, failing):
    assert criterion(name, seen(**passing), ORCHARD)["verdict"] == "passes"
    assert criterion(name, seen(**failing), ORCHARD)["verdict"] == "fails"


def test_shares_of_the_rows_are_told_in_percent_of_their_length_not_of_places():
    measures = seen(grade=[0.001, 0.05], slope=[0.06, 0.14], weight=[3.0, 1.0])
    told = {name: criterion(name, measures, ORCHARD)["value"] for name in (TILLED, COVERED, SLOW, SIX, STEEP)}
    assert "75 %" in told[TILLED]
    assert "100 %" in told[COVERED]
    assert "25 %" in told[SLOW]
    assert "75 %" in told[SIX]
    assert "25 %" in told[STEEP]
    assert "25.0 %" in criterion(MACHINES, seen(slope=[0.1, 0.1, 0.1, 0.3], grade=[0.0] * 4))["value"]


def test_row_grade_of_alleys_under_cover_is_judged_only_under_permanent_cover():
    steep = seen(grade=0.11, slope=0.25)
    assert criterion(COVERED, steep, None)["verdict"] == "does not apply"
    assert criterion(COVERED, steep, WaterRule(**STORM, cover="row_crops"))["verdict"] == "does not apply"
    assert criterion(COVERED, steep, WaterRule(**STORM, cover="meadow"))["verdict"] == "fails"


@pytest.mark.parametrize(
    ("group", "verdict"), [("A", "does not apply"), ("B", "does not apply"), ("C", "fails"), ("D", "fails"), (None, "no verdict")]
)  # fmt: skip
def test_level_rows_are_a_fault_only_where_the_soil_takes_water_in_slowly(group, verdict):
    assert criterion(SLOW, seen(grade=0.0), WaterRule(**STORM, soil_group=group))["verdict"] == verdict
    assert criterion(SLOW, seen(grade=0.0), None)["verdict"] == "no verdict"


def test_a_row_may_be_above_two_per_cent_on_a_quarter_but_nowhere_above_four():
    flat, quarter, third, steep = [0.01] * 4, [0.03, 0.01, 0.01, 0.01], [0.03, 0.03, 0.01, 0.01], [0.05, 0.0, 0.0, 0.0]
    good = seen(grade=[*flat, *quarter], row=[0] * 4 + [1] * 4)
    bad = seen(grade=[*flat, *quarter, *third, *steep], row=np.repeat(np.arange(4), 4))
    assert tuple(criterion(BESIDE, good)[["verdict", "value"]]) == ("passes", "2 of 2 rows")
    assert tuple(criterion(BESIDE, bad)[["verdict", "value"]]) == ("fails", "2 of 4 rows")


@pytest.mark.parametrize(("metres", "verdict"), [(None, "no verdict"), (10.0, "fails"), (11.0, "passes")])
def test_a_riparian_buffer_is_asked_for_only_where_water_is_drawn(metres, verdict):
    assert criterion(WATER, seen(), to_water_m=metres)["verdict"] == verdict


def test_too_long_a_slope_fails_even_where_more_of_it_may_be_out_of_sight():
    assert criterion(ABOVE, seen(slope=0.07, slope_above_m=80.0, beyond=True))["verdict"] == "fails"
    assert criterion(ABOVE, seen(slope=0.07, slope_above_m=50.0, beyond=True))["verdict"] == "no verdict"


def test_every_criterion_names_its_source_and_its_limit():
    table = criteria_table(seen(), ORCHARD, 20.0).set_index("criterion")
    for name in (TILLED, COVERED, SLOW):
        assert "practice standard 331" in table.loc[name, "source"], name
    assert "riparian" in criterion(WATER, seen())["source"]
    not_asked = criterion(SLOW, seen(), WaterRule(**STORM, soil_group="A"))
    assert "0.2 %" in not_asked["limit"]
    assert "100 %" in not_asked["value"]
    assert "rows alone don't hold" in criterion(SIX, seen(slope=0.2))["why"]
    assert criterion(SIX, seen())["why"] == ""
    assert "0.2 %" in table.loc[SLOW, "limit"]
    assert "10 %" in table.loc[COVERED, "limit"]
    assert "%" in table.loc[COVERED, "value"]
    assert "61 m" in criterion(ABOVE, seen(slope=0.07))["limit"]  # handbook: up to 8 %, 200 ft
    assert "12 %" in table.loc[STEEP, "limit"]


@pytest.mark.parametrize("line", [[(10, 50), (90, 50)], [(90, 50), (10, 50)]])
def test_grade_along_rows_is_that_of_the_ground_whichever_way_they_run(line):
    rows = profiles(inclined, line, [(50, 10), (50, 90)])
    found = measured(rows, np.array([800.0, 160.0]), np.array([80.0, 30.0]), np.array([False, True]))
    assert found.grade[found.row == 0] == pytest.approx(0.02, abs=1e-6)
    assert found.grade[found.row == 1] == pytest.approx(0.08, abs=1e-6)
    assert found.slope == pytest.approx(np.hypot(0.02, 0.08), abs=1e-6)
    assert found.weight.sum() == pytest.approx(160.0)
    assert (found.longest_way_m, found.slope_above_m, found.beyond) == (80.0, pytest.approx(10.0), True)


def test_a_short_step_in_the_ground_counts_over_ten_metres_of_row():
    """A bank of 20 cm across the row is 2 % over ten metres, however sharp."""
    rows = profiles(lambda x, y: np.where(x > 50, 0.2, 0.0) + 0.1 * y, [(10, 50), (90, 50)])
    found = measured(rows, np.array([800.0]), np.array([80.0]), np.array([False]))
    assert found.grade.max() == pytest.approx(0.02, abs=0.001)
    told = found.weight[found.grade > 0.01].sum()
    assert told == pytest.approx(10.0, abs=1.5)
    assert rows[0].xy[0, 0] == pytest.approx(WEST + 10)


# --- soil loss ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("line", [[(10, 50), (90, 50)], [(90, 50), (10, 50)]])
def test_soil_loss_of_rows_is_the_same_whichever_way_they_run(line):
    """Computed from the handbook's factor 0.6 on ground of 8.2 %: 0.6 + 0.4 sqrt(0.02 / 0.0825) = 0.797."""
    ratio = soil_loss(profiles(inclined, line)).set_index("layout")["ratio"]
    assert ratio["straight up and down"] == 1.0
    assert ratio["these rows"] == pytest.approx(0.797, abs=0.001)
    assert ratio["exactly on contour"] == pytest.approx(0.6)


def test_rows_down_the_slope_lose_as_much_as_any_and_rows_on_the_contour_the_least():
    down = soil_loss(profiles(lambda x, y: 0.08 * y + 0.0 * x, [(50, 10), (50, 90)])).set_index("layout")["ratio"]
    across = soil_loss(profiles(lambda x, y: 0.08 * y + 0.0 * x, [(10, 50), (90, 50)])).set_index("layout")["ratio"]
    assert down["these rows"] == pytest.approx(1.0, abs=1e-6)
    assert across["these rows"] == pytest.approx(across["exactly on contour"], abs=1e-6)


def test_steeper_ground_weighs_more_in_soil_loss_as_it_loses_more():
    """Half the row on 2 % (factor 0.6), half on 10 % (0.6), beside half on 7 % (0.5): the mean leans to the steeper half."""
    surface = ground(lambda x, y: np.where(x < 50, 0.015, 0.07) * y)
    rows = row_profiles(rows_of([(10, 50), (40, 50)], [(60, 50), (90, 50)]).frame, surface, slope_of(surface))
    ratio = soil_loss(rows).set_index("layout")["ratio"]
    assert ratio["exactly on contour"] == pytest.approx((0.6 * 0.015 + 0.5 * 0.07) / 0.085, abs=0.001)


def test_soil_loss_of_ground_that_is_level_here_and_there_is_still_known():
    """A row steeper than the ground beside it (noise) counts as one straight down, not as more."""
    level = soil_loss(profiles(lambda x, y: 0.0 * x * y, [(10, 50), (90, 50)])).set_index("layout")["ratio"]
    assert np.isfinite(level).all()
    assert off_grade_factor(np.array([0.02]), np.array([0.05])) == pytest.approx([1.0])


# --- slope across rows, for machines ------------------------------------------------------------------------------


def test_slope_across_a_row_is_what_its_own_grade_leaves_of_the_ground_s():
    """Ground of 8 % across and 6 % along the row has 10 %, of which the machine meets 8 % sidewise, and nothing on the row downhill."""
    rows = profiles(lambda x, y: 0.08 * y + 0.06 * x, [(10, 50), (90, 50)], [(50, 10), (50, 50)])
    table = slope_classes(rows, 15.0).set_index("from_pct")
    assert table["row_m"].to_dict() == pytest.approx({0.0: 0, 5.0: 120, 10.0: 0, 15.0: 0, 20.0: 0, 27.0: 0})
    assert table["share_pct"][5.0] == pytest.approx(100)
    assert table["row_ends"].to_dict() == {0.0: 0, 5.0: 4, 10.0: 0, 15.0: 0, 20.0: 0, 27.0: 0}


def test_rows_straight_down_the_slope_have_none_across():
    table = slope_classes(profiles(lambda x, y: 0.3 * y + 0.0 * x, [(50, 10), (50, 90)]), 15.0)
    assert table["row_m"].tolist() == pytest.approx([80, 0, 0, 0, 0, 0])


def test_row_lengths_and_ends_fall_into_the_class_of_their_own_ground():
    steps = [0.02, 0.12, 0.30]
    surface = ground(lambda x, y: np.select([x < 33, x < 66], steps[:2], steps[2]) * (y - 50))
    drawn = [[(3, 50), (28, 50)], [(38, 50), (58, 50)], [(72, 50), (87, 50)]]
    rows = row_profiles(rows_of(*drawn).frame, surface, slope_of(surface))
    table = slope_classes(rows, 15.0)
    assert table["row_m"].tolist() == pytest.approx([25, 0, 20, 0, 0, 15])
    assert table["share_pct"].tolist() == pytest.approx([100 * m / 60 for m in (25, 0, 20, 0, 0, 15)])
    assert table["row_ends"].tolist() == [2, 0, 2, 0, 0, 2]


def test_the_machines_limit_is_an_edge_of_the_classes():
    table = slope_classes(profiles(lambda x, y: 0.13 * y + 0.0 * x, [(10, 50), (90, 50)]), 12.0)
    assert table["from_pct"].tolist() == [0, 5, 10, 12, 15, 20, 27]
    assert table["to_pct"].tolist()[:-1] == [5, 10, 12, 15, 20, 27]
    assert np.isnan(table["to_pct"].iloc[-1])
    assert table["above_limit"].tolist() == [False, False, False, True, True, True, True]
    assert table.loc[table["above_limit"], "row_m"].sum() == pytest.approx(80)
