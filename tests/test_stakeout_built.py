"""Rows, plants and areas as built, the receiver told apart, and the words for it: each step by hand."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
import shapely.affinity
from builders import UTM
from shapely import LineString
from stakeout_builders import lattice, rows_from

from geoagro.errors import LayoutError
from geoagro.stakeout import survey_words as words
from geoagro.stakeout.as_built import _counted, _in_rows
from geoagro.stakeout.built_areas import _alive_share, areas_as_built
from geoagro.stakeout.built_plants import half_spacing, plot_of, replanting, rows_with_plants, survival_table
from geoagro.stakeout.built_rows import (
    _along,
    _scatter,
    _spread,
    lines_from_traces,
    lines_through_stakes,
    marks_as_built,
    row_state,
    rows_as_built,
    staked_rows,
    traced_rows,
)
from geoagro.stakeout.matching import Pairs
from geoagro.stakeout.receiver_error import (
    Offsets,
    _drift,
    _freedom,
    _row_means,
    _row_medians,
    _within,
    accuracy_of,
    offsets_in_rows,
)
from geoagro.stakeout.records.accuracy import Accuracy
from geoagro.stakeout.survival import from_count, from_plots, sample_size

NAN = float("nan")


# --- rows and receiver -------------------------------------------------------------------------------------------


def test_offsets_run_along_and_across_the_row():
    rows = rows_from([LineString([(0, 0), (100, 0)]), LineString([(0, 0), (70, 70)])])
    design = np.array([[50.0, 0.0], [0.0, 0.0], [100.0, 0.0], [35.0, 35.0], [1.0, 1.0]])
    off = np.array([[0.3, 0.2], [0.3, 0.2], [-0.1, -0.4], [0.3, 0.3], [9.0, 9.0]])
    found = offsets_in_rows(design, design + off, np.array([1, 1, 1, 2, 7]), rows)
    assert found.along == pytest.approx([0.3, 0.3, -0.1, 0.3 * np.sqrt(2)])
    assert found.across == pytest.approx([0.2, 0.2, -0.4, 0.0])  # left of the way, upslope
    assert found.row.tolist() == [1, 1, 1, 2]


def test_means_and_medians_of_rows_leave_strays_out():
    one = np.array([0, 0, 0, 0, 1, 1, 2])
    values = np.array([0.1, -0.1, 0.0, 9.0, 0.2, 0.4, -0.1])
    assert _row_medians(values, one, 3) == pytest.approx([0.05, 0.3, -0.1])
    assert _row_means(values, one, 3) == pytest.approx([0.0, 0.3, -0.1])
    assert _row_means(np.array([0.0, 0.0, 0.0, 0.0, 5.0, 0.0]), np.array([0, 0, 0, 0, 1, 1]), 2) == pytest.approx(
        [0.0, 2.5]
    )


def test_scatter_within_rows_has_a_degree_of_freedom_less_for_each():
    """Two points of a row 0.2 m apart in both directions: a standard deviation of 0.1 x root 2."""
    values = np.array([0.1, -0.1, 1.1, 0.9, 7.0])
    offsets = Offsets(values, values, np.array([0, 0, 1, 1, 2]))
    assert _within(offsets, offsets.row, np.array([2, 2, 1])) == pytest.approx(0.1 * np.sqrt(2))
    alone = Offsets(values[:2], values[:2], np.array([0, 1]))
    assert np.isnan(_within(alone, alone.row, np.array([1, 1])))
    wild = np.append(np.tile([0.1, -0.1], 20), [50.0, -50.0])
    strays = Offsets(wild, wild, np.zeros(42, dtype=int))
    assert _within(strays, strays.row, np.array([42])) == pytest.approx(0.1, rel=0.02)  # stray points count for nothing


def test_rows_drift_by_what_their_points_noise_does_not_explain():
    even = np.array([0.5, -0.5] * 3)
    assert _drift(even, np.full(6, 4), 0.2) == pytest.approx((np.sqrt(0.25 - 0.01), 6.0))
    slow = np.array([0.5, 0.5, 0.5, -0.5, -0.5, -0.5])  # correlation 0.75 / 1.5 from row to row
    assert _drift(slow, np.full(6, 4), 0.2) == pytest.approx((np.sqrt(0.24), 6 * 0.5 / 1.5))
    assert _drift(even[:3], np.full(3, 4), 0.2) == (0.0, 1.0)
    assert _drift(0.1 * even, np.full(6, 1), 0.2)[0] == 0.0
    wild = np.append(even, 90.0)
    assert _drift(wild, np.full(7, 4), 0.2)[0] == pytest.approx(np.sqrt(0.24))


def test_degrees_of_freedom_lie_between_those_of_points_and_rows():
    """Welch and Satterthwaite: of one variance alone its own, of two equal ones (2 v)^2 over v^2 / a + v^2 / b."""
    assert _freedom(np.array([0.04]), 0.0, 30, 9.0) == pytest.approx([30.0])
    assert _freedom(np.array([0.0]), 0.2, 30, 9.0) == pytest.approx([8.0])
    assert _freedom(np.array([0.04]), 0.2, 30, 9.0) == pytest.approx([4 / (1 / 30 + 1 / 8)])


def test_a_survey_tells_receiver_rows_and_plants_apart():
    """Six rows of four points that lie 0.1 m either side; row 6 stands 2 m across; two points were measured again."""
    cross = np.tile([0.1, -0.1, 0.1, -0.1], 6) + np.repeat([0.0, 0.0, 0.0, 0.0, 0.0, 2.0], 4)
    along = np.tile([0.1, -0.1, -0.1, 0.1], 6)
    repeats = np.array([[0.08, -0.08], [-0.08, 0.08]])
    accuracy, table = accuracy_of(Offsets(along, cross, np.repeat(np.arange(1, 7), 4)), repeats)
    scatter = np.sqrt(48 * 0.01 / 36)  # 48 offsets, less two for each row
    assert accuracy.scatter_m == pytest.approx(scatter)
    assert accuracy.receiver_m == pytest.approx(0.08 / np.sqrt(2)) and accuracy.repeats == 2
    assert accuracy.plants_m == pytest.approx(np.sqrt(scatter**2 - 0.0032))
    assert accuracy.drift_m == 0.0
    assert accuracy.rows_m == pytest.approx(np.sqrt(4 / 6 - scatter**2 / 4))
    assert table["across_m"].tolist() == pytest.approx([0.0] * 5 + [2.0], abs=1e-9)
    assert table["off_place"].tolist() == [False] * 5 + [True] and table["points"].tolist() == [4] * 6
    assert table["across_se_m"].tolist() == pytest.approx([scatter / 2] * 6)
    few, _ = accuracy_of(Offsets(along[:12], cross[:12], np.repeat([1, 2, 3], 4)), np.empty((0, 2)))
    assert np.isnan(few.drift_m) and np.isnan(few.rows_m) and few.receiver_m == few.scatter_m and np.isnan(few.plants_m)
    near = np.repeat([0.0, 0.0, 0.0, 0.0, 0.0, 0.09], 4)  # 9 cm are no place off, however exact the receiver
    exact = accuracy_of(Offsets(near * 0, near, np.repeat(np.arange(1, 7), 4)), np.empty((0, 2)))[1]
    assert not exact["off_place"].any()


def two_rows():
    return rows_from(
        [LineString([(0, 8), (100, 8)]), LineString([(0, 4), (100, 4)]), LineString([(0, 0), (100, 0)])], spacing_m=4.0
    )


def test_stakes_as_built_lie_along_and_across_their_row():
    marks = gpd.GeoDataFrame(
        {"stake": ["1-0", "1-50", "1-100", "2-0"], "row": [1, 1, 1, 2], "x": [0.0, 50.0, 100.0, 0.0], "y": [8.0, 8.0, 8.0, 4.0], "bearing_deg": [90.0] * 4},
        geometry=shapely.points([(0, 8), (50, 8), (100, 8), (0, 4)]), crs=UTM,
    )  # fmt: skip
    seen = pd.DataFrame({"name": ["a", "b", "c"], "x": [0.3, 99.0, np.nan], "y": [8.2, 8.0, np.nan]})
    built = marks_as_built(
        marks, seen, Pairs(np.array([0, 2, 3]), np.array([0, 1, 2]), np.array(["name", "place", "name"]))
    )
    assert built["found"].tolist() == [True, False, True, True] and built["matched_by"].tolist() == [
        "name",
        "",
        "place",
        "name",
    ]
    assert built["along_m"].tolist()[::2] == pytest.approx([0.3, -1.0]) and built["across_m"].tolist()[
        ::2
    ] == pytest.approx([0.2, 0.0])
    assert built["away_m"].tolist()[0] == pytest.approx(np.hypot(0.3, 0.2)) and np.isnan(built["away_m"][[1, 3]]).all()
    lines = lines_through_stakes(built)
    assert list(lines) == [1] and list(lines[1].coords) == [(0.3, 8.2), (99.0, 8.0)]
    found = staked_rows(two_rows(), built)
    assert found["found_m"].tolist() == [100.0, 0.0, 0.0] and found["state"].tolist() == ["found", "missing", "missing"]
    assert row_state(np.array([0.9, 0.89, 0.05, 0.049])).tolist() == ["found", "partial", "partial", "missing"]


def test_rows_as_built_have_their_distances_and_errors():
    """Row 2 half a metre too low: 4.5 m below row 1, and 3.5 m above row 3."""
    built = {k + 1: LineString([(0, y), (60, y)]) for k, y in enumerate((8.0, 3.5, 0.0))}
    table = rows_as_built(two_rows(), built, "trace").set_index("row")
    assert table["across_p50_m"].tolist() == table["across_p95_m"].tolist() == pytest.approx([0.0, 0.5, 0.0])
    assert table.loc[[1, 2], "spacing_p50_m"].tolist() == pytest.approx([4.5, 3.5])
    assert table.loc[[1, 2], "error_p95_m"].tolist() == pytest.approx([0.5, 0.5])
    assert np.isnan(table.loc[3, "spacing_p50_m"]) and table["length_m"].tolist() == [60.0] * 3
    lean = {1: LineString([(0, 8), (60, 8)]), 2: LineString([(0, 4), (60, 3)])}
    low, middle, high = (
        rows_as_built(two_rows(), lean, "trace")[f"spacing_p{q}_m"].iloc[0] for q in ("05", "50", "95")
    )
    assert (low, middle, high) == pytest.approx((4.05, 4.5, 4.95), abs=0.03)
    assert len(rows_as_built(two_rows(), {}, "trace")) == 0
    assert shapely.get_x(_spread(LineString([(0, 0), (3.5, 0)]))) == pytest.approx([3.5 / 6, 3.5 / 2, 3.5 * 5 / 6])
    assert len(_spread(LineString([(0, 0), (0.5, 0)]))) == 1


def test_traces_belong_to_the_row_that_half_of_them_runs_along():
    zigzag = LineString([(0, 4.2), (40, 4.2), (40, 20), (45, 20)])  # 40 of 61 m beside row 2
    away = LineString([(60, 8), (90, 8), (90, 45)])
    traces = gpd.GeoDataFrame({"trace": [7, 8, 9]}, geometry=[zigzag, away, LineString([(90, 4), (50, 4)])], crs=UTM)
    lines, unmatched = lines_from_traces(two_rows(), traces)
    assert unmatched == [8] and list(lines) == [2]
    x = shapely.get_coordinates(lines[2])[:, 0]
    assert x[0] == 0.0 and x[-1] == 90.0 and x[-2] == 50.0  # the second is turned round and joined behind the first
    pieces = [LineString([(30, 0), (60, 0)]), LineString([(20, 0), (0, 0)])]
    assert list(_along(LineString([(0, 0), (60, 0)]), pieces).coords) == [(0, 0), (20, 0), (30, 0), (60, 0)]


def test_a_trace_that_ends_near_the_rows_end_covers_it():
    def covered(start, end, y=8.0):
        return traced_rows(two_rows(), {1: LineString([(start, y), (end, y)])})["found_m"].iloc[0]

    assert covered(0.9, 99.1) == 100.0
    assert covered(1.1, 99.1) == pytest.approx(98.9) and covered(0.9, 98.9) == pytest.approx(98.9)
    assert covered(40.0, 90.0, y=9.0) == covered(90.0, 40.0) == pytest.approx(50.0)
    assert _scatter(LineString([(0, 0), (1, 0.2), (2, 0), (3, 0.2)]), LineString([(0, 0), (9, 0)])) == pytest.approx(
        0.2 * 1.4826 / np.sqrt(2)
    )
    assert _scatter(LineString([(0, 1), (9, 2)]), LineString([(0, 0), (9, 0)])) == 0.0
    rough = LineString([(2.0, 8.0), (20, 9.0), (40, 8.0), (60, 9.0), (97.5, 8.0)])  # near is then 1 + 2 x 1.05 m
    assert traced_rows(two_rows(), {1: rough})["found_m"].iloc[0] == 100.0


# --- plants ------------------------------------------------------------------------------------------------------


def test_a_plant_is_matched_within_half_the_spacing_between_limits():
    assert half_spacing(lattice(step=1.0)) == 0.5
    assert (half_spacing(lattice(step=0.2)), half_spacing(lattice(step=9.0)), half_spacing(lattice()[:1])) == (
        0.15,
        2.0,
        2.0,
    )
    assert half_spacing(np.array([[0.0, 0.0], [1.0, 0.0]])) == 0.5


def standing(states, **more):
    n = len(states)
    values = {
        "plant": np.arange(1, n + 1),
        "crop": "plum",
        "row": 1,
        "bed": "R1-T",
        "line": 1,
        "station_m": np.arange(n, 0.0, -1),
    }
    values |= {"x": np.arange(float(n)), "y": 0.0, "z": 0.0, "state": states, "planting": "p"} | more
    return gpd.GeoDataFrame(values, geometry=shapely.points(np.arange(float(n)), np.zeros(n)), crs=UTM)


def test_survival_is_counted_for_all_by_crop_and_by_row():
    built = standing(
        ["alive", "replaced", "dead", "missing", "not_surveyed", "alive"],
        crop=["plum"] * 4 + ["pear"] * 2,
        row=[1, 1, 1, 2, 2, 2],
    )
    table = survival_table(built, None)
    whole = table.iloc[0]
    assert (
        whole["planned"],
        whole["surveyed"],
        whole["alive"],
        whole["replaced"],
        whole["dead"],
        whole["missing"],
    ) == (6, 5, 3, 1, 1, 1)
    assert whole["survival_pct"] == pytest.approx(60)
    assert list(zip(table["crop"], table["row"], table["planned"], strict=True)) == [
        ("all", 0, 6), ("pear", 0, 2), ("plum", 0, 4), ("plum", 1, 3), ("pear", 2, 2), ("plum", 2, 1),
    ]  # fmt: skip
    plots = survival_table(built, np.array([0, 0, 1, 1, 1, -1]))
    assert "2 plots" in plots["method"].iloc[0] and plots["survival_pct"].iloc[0] == pytest.approx(50)
    assert "Wilson 1927" in plots["method"].iloc[3]


def test_rows_are_found_where_half_of_their_plants_were_seen():
    rows = two_rows()
    built = standing(
        ["alive", "missing", "dead", "missing", "missing", "alive", "not_surveyed"], row=[1, 1, 2, 2, 2, 2, 3]
    )
    table = rows_with_plants(rows, built)
    assert table["row"].tolist() == [1, 2] and table["found_m"].tolist() == [50.0, 50.0]
    assert table["state"].tolist() == ["found", "found"]
    less = standing(["alive", "missing", "missing"])
    assert rows_with_plants(rows, less)["state"].tolist() == ["partial"]


def test_what_died_is_listed_by_number_or_by_place():
    built = standing(["dead", "alive", "missing", "replaced", "not_surveyed"])
    numbered, counts = replanting(built, numbered=True)
    assert numbered["plant"].tolist() == [1, 3] and counts["plants"].tolist() == [2]
    assert replanting(built, numbered=False)[0]["plant"].tolist() == [3, 1]  # by station
    plots = pd.DataFrame({"x": [0.0, 10.0], "y": [0.0, 0.0], "radius_m": [1.0, 2.0]})
    assert plot_of(np.array([[1.0, 0.0], [1.01, 0.0], [8.0, 0.0], [5.0, 0.0]]), plots).tolist() == [0, -1, 1, -1]


def test_living_plants_hold_half_the_way_to_their_neighbours():
    station, line = np.array([0.0, 1.0, 3.0]), np.ones(3)
    assert _alive_share(station, line, np.array([True, False, True])) == pytest.approx((1 + 2) / 4.5)
    assert _alive_share(station, line, np.array([False, True, False])) == pytest.approx(1.5 / 4.5)
    two = np.array([1, 1, 1, 2])
    assert _alive_share(np.append(station, 5.0), two, np.array([True, True, True, False])) == pytest.approx(4.5 / 5.5)
    assert _alive_share(np.zeros(2), np.ones(2), np.array([True, False])) == 0.5  # no length at all: by number
    beds = pd.DataFrame({"bed": ["a"], "row": [1], "area_m2": [10.0]})
    found = pd.DataFrame({"row": [1], "found_m": [30.0], "length_m": [40.0]})
    layers = type("B", (), {"tree_beds": beds, "beds": beds.iloc[:0]})
    assert areas_as_built(layers, found, None)[["designed_m2", "built_m2"]].values.tolist() == [[10.0, 7.5]]
    plants = pd.DataFrame(
        {"bed": "a", "state": ["alive", "dead", "not_surveyed"], "station_m": [0.0, 1.0, 2.0], "line": 1}
    )
    assert areas_as_built(layers, None, plants)[["designed_m2", "built_m2"]].values.tolist() == [
        [10.0, 5.0],
        [0.0, 0.0],
    ]


def test_intervals_of_few_plots_and_of_nothing_are_left_open():
    assert np.isnan(from_count(0, 0).share)
    one = from_plots([4.0, 0.0], [5.0, 0.0])
    assert one.share == 0.8 and np.isnan(one.low) and np.isnan(from_plots([0.0], [0.0]).share)
    assert from_plots([4.0, 5.0], [5.0, 5.0]).share == 0.9 and 0.03 < from_plots([4.0, 5.0], [5.0, 5.0]).low < 0.06
    all_live = from_plots([5.0, 5.0], [5.0, 5.0])
    assert all_live.share == all_live.high == 1.0 and "effect 1.00" in all_live.method


def test_sample_sizes_stay_within_the_field_and_have_two_plots():
    """1.96^2 x 0.16 / 0.05^2 = 245.9 of endless many; of 400 plants 152.4; with rho 0.1 and 5 plants a plot times 1.4."""
    found = sample_size(400, expected=0.8, precision=0.05, plants_per_plot=5.0, correlation=0.1)
    assert (found.plants, found.design_effect, found.plots) == (153, pytest.approx(1.4), int(np.ceil(152.4 * 1.4 / 5)))
    whole = sample_size(400, expected=0.5, precision=0.01, plants_per_plot=5.0, correlation=0.5)
    assert whole.plots == 80  # never more than the field holds
    assert sample_size(3, expected=0.8, precision=0.5, plants_per_plot=5.0, correlation=0.0).plots == 2
    assert sample_size(400, expected=0.8, precision=0.05, plants_per_plot=0.5, correlation=0.9).design_effect == 1.0
    for wrong in (
        {"plants": 0},
        {"plants_per_plot": 0.0},
        {"expected": 1.0},
        {"expected": 0.0},
        {"precision": 1.0},
        {"precision": 0.0},
    ):
        asked = {"plants": 1, "expected": 0.8, "precision": 0.05, "plants_per_plot": 5.0, "correlation": 0.1} | wrong
        with pytest.raises(LayoutError):
            sample_size(asked.pop("plants"), **asked)


# --- words -------------------------------------------------------------------------------------------------------


def test_what_a_survey_says_is_put_into_words():
    def one(scatter, repeats=0, drift=NAN):
        return Accuracy(scatter_m=scatter, receiver_m=0.05, repeats=repeats, drift_m=drift, rows_m=0.3, plants_m=0.2)

    assert words.accuracy(one(NAN), True, 1.0) == []
    (plain,) = words.accuracy(one(0.4), True, 1.0)
    assert "scatter by 0.40 m" in plain.text and "at most" in plain.text and "Whole rows" not in plain.text
    (again,) = words.accuracy(one(0.4, 3, 0.1), True, 1.0)
    assert "0.05 m, from 3 points" in again.text and "drifts by 0.10 m, planting puts them off by 0.30 m" in again.text
    assert len(words.accuracy(one(0.34), False, 1.0)) == 2 and len(words.accuracy(one(0.33), False, 1.0)) == 1
    assert len(words.accuracy(one(0.34), True, 1.0)) == 1
    offsets = pd.DataFrame({"row": [1, 2, 3], "across_m": [0.2, -0.5, 0.1], "off_place": [True, True, False]})
    assert (
        words.rows_off(offsets)[0].text
        == "2 rows off their place: row 2 stands 0.50 m downslope, row 1 stands 0.20 m upslope."
    )
    assert words.rows_off(offsets.iloc[2:]) == []
    points = pd.DataFrame({"name": ["x", ""], "point": [1, 2]})
    assert words.extra(points, [0, 1], "plant")[0].text.endswith("x, #2.") and words.extra(points, [], "plant") == []
    rows = pd.DataFrame({"row": [1, 2], "state": ["missing", "found"]})
    assert (
        "1 row missing in the survey: 1" in words.missing_rows(rows)[0].text and words.missing_rows(rows.iloc[1:]) == []
    )


def test_a_sample_of_plots_is_told_as_a_number_of_plants_to_replace():
    line = {
        "row": [0, 0],
        "crop": ["all", "plum"],
        "surveyed": [50, 1],
        "planned": [200, 1],
        "survival_pct": [80.0, 0.0],
        "low_pct": [70.0, 0.0],
        "high_pct": [90.0, 0.0],
    }
    table = pd.DataFrame(line | {"method": "10 plots"})
    (found,) = words.plots_only(table, True)
    assert (
        "only: 50 of 200 plants" in found.text
        and "about 40 plants to plant again (20 to 60, 95 %; 10 plots)" in found.text
    )
    assert "too few" in words.plots_only(table.assign(low_pct=NAN, high_pct=NAN), True)[0].text
    assert words.plots_only(table, False) == []


# --- what a survey looked at -------------------------------------------------------------------------------------


def test_what_was_counted_is_told_or_follows_from_the_crops_seen():
    plants = pd.DataFrame({"crop": ["plum", "plum", "pear"], "row": [1, 2, 2]})
    seen = pd.DataFrame({"crop": ["plum", "pear"]})
    assert _counted(plants, seen, (), None).all() and _counted(plants, seen, ("pear",), None).tolist() == [
        False,
        False,
        True,
    ]
    assert _counted(plants, seen.assign(crop=""), (), None).all()
    assert _counted(plants, seen.iloc[:1], (), np.array([0, 2])).all()  # known by number
    with pytest.raises(LayoutError, match="holds no pear"):
        _counted(plants, seen.iloc[:1], (), None)
    with pytest.raises(LayoutError, match="'fig' isn't planted"):
        _counted(plants, seen, ("fig",), None)
    every = np.ones(3, dtype=bool)
    assert _in_rows(plants, np.array([1]), every, "rows").tolist() == [False, True, True]
    assert _in_rows(plants, np.array([1]), every, "all").all() and _in_rows(plants, np.array([0, 1]), every, None).all()
    assert _in_rows(plants, np.array([1]), np.array([False, True, True]), None).all()
    with pytest.raises(LayoutError, match=r"1 of 2 rows hold no surveyed plant \(rows 1\)"):
        _in_rows(plants, np.array([1]), every, None)
