"""What moved all points of a survey, and which names are trusted: each step by hand."""

import re

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm
from stakeout_builders import lattice

from geoagro.errors import LayoutError
from geoagro.stakeout import alignment, receiver_error, registering
from geoagro.stakeout.alignment import (
    _allowed,
    _errors,
    _fitted,
    _middle,
    _shift_cause,
    _told,
    aligned,
    found_by_place,
    wind,
)
from geoagro.stakeout.alignment import _drift as drift_of
from geoagro.stakeout.matching import Pairs
from geoagro.stakeout.records.accuracy import Alignment, Similarity
from geoagro.stakeout.registering import (
    Designed,
    _again,
    _against_chance,
    _alike,
    _half_lie_within,
    _likely,
    _other_crops,
    _placed,
    _refuse_chance,
    _strayed,
    listed,
    registered,
)

NAN = float("nan")


# --- what moved all points ---------------------------------------------------------------------------------------


def test_a_shift_turn_and_scale_are_found_and_told_as_they_are():
    design = lattice()
    middle = design.mean(axis=0)
    true = Similarity((middle[0], middle[1]), 1.2, -0.5, 2.0, 1.01, 0.0, 0.0, 0.0)
    survey = true.done(design)
    found = aligned(design, survey, np.arange(20) // 5)
    one = found.similarity
    assert (one.east_m, one.north_m, one.turn_deg, one.scale) == pytest.approx((1.2, -0.5, 2.0, 1.01), abs=1e-6)
    assert one.about == (20.0, 15.0)
    assert found.before_m == pytest.approx(np.median(np.hypot(*(survey - design).T))) and found.after_m < 1e-6
    assert "alike: 1.30 m" in found.told and "turned clockwise by 2.00 degrees" in found.told
    assert "1.010000 times as far apart" in found.told
    shift = aligned(design, design + np.array([0.0, 0.3]), np.arange(20) // 5)  # nothing but a shift
    assert (
        "alike: 0.30 m north of their places;" in shift.told
        and "turned" not in shift.told
        and "times" not in shift.told
    )
    assert aligned(design[:5], survey[:5], np.zeros(5)) is None
    assert aligned(design[:6], survey[:6], np.zeros(6)) is not None
    assert aligned(design, design + np.array([0.04, 0.0]), np.arange(20) // 5).told == ""  # 4 cm aren't worth a word


def test_only_what_is_asked_for_is_fitted():
    factor = 1.02 * np.exp(0.1j)
    assert _allowed(factor, turn=True, scale=True) == factor
    assert _allowed(factor, turn=True, scale=False) == pytest.approx(np.exp(0.1j))
    assert _allowed(factor, turn=False, scale=True) == pytest.approx(factor.real + 0j)
    assert _allowed(factor, turn=False, scale=False) == 1.0
    assert _middle(np.array([1 + 1j, 2 + 5j, 9 + 2j])) == 2 + 2j


def test_robust_constants_are_those_of_the_normal_distribution():
    """Median distance of a round scatter: root of 2 ln 2; Tukey's biweight: 95 % as efficient as the mean (numeric integral)."""
    assert pytest.approx(np.sqrt(2 * np.log(2)), rel=1e-4) == registering._ROUND_MEDIAN
    assert pytest.approx(np.sqrt(2 * np.log(2)), rel=1e-4) == alignment._RAYLEIGH_MEDIAN
    assert pytest.approx(1 / norm.ppf(0.75), rel=1e-4) == receiver_error._MAD
    x, step = np.linspace(-alignment._TUKEY, alignment._TUKEY, 20_001, retstep=True)
    u = (x / alignment._TUKEY) ** 2
    push, slope = x * (1 - u) ** 2, (1 - u) * (1 - 5 * u)
    efficiency = (slope * norm.pdf(x)).sum() ** 2 * step / (push**2 * norm.pdf(x)).sum()
    assert efficiency == pytest.approx(0.95, abs=1e-3)


def test_standard_errors_of_independent_points_are_those_of_a_mean_and_a_slope():
    """Noise of 1 m each way on 400 points: 1 / 20 for the shift, 1 / root of the spread for turn and scale."""
    chance = np.random.default_rng(5)
    design = chance.uniform(-100, 100, (400, 2))
    d = design @ np.array([1, 1j])
    spread = np.sqrt((np.abs(d - d.mean()) ** 2).sum())
    se, sure = [], []
    for _ in range(12):
        s = d + chance.normal(0, 1, 400) + 1j * chance.normal(0, 1, 400)
        fit = _fitted(d, s, turn=True, scale=True)
        assert fit.sigma == pytest.approx(1.0, rel=0.15)
        one, limit = _errors(d, s, fit, np.arange(400) // 20)
        se.append(one)
        sure.append(limit / one)
    mean = np.mean(se, axis=0)
    assert mean[0] == pytest.approx(1 / 20, rel=0.35) and mean[0] > 0.045
    assert mean[1:] * spread == pytest.approx(np.ones(2), rel=0.35)
    assert (np.min(sure, axis=0) > norm.ppf(1 - 0.0005)).all()  # one chance in a thousand, both sides


def test_white_noise_drifts_by_its_own_deviation_and_a_slow_wave_by_more():
    chance = np.random.default_rng(8)
    place = chance.uniform(-1, 1, 200) + 1j * chance.uniform(-1, 1, 200)
    place -= place.mean()
    found = [drift_of(chance.normal(0, 1, 200) + 1j * chance.normal(0, 1, 200), place) for _ in range(300)]
    assert np.sqrt(np.mean(np.square(found))) == pytest.approx(1.0, rel=0.08)
    wave = np.cos(np.pi * (np.arange(200) + 0.5) / 200).astype(complex)
    assert drift_of(wave, place) == pytest.approx(
        np.sqrt(100 / 2 / 2), rel=0.05
    )  # its norm, over two waves and two ways


def similarity(**changes):
    values = {"about": (5e5, 5e6), "east_m": 0.0, "north_m": 0.0, "turn_deg": 0.0, "scale": 1.0, "shift_se_m": 0.01}
    return Similarity(**(values | {"turn_se_deg": 0.01, "scale_se": 1e-5} | changes))


def test_what_moved_all_points_is_told_with_what_to_check():
    one = similarity(east_m=-0.3, north_m=0.4, turn_deg=-1.5, scale=1.000123)
    assert _told(one, (False, False, False), 0.5, 0.1) == ""
    text = _told(one, (True, True, True), 0.5, 0.1)
    assert "alike: 0.50 m north-west of their places, turned anticlockwise by 1.50 degrees, 1.000123 times" in text
    assert "within 0.50 m of their places as they stand, within 0.10 m without it" in text
    assert "check the base" in text and "magnetic" in text and "unit of length" in text
    assert "turned" not in _told(one, (True, False, False), 0.5, 0.1)
    assert [wind(np.sin(a), np.cos(a)) for a in np.radians(np.arange(0, 360, 45) + 20)] == [
        "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west",
    ]  # fmt: skip


def test_the_feet_are_told_apart_by_the_way_of_the_shift():
    """2 parts in a million of 500 and 5,000 km: 1 m east and 10 m north."""
    assert "US survey feet were probably taken where the file holds feet" in _shift_cause(
        similarity(east_m=1.0, north_m=10.0)
    )
    assert "feet were probably taken where the file holds US survey feet" in _shift_cause(
        similarity(east_m=-1.0, north_m=-10.0)
    )
    assert "base" in _shift_cause(similarity(east_m=1.0, north_m=9.0))
    near = similarity(east_m=0.05, north_m=0.1, about=(25_000.0, 50_000.0))  # where 2 parts in a million are 11 cm
    assert "base" in _shift_cause(near)


def test_points_without_names_are_found_by_their_pattern():
    chance = np.random.default_rng(3)
    design = chance.uniform(0, 80, (25, 2))
    middle = design.mean(axis=0)
    true = Similarity((middle[0], middle[1]), 6.0, -4.0, 8.2, 1.0, 0.0, 0.0, 0.0)
    found = found_by_place(design, true.done(design), within_m=1.5)
    assert (found.similarity.east_m, found.similarity.north_m) == pytest.approx((6.0, -4.0), abs=0.05)
    assert found.similarity.turn_deg == pytest.approx(8.2, abs=0.05)
    assert found_by_place(design, design[:5], within_m=1.5) is None


# --- names -------------------------------------------------------------------------------------------------------


def points_of(names, xy, crop="", status=""):
    n = len(names)
    return pd.DataFrame(
        {
            "name": names,
            "x": xy[:, 0],
            "y": xy[:, 1],
            "crop": np.broadcast_to(crop, n),
            "status": np.broadcast_to(status, n),
        }
    )


def designed(crop=""):
    xy = lattice()
    return Designed(
        "plants", np.array([str(k) for k in range(20)]), xy, np.arange(20) // 5, np.full(20, crop, dtype=object)
    )


def test_lists_of_names_stop_after_twelve():
    assert listed(range(1, 13)) == ", ".join(str(k) for k in range(1, 13))
    assert listed(range(1, 14)) == ", ".join(str(k) for k in range(1, 13)) + ", ..."


def test_a_name_measured_again_near_by_counts_once_with_its_last_state():
    xy = np.array([[0.0, 0.0], [10.0, 0.0], [0.3, 0.4], [30.0, 0.0], [20.0, 0.0], [np.nan, np.nan], [40.0, 0.0]])
    points = points_of(["0", "1", "0", "2", "02", "4", "4"], xy, status=["planted", "", "dead", "", "", "", ""])
    again, away, notes = _again(designed(), points, 2.0)
    assert again.tolist() == [0, 5]  # 2 comes again ten metres off, which is another matter
    assert away == pytest.approx(np.array([[-0.3, -0.4]]))
    assert [note.level for note in notes] == ["note", "warning"]
    assert "2 points measure a name again: 0, 4" in notes[0].text and "two states" in notes[1].text
    assert _again(designed(), points.iloc[1:2], 2.0)[0].tolist() == []


def test_another_crop_than_planned_is_told_and_an_unknown_one_is_not():
    named = np.array([[0, 0], [1, 1], [2, 2]])
    points = points_of(["0", "1", "2"], lattice()[:3], crop=["plum", "", "pear"])
    other, (told,) = _other_crops(designed("plum"), points, named)
    assert other.tolist() == [False, False, True]
    assert "1 number bears" in told.text and "2 (pear, planned plum)" in told.text
    assert _other_crops(designed(""), points, named)[0].tolist() == [False] * 3


def test_points_with_a_crop_are_placed_on_plants_of_that_crop_first():
    design = Designed(
        "plants",
        np.array(["a", "b"]),
        np.array([[0.0, 0.0], [1.0, 0.0]]),
        np.zeros(2),
        np.array(["plum", "pear"], dtype=object),
    )
    xy = np.array([[0.4, 0.0], [0.45, 0.0]])
    none = np.empty((0, 2), dtype=np.int64)
    told = pd.Series(["pear", ""])
    assert sorted(_placed(design, told, xy, np.ones(2, bool), none, within_m=0.9).tolist()) == [[0, 1], [1, 0]]
    left = np.array([True, False])
    assert _placed(design, told, xy, left, none, within_m=0.9).tolist() == [[1, 0]]
    assert _placed(design, told, xy, np.ones(2, bool), np.array([[1, 0]]), within_m=0.9).tolist() == [[0, 1]]


def test_positions_that_tell_nothing_are_told_from_those_that_do():
    design, chance = lattice(30, 30, 2.0), np.random.default_rng(1)
    middle = (np.abs(design - 30) < 10).all(axis=1)
    assert _against_chance(design, (design + chance.normal(0, 0.1, design.shape))[middle], 1.0) < 0.3
    assert _against_chance(design, chance.uniform(20, 40, (400, 2)), 1.0) == pytest.approx(1.0, abs=0.06)
    assert _against_chance(design[:1], design, 1.0) == 0.0


def test_what_keeps_points_from_matching_is_named(monkeypatch):
    monkeypatch.setattr(registering, "found_by_place", lambda *_, **__: None)
    grid = lattice(30, 30, 2.0)
    design = Designed("plants", np.array([f"P{k}" for k in range(900)]), grid, np.arange(900) // 60, np.full(3600, ""))
    chance = np.random.default_rng(1).uniform(20, 40, (20, 2))
    rough = _likely(design, chance, 0.5, ["x1", "", "x2", "x3", "x4"])
    assert rough.startswith("x1, x2, x3 aren't names of plants here, which read like P450. Put the names right")
    assert "positions don't help" in rough and "0.50 m" in rough
    few = _likely(design, chance[:19], 0.5, ["", ""])
    assert few == "The points have no names. Survey with names, check --what and the survey's CRS, or widen --within."
    monkeypatch.setattr(
        registering, "found_by_place", lambda *_, **__: Alignment(similarity(), 1.0, 0.1, "all lie east")
    )
    assert _likely(design, chance, 0.5, []) == "But all lie east: put that right, or undo it with --repair shift."


def test_a_survey_most_of_which_matches_nothing_is_refused():
    grid = lattice(30, 30, 2.0)
    design = Designed("plants", np.array([f"P{k}" for k in range(900)]), grid, np.arange(900) // 60, np.full(3600, ""))

    def judge(matched, points, xy=grid[:5], by="name"):
        found = np.arange(matched)
        _refuse_chance(
            design, xy, Pairs(found, found, np.full(matched, by)), np.full(points, ""), survey="s", within_m=1.0
        )

    judge(5, 10)
    judge(30, 30, xy=grid[450:480], by="place")
    with pytest.raises(LayoutError, match=r"Only 4 of 10 points of survey s"):
        judge(4, 10)
    with pytest.raises(LayoutError, match=r"Nothing in survey s"):
        judge(0, 0)
    chance = np.random.default_rng(1).uniform(20, 40, (200, 2))
    with pytest.raises(LayoutError, match=r"can't be matched by place"):
        judge(150, 200, xy=chance, by="place")
    judge(150, 200, xy=chance)
    judge(15, 19, xy=chance[:19], by="place")  # of so few nothing is told


def test_what_is_undone_or_doubted_is_said():
    told = Alignment(similarity(), 0.8, 0.1, "all points lie east")
    silent = Alignment(similarity(), 0.8, 0.1, "")
    assert (_half_lie_within(None), _half_lie_within(told), _half_lie_within(silent)) == (0.0, 0.1, 0.8)
    assert [f.level for f in _alike(told, True)] == ["repair"] and [f.level for f in _alike(told, False)] == ["warning"]
    assert _alike(silent, False) == _alike(None, False) == _strayed([], 1.0) == []
    assert "1 name lies more than 2.5 m" in _strayed(["x"], 2.5)[0].text


def test_a_name_is_doubted_where_it_lies_far_off_against_all_others():
    """Points scatter by 1 m each way: six standard deviations, or as far as names are trusted where that is farther."""
    chance = np.random.default_rng(2)
    xy = lattice(10, 10, 10.0)
    design = Designed(
        "plants", np.array([str(k) for k in range(100)]), xy, np.arange(100) // 10, np.full(100, "", dtype=object)
    )
    seen = xy + chance.normal(0, 1.0, xy.shape)
    seen[50] = xy[50] + (5.0, 0.0)
    seen[51] = xy[51] + (0.0, 8.0)

    def strayed(name_within_m):
        found = registered(
            design, points_of(design.names, seen), survey="s", within_m=1.0, name_within_m=name_within_m, undo=False
        )
        assert found.by_names
        return [f.text for f in found.findings if re.search("lies? more than", f.text)]

    (told,) = strayed(2.0)
    assert "1 name " in told and ": 51;" in told and strayed(9.0) == []


def test_surveys_half_of_whose_points_bear_known_names_are_trusted():
    xy = lattice()
    design = designed()

    def trusted(known):
        names = [str(k) if k < known else f"x{k}" for k in range(20)]
        return registered(
            design, points_of(names, xy), survey="s", within_m=1.0, name_within_m=5.0, undo=False
        ).by_names

    assert [trusted(known) for known in (10, 9, 20)] == [True, False, True]
    few = Designed("plants", design.names[:8], xy[:8], design.row[:8], design.crop[:8])
    five = [str(k) if k < 5 else "" for k in range(8)]
    assert not registered(
        few, points_of(five, xy[:8]), survey="s", within_m=1.0, name_within_m=5.0, undo=False
    ).by_names
