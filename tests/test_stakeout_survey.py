"""As built: matching against reference solvers, offsets by hand, survival against a statistics library."""

from datetime import date
from itertools import permutations

import numpy as np
import pandas as pd
import pytest
import shapely
from builders import UTM, straight_beds, straight_rows
from hypothesis import given, settings
from hypothesis import strategies as st
from outputs_builders import plants_along
from scipy.optimize import linear_sum_assignment
from scipy.stats import binomtest
from shapely import LineString
from stakeout_builders import EAST, NO_BEDS, NORTH, arc_rows, marks_along, rows_from

from geoagro.errors import LayoutError
from geoagro.stakeout import matching
from geoagro.stakeout.as_built import as_built
from geoagro.stakeout.built_areas import areas_as_built
from geoagro.stakeout.matching import by_place, match
from geoagro.stakeout.plots import PlotRule, lay_plots
from geoagro.stakeout.survival import from_count, from_plots, sample_size, wilson
from geoagro.values.survey import SURVEY_POINTS, SURVEY_TRACES, Survey, SurveyFile, nothing_noted


def survey_of(xy, *, what="stakes", names=None, status="", crop="", traces=()):
    n = len(xy)
    frame = SURVEY_POINTS.frame(
        {
            "point": np.arange(1, n + 1),
            "name": [""] * n if names is None else list(names),
            "status": np.broadcast_to(status, n),
            "crop": np.broadcast_to(crop, n),
            "x": xy[:, 0],
            "y": xy[:, 1],
            "z": np.full(n, np.nan),
            "far": np.zeros(n),
            **nothing_noted(n),
        },
        geometry=shapely.points(xy),
        crs=UTM,
    )
    lines = SURVEY_TRACES.frame(
        {"trace": np.arange(1, len(traces) + 1), "name": [""] * len(traces)}, geometry=list(traces), crs=UTM
    )
    return Survey("test", date(2026, 5, 1), what, frame, lines, (), (SurveyFile("a.csv", "00", n, len(traces)),))


# matching


def reference(design, survey, within):
    """All points solved at once by SciPy's dense solver, with a price for being left alone."""
    away = np.hypot(*(design[:, None] - survey[None]).transpose(2, 0, 1))
    cost = np.where(away <= within, away, 1e6)
    a, b = linear_sum_assignment(cost)
    kept = cost[a, b] < 1e6
    return int(kept.sum()), float(cost[a, b][kept].sum())


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 9999), n=st.integers(1, 40), m=st.integers(1, 40), within=st.sampled_from([0.5, 2.0, 8.0]))
def test_pairs_by_place_are_as_good_as_solving_all_at_once(seed, n, m, within):
    chance = np.random.default_rng(seed)
    design, survey = chance.uniform(0, 20, (n, 2)), chance.uniform(0, 20, (m, 2))
    pairs = by_place(design, survey, within_m=within)
    away = np.hypot(*(design[pairs[:, 0]] - survey[pairs[:, 1]]).T)
    count, total = reference(design, survey, within)
    assert len(pairs) == count == len(set(pairs[:, 0])) == len(set(pairs[:, 1]))
    assert away.sum() == pytest.approx(total)
    assert (away <= within).all()


def test_pairs_agree_with_trying_every_order():
    chance = np.random.default_rng(5)
    design, survey = chance.uniform(0, 3, (6, 2)), chance.uniform(0, 3, (6, 2))
    best = min(sum(np.hypot(*(design[i] - survey[j])) for i, j in enumerate(order)) for order in permutations(range(6)))
    pairs = by_place(design, survey, within_m=10.0)
    assert np.hypot(*(design[pairs[:, 0]] - survey[pairs[:, 1]]).T).sum() == pytest.approx(best)


def test_a_large_cluster_is_solved_as_well_by_the_sparse_solver(monkeypatch):
    chance = np.random.default_rng(2)
    design, survey = chance.uniform(0, 30, (120, 2)), chance.uniform(0, 30, (150, 2))
    dense = by_place(design, survey, within_m=3.0)
    monkeypatch.setattr(matching, "_DENSE", 5)
    sparse = by_place(design, survey, within_m=3.0)
    assert len(sparse) == len(dense)
    total = [np.hypot(*(design[p[:, 0]] - survey[p[:, 1]]).T).sum() for p in (dense, sparse)]
    assert total[0] == pytest.approx(total[1])


def test_names_come_first_and_strayed_names_are_told():
    design = np.array([[0.0, 0], [10, 0], [20, 0]])
    survey = np.array([[9.6, 0], [0.4, 0], [90, 0]])
    pairs, strayed = match(["a", "b", "c"], design, ["a", "b", "c"], survey, within_m=1.0, name_within_m=20.0)
    assert list(zip(pairs.design, pairs.survey, pairs.by, strict=True)) == [(0, 0, "name"), (1, 1, "name")]
    assert strayed == ["c"]


# stakes


def marked(rows):
    return marks_along(rows)


@settings(max_examples=8, deadline=None)
@given(along=st.floats(-0.4, 0.4), across=st.floats(-0.4, 0.4), named=st.booleans())
def test_offsets_along_and_across_the_row_are_found_again(along, across, named):
    rows = arc_rows(3)
    marks = marked(rows)
    ahead = np.radians(marks["bearing_deg"].to_numpy())
    forward = np.column_stack([np.sin(ahead), np.cos(ahead)])
    left = np.column_stack([-np.cos(ahead), np.sin(ahead)])
    xy = marks[["x", "y"]].to_numpy() + along * forward + across * left
    result = as_built(survey_of(xy, names=marks["stake"] if named else None), rows, NO_BEDS, marks=marks)
    assert result.marks["found"].all()
    assert result.marks["along_m"].to_numpy() == pytest.approx(along, abs=1e-6)
    assert result.marks["across_m"].to_numpy() == pytest.approx(across, abs=1e-6)
    assert set(result.marks["matched_by"]) == {"name" if named else "place"}


@pytest.mark.parametrize(("off_m", "by"), [(22.0, "name"), (23.0, "place")])
def test_a_stakes_name_counts_as_far_as_five_row_distances(off_m, by):
    """A name lies at the stake of another row: beyond 5 x 4.5 m the place is believed, and the doubt is told."""
    rows = straight_rows()
    marks = marked(rows)
    one = marks.iloc[[2]]
    xy = one[["x", "y"]].to_numpy() - [[0.0, off_m]]
    result = as_built(survey_of(xy, names=one["stake"]), rows, NO_BEDS, marks=marks, within_m=3.0)
    found = result.marks[result.marks["found"]]
    assert found["matched_by"].tolist() == [by]
    assert (found["stake"].tolist() == one["stake"].tolist()) == (by == "name")
    assert any("more than 22.5 m" in f.text for f in result.findings) == (by == "place")


def test_spacing_as_built_shows_a_row_set_too_low():
    rows = straight_rows()
    marks = marked(rows)
    xy = marks[["x", "y"]].to_numpy().copy()
    xy[marks["row"] == 5, 1] -= 0.3  # 0.3 m toward row 6
    result = as_built(survey_of(xy), rows, NO_BEDS, marks=marks)
    spacing = result.rows.set_index("row")["spacing_p50_m"]
    assert spacing[4] == pytest.approx(4.8)
    assert spacing[5] == pytest.approx(4.2)
    assert spacing[10] == pytest.approx(4.5)
    error = result.rows.set_index("row")["error_p95_m"]
    assert (error[4], error[5], error[10]) == pytest.approx((0.3, 0.3, 0.0), abs=1e-9)
    assert result.rows.set_index("row")["across_p95_m"][5] == pytest.approx(0.3)


def test_missing_and_half_missing_rows_are_told():
    rows = straight_rows()
    marks = marked(rows)
    seen = (marks["row"] != 7) & ~((marks["row"] == 9) & (marks["station_m"] > 60))
    result = as_built(survey_of(marks[["x", "y"]].to_numpy()[seen]), rows, NO_BEDS, marks=marks)
    state = result.rows_found.set_index("row")
    assert state.loc[7, "state"] == "missing"
    assert (state.loc[9, "state"], state.loc[9, "found_m"]) == ("partial", 50.0)
    assert "1 row missing in the survey: 7" in result.findings[-1].text


def test_areas_shrink_with_the_rows_that_are_missing():
    rows = straight_rows()
    marks = marked(rows)
    seen = marks["row"] > 2
    result = as_built(survey_of(marks[["x", "y"]].to_numpy()[seen]), rows, straight_beds(rows), marks=marks)
    area = result.areas.iloc[0]
    assert (area["designed_m2"], area["built_m2"]) == pytest.approx((2200, 2000))


def test_a_living_plant_holds_its_bed_half_way_to_its_neighbours():
    """Plants at 1, 2, 4 and 5 m hold 0.5 to 1.5, to 3, to 4.5 and to 5.5 m of the line."""
    beds = straight_beds(straight_rows())
    bed = beds.beds.iloc[[0]]
    columns = {"station_m": [4.0, 1.0, 5.0, 2.0], "line": [1, 1, 1, 1], "state": ["alive", "alive", "dead", "missing"]}
    plants = pd.DataFrame({"bed": bed["bed"].iloc[0]} | columns)
    built = areas_as_built(beds, None, plants).set_index("item").loc["beds_planted", "built_m2"]
    assert built == pytest.approx(float(bed["area_m2"].iloc[0]) * (1.0 + 1.5) / 5.0)
    ends = plants.assign(state=["missing", "alive", "alive", "missing"])
    built = areas_as_built(beds, None, ends).set_index("item").loc["beds_planted", "built_m2"]
    assert built == pytest.approx(float(bed["area_m2"].iloc[0]) * (1.0 + 1.0) / 5.0)


def test_points_beside_no_stake_are_counted():
    rows = straight_rows()
    marks = marked(rows)
    xy = np.vstack([marks[["x", "y"]].to_numpy(), [[EAST + 12, NORTH + 3]]])
    result = as_built(survey_of(xy), rows, NO_BEDS, marks=marks)
    assert result.extra == (len(xy),)


def test_a_survey_that_matches_nothing_is_refused():
    rows = straight_rows()
    with pytest.raises(LayoutError, match="Nothing in survey test matches"):
        as_built(survey_of(np.array([[EAST + 12.5, NORTH + 2.2]])), rows, NO_BEDS, marks=marked(rows), within_m=0.5)


def test_traces_are_compared_with_the_rows_they_follow():
    rows = straight_rows()
    traces = [
        LineString([(EAST + 100, NORTH + 97.65), (EAST, NORTH + 97.65)]),  # row 1, walked backwards, 0.1 m low
        LineString([(EAST, NORTH + 93.25), (EAST + 45, NORTH + 93.25)]),  # row 2 in two pieces
        LineString([(EAST + 45, NORTH + 93.25), (EAST + 100, NORTH + 93.25)]),
        LineString([(EAST + 50, NORTH), (EAST + 50, NORTH + 100)]),  # across all rows
    ]
    result = as_built(survey_of(np.empty((0, 2)), what="rows", traces=traces), rows, NO_BEDS)
    built = result.rows.set_index("row")
    assert list(built.index) == [1, 2]
    assert built.loc[1, "across_p50_m"] == pytest.approx(0.1)
    assert built.loc[1, "spacing_p50_m"] == pytest.approx(4.4)
    assert built.loc[2, "length_m"] == pytest.approx(100)
    assert result.extra == (4,)
    assert (result.rows_found["state"] == "missing").sum() == 20


# plants


def planted():
    rows = straight_rows()
    return rows, plants_along(rows, step_m=2.0).frame


def test_survival_counts_replanting_and_layer_tell_the_same():
    rows, plants = planted()
    xy = plants[["x", "y"]].to_numpy()
    gone, dead = plants["plant"] % 10 == 0, plants["plant"] % 10 == 5
    status = np.where(dead, "dead", "planted")[~gone]
    chance = np.random.default_rng(3).normal(0, 0.1, xy.shape)
    survey = survey_of((xy + chance)[~gone], what="plants", status=status)
    result = as_built(survey, rows, straight_beds(rows), plants=plants)
    whole = result.survival.iloc[0]
    assert (whole["planned"], whole["missing"], whole["dead"]) == (len(plants), gone.sum(), dead.sum())
    assert whole["survival_pct"] == pytest.approx(80, abs=1)
    assert result.plants["state"].tolist() == np.select([gone, dead], ["missing", "dead"], "alive").tolist()
    assert result.replant_counts["plants"].sum() == len(result.replant) == (gone | dead).sum()
    by_crop = result.survival[(result.survival["row"] == 0) & (result.survival["crop"] != "all")]
    by_row = result.survival[result.survival["row"] > 0]
    assert by_crop["alive"].sum() == by_row["alive"].sum() == whole["alive"]
    assert result.areas.set_index("item").loc["tree_beds_planted", "built_m2"] == pytest.approx(2200 * 0.8, rel=0.02)


def test_a_plant_of_another_crop_is_not_taken_for_the_one_planned():
    rows, plants = planted()
    plants = plants[plants["row"] == 1].reset_index(drop=True)
    other = np.roll(plants["crop"].to_numpy(), 1)
    result = as_built(
        survey_of(plants[["x", "y"]].to_numpy()[:2], what="plants", crop=[plants["crop"][0], other[1]]),
        rows, NO_BEDS, plants=plants, covers="rows", crops=tuple(set(plants["crop"])),
    )  # fmt: skip
    assert result.plants["state"].tolist()[:2] == ["alive", "missing"]
    assert result.extra == (2,)


@pytest.mark.parametrize(("off_m", "is_named"), [(4.9, True), (5.1, False)])
def test_a_plants_name_counts_as_far_as_five_times_the_reach_of_its_place(off_m, is_named):
    """Plants stand 2 m apart, so a place counts within 1 m and a name within 5 m; beyond it the next row's plant is found."""
    rows, plants = planted()
    one = plants[plants["row"] == 1].iloc[[7]]
    xy = one[["x", "y"]].to_numpy() - [[0.0, off_m]]
    result = as_built(survey_of(xy, what="plants", names=one["plant"]), rows, NO_BEDS, plants=plants, covers="rows")
    (seen,) = result.plants.loc[result.plants["state"] == "alive", "row"]
    assert (seen == 1) is is_named
    assert any("more than 5.0 m" in f.text for f in result.findings) is not is_named


def test_rows_without_points_need_a_word_about_whether_they_were_looked_at():
    rows, plants = planted()
    seen = plants["row"] <= 11
    survey = survey_of(plants[["x", "y"]].to_numpy()[seen], what="plants")
    with pytest.raises(LayoutError, match=r"11 of 22 rows hold no surveyed plant .*--covers"):
        as_built(survey, rows, NO_BEDS, plants=plants)
    looked = as_built(survey, rows, NO_BEDS, plants=plants, covers="rows").survival.iloc[0]
    assert (looked["surveyed"], looked["survival_pct"]) == (seen.sum(), 100.0)
    everything = as_built(survey, rows, NO_BEDS, plants=plants, covers="all")
    assert everything.survival.iloc[0]["survival_pct"] == pytest.approx(50)
    assert everything.rows_found["state"].tolist() == ["found"] * 11 + ["missing"] * 11
    assert "11 rows missing in the survey: 12, 13" in everything.findings[-1].text


def test_a_count_of_one_crop_says_nothing_of_the_others():
    rows, plants = planted()
    bananas = (plants["crop"] == "banana").to_numpy()
    survey = survey_of(plants[["x", "y"]].to_numpy()[bananas], what="plants", crop="banana")
    with pytest.raises(LayoutError, match=r"holds no cassava, eucalypt\. Say which crops were counted"):
        as_built(survey, rows, NO_BEDS, plants=plants)
    whole = as_built(survey, rows, NO_BEDS, plants=plants, crops=("banana",)).survival.iloc[0]
    assert (whole["surveyed"], whole["alive"]) == (bananas.sum(), bananas.sum())
    with pytest.raises(LayoutError, match="'fig' isn't planted here"):
        as_built(survey, rows, NO_BEDS, plants=plants, crops=("fig",))


def test_the_design_is_left_as_it_was():
    rows, plants = planted()
    before = plants.copy()
    as_built(survey_of(plants[["x", "y"]].to_numpy() + 0.2, what="plants"), rows, NO_BEDS, plants=plants)
    assert plants.equals(before)


# survival


@pytest.mark.parametrize(("alive", "counted"), [(81, 263), (0, 20), (20, 20), (1, 2), (480, 600)])
def test_the_interval_agrees_with_the_statistics_library(alive, counted):
    expected = binomtest(alive, counted).proportion_ci(0.95, method="wilson")
    assert wilson(alive, counted) == pytest.approx((expected.low, expected.high), abs=1e-9)
    assert from_count(alive, counted).share == alive / counted


def test_the_interval_agrees_with_a_published_example():
    # 81 of 263: 0.2553 to 0.3662, Newcombe 1998, Statistics in Medicine 17, 857-872, table I (figures from memory)
    assert wilson(81, 263) == pytest.approx((0.2553, 0.3662), abs=5e-5)


def test_plots_with_the_same_survival_need_no_design_effect():
    even = from_plots(np.full(10, 8.0), np.full(10, 10.0))
    assert "design effect 1.00" in even.method
    assert even.share == pytest.approx(0.8)


def test_the_variance_of_survival_between_plots_is_that_of_the_handbook():
    """Plots of one size: the share's variance is the sample variance of the plots' shares over their number
    (Cochran 1977, section 9.5, reduces to section 2.4 there; from memory), against that of single plants."""
    alive = np.array([10.0, 6, 8, 4, 9, 5])
    variance = np.var(alive / 10, ddof=1) / 6
    effect = variance / (0.7 * 0.3 / 60)
    found = from_plots(alive, np.full(6, 10.0))
    assert found.method.endswith(f"design effect {effect:.2f}")
    expected = wilson(42 / effect, 60 / effect, quantile=2.5706)  # Student's t for 5 degrees of freedom, 97.5 %
    assert (found.low, found.high) == pytest.approx(expected, abs=1e-4)
    # unequal plots by hand: share 30/50, residuals 1, -2, 1 of 10, 15, 25; variance 3/2 * 6 / 50^2
    uneven = from_plots(np.array([7.0, 7, 16]), np.array([10.0, 15, 25]))
    assert uneven.method.endswith("design effect 1.00")  # 0.0036 against 0.6 * 0.4 / 50 = 0.0048
    uneven = from_plots(
        np.array([8.0, 5, 17]), np.array([10.0, 15, 25])
    )  # residuals 2, -4, 2: 3/2 * 24 / 50^2 = 0.0144
    assert uneven.method.endswith("design effect 3.00")


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 999))
def test_patchy_survival_gives_a_wider_interval_than_an_even_one(seed):
    chance = np.random.default_rng(seed)
    lucky = chance.integers(0, 2, 12)
    patchy = from_plots(np.where(lucky, 20.0, 4.0), np.full(12, 20.0))
    total = from_count(int(np.where(lucky, 20, 4).sum()), 240)
    assert patchy.high - patchy.low >= total.high - total.low


def test_the_interval_from_plots_holds_the_truth_about_as_often_as_it_says():
    chance = np.random.default_rng(11)
    hits = 0
    for _ in range(300):
        luck = chance.beta(8, 2, 20)
        interval = from_plots(chance.binomial(15, luck).astype(float), np.full(20, 15.0))
        hits += interval.low <= 0.8 <= interval.high
    assert 0.91 <= hits / 300 <= 0.99


# plots


def test_sample_size_agrees_with_the_published_formula():
    # n = z2 p (1 - p) / d2 with p 0.8, d 0.05, 95 %: 246 plants (standard formula)
    size = sample_size(10**9, expected=0.8, precision=0.05, plants_per_plot=1.0, correlation=0.0)
    assert size.plants == 246
    # Cochran's correction: 246 / (1 + 245 / 1000) = 197.6
    assert sample_size(1000, expected=0.8, precision=0.05, plants_per_plot=1.0, correlation=0.0).plants == 198


@pytest.mark.parametrize("by_chance", [True, False])
def test_plots_lie_in_the_field_apart_and_in_sufficient_number(by_chance):
    _, plants = planted()
    area = shapely.box(EAST, NORTH, EAST + 100, NORTH + 100)
    plots, size = lay_plots(
        area, plants[["x", "y"]].to_numpy(), crs=UTM,
        rule=PlotRule(radius_m=3.59, expected_pct=80, precision_pct=8, correlation=0.05, by_chance=by_chance, seed=1),
    )  # fmt: skip
    assert len(plots) >= size.plots
    assert shapely.contains_xy(area, plots["x"], plots["y"]).all()
    xy = plots[["x", "y"]].to_numpy()
    away = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1)) + np.eye(len(xy)) * 99
    assert away.min() >= 2 * 3.59 - 1e-9
    assert plots["plants"].mean() == pytest.approx(size.plants_per_plot, rel=0.2)
    assert plots["area_m2"].iloc[0] == pytest.approx(40.5, abs=0.1)  # 1/100 acre, NRCS Technical Note 190-FOR-01


def test_counting_in_plots_finds_the_survival_of_the_field():
    rows, plants = planted()
    xy = plants[["x", "y"]].to_numpy()
    plots, _ = lay_plots(
        shapely.box(EAST, NORTH, EAST + 100, NORTH + 100), xy, crs=UTM,
        rule=PlotRule(radius_m=5.642, expected_pct=70, precision_pct=10, correlation=0.0, seed=4),
    )  # fmt: skip
    lives = np.random.default_rng(8).uniform(size=len(xy)) < 0.7
    result = as_built(survey_of(xy[lives], what="plants"), rows, NO_BEDS, plants=plants, plots=plots, covers="plots")
    whole = result.survival.iloc[0]
    assert whole["surveyed"] == plots["plants"].sum()
    assert whole["low_pct"] <= 70 <= whole["high_pct"]
    assert whole["high_pct"] - whole["low_pct"] < 25
    assert (result.plants["state"] == "not_surveyed").sum() == len(plants) - whole["surveyed"]


def test_more_plots_than_fit_are_refused():
    with pytest.raises(LayoutError, match="fit side by side"):
        lay_plots(
            shapely.box(0, 0, 30, 30), np.random.default_rng(0).uniform(0, 30, (50, 2)), crs=UTM,
            rule=PlotRule(radius_m=5.0, expected_pct=50, precision_pct=2, correlation=0.1),
        )  # fmt: skip


def test_rows_from_keeps_numbers():
    assert rows_from([LineString([(0, 0), (1, 0)])]).frame["row"].tolist() == [1]
