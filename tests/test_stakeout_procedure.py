"""The receiver decides the way of marking; what the procedure promises is simulated against it."""

from dataclasses import replace

import numpy as np
import pytest
from builders import UTM, square_site, straight_beds, straight_rows
from hypothesis import given, settings
from hypothesis import strategies as st
from stakeout_builders import EAST, NORTH, StakeRule, arc_rows, beds_of, plane, pond, rows_from

from geoagro.stakeout.procedure import (
    LEVEL_SD_M,
    PEG_SD_M,
    TAPE_SD_M,
    base_row_sd,
    findable_points,
    levellings,
    most_between,
)
from geoagro.stakeout.receivers import CLASSES, SPACING_P95_IN_SIGMA, spacing_errors, spacing_samples
from geoagro.stakeout.records import figures as f
from geoagro.stakeout.stake_out import stake_out
from geoagro.values.site import Site


def staked(receiver="phone", *, rows=None, terrain="plane", site=None, **rule):
    rows = straight_rows() if rows is None else rows
    ground = plane() if terrain == "plane" else terrain
    return stake_out(rows, straight_beds(rows), site or square_site(), ground, StakeRule(receiver=receiver, **rule))


# what rows are off: simulated


def taped(chance, between, key_sd, tape_sd, fields):
    """Rows taped from one base row to the next, the misfit shared out evenly: how far each is off (fields, rows)."""
    start, end = chance.normal(0, key_sd, (2, fields, 1))
    walk = start + np.cumsum(chance.normal(0, tape_sd, (fields, between)), axis=1)
    misfit = walk[:, -1:] - end
    return walk - misfit * np.arange(1, between + 1) / between


@settings(max_examples=12, deadline=None)
@given(promise=st.floats(0.15, 0.5), key_sd=st.floats(0.0, 0.1), seed=st.integers(0, 99))
def test_rows_taped_between_two_base_rows_keep_the_promise(promise, key_sd, seed):
    between = most_between(promise, key_sd)
    off = np.abs(taped(np.random.default_rng(seed), between, key_sd, TAPE_SD_M, 4000))
    worst_row = np.quantile(off, 0.95, axis=0).max()
    if between > 1:
        assert worst_row <= 1.06 * promise  # 4,000 fields leave some 3 % of chance
    more = np.abs(taped(np.random.default_rng(seed), 2 * between + 2, key_sd, TAPE_SD_M, 4000))
    assert np.quantile(more, 0.95, axis=0).max() > promise  # twice as many would break it


def test_tapes_that_end_nowhere_add_up_and_a_tape_on_the_slope_far_more():
    """62 rows at 3 cm come to 0.24 m; laid on a slope of 11 % instead of level they come to 1.7 m (by hand)."""
    chance = np.random.default_rng(3)
    open_ended = chance.normal(0, TAPE_SD_M, (4000, 62)).sum(axis=1).std()
    assert open_ended == pytest.approx(0.24, abs=0.01)
    assert 62 * 4.5 * (np.hypot(1, 0.11) - 1) == pytest.approx(1.7, abs=0.05)
    result = staked(terrain=plane(slope=0.11)).procedure
    assert result.on_slope_m == pytest.approx(result.between * 4.5 * (np.hypot(1, 0.11) - 1), rel=1e-6)


@pytest.mark.parametrize("receiver", ["phone", "dgnss"])
def test_the_procedure_names_no_more_tapes_than_the_field_has_rows(receiver):
    """A tolerance may allow 43 tapes in a row where 8 rows stand: told is what is done here, 7 tapes at most."""
    rows = arc_rows(8, radius_m=30.0)
    one = stake_out(rows, beds_of(rows), square_site(), plane(slope=0.11), StakeRule(receiver=receiver)).procedure
    counts = one.steps.loc[one.steps["kind"] == "tape", "text"].str.extract(r"number of tapes: (\d+)")[0].astype(int)
    assert one.between == counts.max() <= 7
    plan = next(str(text) for text in one.sentences if "most tapes" in str(text))
    assert plan.endswith(f": {counts.max()}.")
    slope = next(str(text) for text in one.sentences if "Hold the tape level" in str(text))
    assert f"put row {counts.max()}, counted" in slope


def test_the_rule_of_thumb_for_spacings_is_that_of_the_simulation():
    marks = staked("rtk").marks
    errors = np.abs(spacing_errors(spacing_samples(marks, 4.5), 0.1, rounds=40))
    assert np.quantile(errors, 0.95) == pytest.approx(0.1 * SPACING_P95_IN_SIGMA, rel=0.1)


def test_a_levelled_row_is_off_by_its_height_over_the_slope():
    assert base_row_sd(0.10) == pytest.approx(np.hypot(LEVEL_SD_M / 0.10, PEG_SD_M))
    assert base_row_sd(0.02) > 0.5  # gentle ground doesn't say where a level row lies


@pytest.mark.parametrize("slope", [0.03, 0.04, 0.065, 0.1, 0.3])
def test_a_procedure_with_a_level_keeps_what_half_the_tolerance_allows(slope):
    """On gentle ground a base row is levelled several times, so that the promise never lies above its own aim."""
    one = staked("phone", terrain=plane(slope=slope)).procedure
    assert one.way == "level_and_tape"
    assert one.promise_m <= 0.225 + 1e-9  # half of 10 % of 4.5 m
    level = one.steps.loc[one.steps["text"].str.contains("water level"), "text"].iloc[0]
    assert ("times" in level) == (levellings(slope, 0.225) > 1)


def test_rows_levelled_and_taped_lie_where_the_procedure_promises_by_simulation():
    """Key rows levelled as often as asked and rows taped between them with the misfit shared out: 95 % within the promise."""
    chance, tries = np.random.default_rng(7), 4_000
    for slope in (0.035, 0.065, 0.12):
        one = staked("phone", terrain=plane(slope=slope)).procedure
        n, times = one.between, levellings(slope, 0.225)
        level = chance.normal(0, LEVEL_SD_M / slope, (tries, 2, times)).mean(axis=2)
        ends = level + chance.normal(0, PEG_SD_M, (tries, 2))
        walk = np.cumsum(chance.normal(0, TAPE_SD_M, (tries, n)), axis=1) + ends[:, :1]
        shared = walk - np.arange(1, n + 1) / n * (walk[:, -1:] - ends[:, 1:])
        middle = np.abs(shared[:, max(n // 2 - 1, 0)])
        assert np.quantile(middle, 0.95) <= one.promise_m * 1.06


# the way


def test_each_receiver_gets_its_own_way_tolerance_stakes_and_hours():
    rows = arc_rows(8, radius_m=30.0)
    found = {}
    for receiver in CLASSES:
        one = stake_out(rows, beds_of(rows), square_site(), plane(), StakeRule(receiver=receiver))
        (tolerance,) = {k.at for k in one.summary if k.quantity == f.BEYOND}
        found[receiver] = (one.procedure.way, tolerance, one.summary[f.MARKS], one.summary[f.HOURS])
    assert found["rtk"][:2] == ("points", 0.05)
    assert found["dgnss"][0] == "points_and_tape"
    assert found["phone"][0] == found["phone_under_trees"][0] == "level_and_tape"
    assert found["rtk"][2] > found["phone"][2]
    assert found["rtk"][3] < found["phone"][3]
    assert len({found[k][1:] for k in ("rtk", "dgnss", "phone")}) == 3


@pytest.mark.parametrize("slope", [0.04, 0.15])
def test_hours_hold_each_levelling_of_a_base_row(slope):
    """Gentle ground asks for several levellings; the hours are those of one walk and of each row levelled again (by hand)."""
    result = staked(terrain=plane(slope=slope), walking_kmh=3.0, minutes_per_stake=5.0)
    one = result.procedure
    assert one.way == "level_and_tape" and one.times == levellings(slope, 0.225)
    assert (one.times > 1) == (slope < 0.1)
    base = result.marks[result.marks["label"].isin(one.base_rows)]
    again = (base.groupby("row")["station_m"].agg(np.ptp).sum() / 3000 + len(base) * 5 / 60) * (one.times - 1)
    once = result.walk["distance_m"].sum() / 3000 + len(result.marks) * 5 / 60
    assert result.walk["hours"].sum() == pytest.approx(once + again, rel=0.002)  # tapes are chords


def test_what_the_design_says_of_tolerance_and_time_holds():
    one = staked("phone", tolerance_m=0.05, minutes_per_stake=2.0)
    (tolerance,) = {k.at for k in one.summary if k.quantity == f.BEYOND}
    assert tolerance == 0.05
    other = staked("rtk", tolerance_m=0.05, minutes_per_stake=2.0)
    assert one.summary[f.HOURS] == pytest.approx(other.summary[f.HOURS])


def test_with_rtk_there_is_nothing_to_tape():
    one = staked("rtk").procedure
    assert (one.way, len(one.steps), one.rows_taped, one.findable) == ("points", 0, 0, ())
    assert "every stake is set as a point" in str(one.sentences[0])


def test_a_phone_gets_base_rows_pegs_from_findable_points_and_checks():
    rows = straight_rows()
    result = staked("phone", rows=rows)
    one = result.procedure
    steps = one.steps
    assert one.way == "level_and_tape"
    assert one.base_rows[0] == "1"
    assert one.base_rows[-1] == str(len(rows.frame))
    assert len(one.base_rows) + one.rows_taped == len(rows.frame)
    pegs = steps[steps["kind"] == "peg"]
    place = {p.name: (p.x, p.y) for p in one.findable}
    stake = result.marks.set_index("stake")[["x", "y"]]
    for peg in pegs.itertuples():
        assert peg.distance_m == pytest.approx(np.hypot(*(np.array(place[peg.start]) - stake.loc[peg.end])))
    per_peg = pegs.groupby("end").size()
    assert (per_peg == 2).all()  # two tapes, so that the place is checked
    checks = steps[(steps["kind"] == "check") & steps["start"].str.startswith("the last taped")]
    expected = 1.96 * np.sqrt((len(rows.frame) - 1) * TAPE_SD_M**2 + 2 * one.key_sd_m**2)
    assert len(checks) == len(one.base_rows) - 1
    if len(checks) == 1:
        assert checks["allowed_m"].iloc[0] == pytest.approx(expected)
    assert one.promise_m <= 0.225 + 1e-9  # half of 10 % of 4.5 m


def test_on_flat_ground_base_rows_come_from_pegs_and_not_from_a_level():
    assert staked("phone", terrain=plane(slope=0.005)).procedure.way == "pegs_and_tape"
    assert staked("phone", terrain=None).procedure.way == "pegs_and_tape"


def test_findable_points_are_the_corners_of_boundary_and_ground_kept_free():
    site = Site("field", square_site().boundary, (pond(40, 50),), (), UTM)
    points = findable_points(site)
    assert len(points) == 8
    assert {str(p.what) for p in points} == {"corner of the boundary", "corner of pond"}
    assert (EAST, NORTH) in {(p.x, p.y) for p in points}
    round_site = replace(site, boundary=square_site().boundary.buffer(40, quad_segs=32), exclusions=())
    assert findable_points(round_site) == ()


def test_a_tape_below_the_least_spacing_says_why():
    rows = arc_rows(10, radius_m=12.0)
    marks = stake_out(
        rows, beds_of(rows, start_m=0.8, end_m=1.2), square_site(), None, StakeRule(tolerance_m=0.02)
    ).marks
    short = marks["tape_m"] < 2.0 - 0.01
    assert short.any()
    assert (marks["why_short"] != "").tolist() == short.tolist()
    assert set(marks.loc[short, "why_short"]) & {"bed end beside row end", "row end beside bed end"}


def test_each_part_of_a_field_that_tapes_cannot_join_has_base_rows_of_its_own():
    lines = straight_rows().frame.geometry
    far = [line for k, line in enumerate(lines) if k < 6 or k > 14]  # 40 m without rows in between
    rows = rows_from(far)
    one = staked("phone", rows=rows).procedure
    assert {"1", "6", "7", str(len(far))} <= set(one.base_rows)
    taped = one.steps[one.steps["kind"] == "tape"]
    assert ("row 6", "row 7") not in set(zip(taped["start"], taped["end"], strict=True))
