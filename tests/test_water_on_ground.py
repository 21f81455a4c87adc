"""Water on ground with a known answer: planes, valleys, bowls, and the balance on random ground."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter
from water_builders import SOUTH, WEST, field, ground, rows_of, slope_of

from geoagro.errors import LayoutError
from geoagro.outputs.words.say import Words
from geoagro.values.rules.water import Ridge, WaterRule
from geoagro.values.terrain import Terrain
from geoagro.values.words import Sentence
from geoagro.water.analysis import water_on_rows
from geoagro.water.cascade import _finds_a_way, _Ways, ground_caught, storm_on_rows
from geoagro.water.dents import low_point_findings
from geoagro.water.flow import flow_over
from geoagro.water.flow_lines import crossings, flow_lines
from geoagro.water.ponds import RowPonds, water_section_m2
from geoagro.water.row_profiles import Profile, row_profiles
from geoagro.water.ways import one_way_m, ways_along

STORE = WaterRule(rows="store", rain_mm=60, curve_number=85)


def random_ground(seed, size_m=80):
    noise = gaussian_filter(np.random.default_rng(seed).normal(size=(size_m, size_m)), 8)
    noise /= np.abs(noise).max()
    return ground(lambda x, y: 3 * noise + 0.06 * y + 0.0 * x, size_m)


def three_rows(size=80):
    return [[(2, y), (size - 2, y + 3)] for y in (20, 40, 60)]


# --- flow over the ground -----------------------------------------------------------------------------------------


def test_on_a_plane_each_cell_drains_the_strip_above_it():
    flow = flow_over(ground(lambda x, y: 0.1 * y + 0.0 * x))  # falls to the south
    middle = flow.area_m2[:, 50]
    assert middle.tolist() == pytest.approx(np.arange(1, 101))


def test_water_entering_over_the_upper_edge_is_marked_all_the_way_down():
    flow = flow_over(ground(lambda x, y: 0.1 * y + 0.0 * x))
    assert flow.open_[:, 10:90].all()


def test_a_ridge_inside_the_ground_keeps_strange_water_out():
    flow = flow_over(ground(lambda x, y: -0.1 * np.abs(y - 50) + 0.0 * x))
    assert not flow.open_[:, 10:90].any()


def test_all_ground_drains_to_the_edge_and_adds_up():
    flow = flow_over(random_ground(3))
    leaves = flow.onward == np.arange(flow.onward.size)
    assert flow.area_m2.ravel()[leaves].sum() == pytest.approx(80 * 80)


def test_a_bowl_is_filled_to_its_pass():
    bowl = ground(
        lambda x, y: 0.002 * ((x - 50) ** 2 + (y - 50) ** 2)
    )  # rises outward, lowest edge in the middle of a side
    flow = flow_over(bowl)
    level = bowl.values.copy()
    rim = np.concatenate([level[0], level[-1], level[:, 0], level[:, -1]]).min()
    assert flow.filled_m.max() == pytest.approx(rim - level.min(), abs=1e-6)
    held = flow.filled_m.sum()
    depth = np.clip(rim - level, 0, None).sum()
    assert held == pytest.approx(depth, rel=1e-6)
    assert held == pytest.approx(np.pi * (rim / 0.002) * rim / 2, rel=0.02)  # a paraboloid: half of its cylinder


def steepest_way_down(z, cell):
    """An independent way down, cell by cell: the steepest of eight neighbours, nothing below outside."""
    rows, columns = z.shape
    onward = np.arange(z.size).reshape(z.shape)
    for i in range(rows):
        for j in range(columns):
            best = 0.0
            for di in (-1, 0, 1):
                for dj in (-1, 0, 1):
                    a, b = i + di, j + dj
                    if (di or dj) and 0 <= a < rows and 0 <= b < columns:
                        fall = (z[i, j] - z[a, b]) / (cell * np.hypot(di, dj))
                        if fall > best:
                            best, onward[i, j] = fall, a * columns + b
    return onward.ravel()


def test_flow_agrees_with_an_independent_way_down_where_nothing_is_filled():
    surface = ground(lambda x, y: 0.05 * y + 0.02 * x + 0.3 * np.sin(x / 9) * np.cos(y / 13), 40)
    flow = flow_over(surface)
    inner = np.zeros(surface.values.shape, dtype=bool)
    inner[1:-1, 1:-1] = True
    unfilled = inner & (flow.filled_m < 1e-9)
    other = steepest_way_down(surface.values, 1.0).reshape(surface.values.shape)
    same = flow.onward.reshape(surface.values.shape)[unfilled] == other[unfilled]
    assert same.mean() > 0.99  # equal falls may be broken either way


def test_ground_above_each_cell_agrees_with_an_independent_sum():
    surface = ground(lambda x, y: 0.05 * y + 0.02 * x + 0.1 * np.sin(x / 9) * np.cos(y / 13), 40)
    flow = flow_over(surface)
    assert flow.filled_m.max() < 1e-9
    total, onward = np.ones(surface.values.size), steepest_way_down(surface.values, 1.0)
    inner = np.zeros(surface.values.shape, dtype=bool)
    inner[1:-1, 1:-1] = True
    onward = np.where(inner.ravel(), onward, flow.onward)
    for cell in np.argsort(-surface.values.ravel(), kind="stable").tolist():
        if onward[cell] != cell:
            total[onward[cell]] += total[cell]
    assert np.abs(flow.area_m2.ravel() - total).max() < 1e-9


def test_no_verdict_on_slope_above_where_some_of_it_is_unknown():
    across = ground(lambda x, y: 0.1 * y + 0.0 * x)  # falls to the south, from beyond the edge
    alone = ground(lambda x, y: -0.1 * np.abs(y - 90) + 0.0 * x)  # the divide is seen
    verdicts = []
    for surface in (across, alone):
        plan = water_on_rows(surface, slope_of(surface), rows_of([(20, 80), (80, 80)]), field(), rule=None)
        verdicts.append(plan.water_criteria.set_index("criterion")["verdict"]["Length of slope above a row"])
    assert verdicts == ["no verdict", "passes"]


def test_what_a_criterion_found_is_written_as_the_reader_writes_numbers():
    surface, rows = ground(lambda x, y: -0.1 * np.abs(y - 90) + 0.0 * x), rows_of([(20, 80), (80, 80)])
    pond = rows.frame.union_all().buffer(20).difference(rows.frame.union_all().buffer(12.04))
    plan = water_on_rows(surface, slope_of(surface), rows, field(), rule=None, water_bodies=pond)
    found = plan.water_criteria.set_index("criterion")["value"]["Distance to open water"]
    assert (str(found), Words("fr")(found), Words("fr").again(str(found))) == ("12.0 m", "12,0 m", "12,0 m")


@pytest.mark.parametrize(("n", "told"), [(1, "1 ligne sur 36"), (2, "2 lignes sur 36")])
def test_one_row_of_many_is_told_in_the_singular(n, told):
    assert Words("fr")(Sentence("{n} of {all} rows", n=n, all=36)) == told


def test_unknown_ground_everywhere_is_refused():
    with pytest.raises(LayoutError, match="no data"):
        flow_over(ground(lambda x, y: np.full_like(x, np.nan)))


# --- lines of gathered flow ---------------------------------------------------------------------------------------


def valley(x, y):
    return 0.05 * y + 0.1 * np.abs(x - 50.5)


def test_in_a_v_valley_the_flow_line_runs_along_the_bottom():
    flow = flow_over(ground(valley))
    lines = flow_lines(flow, field(), least_m2=1000)
    longest = lines.geometry[lines["length_m"].idxmax()]
    assert shapely.get_coordinates(longest)[:, 0] - WEST == pytest.approx(50.5, abs=1.01)
    start, end = shapely.get_coordinates(longest)[[0, -1], 1]
    assert start > end  # drawn downhill
    # of eight directions the steepest on these sides is the diagonal, so a half of the bottom gets 50 x 50 + 50 x 50 / 2, from both sides
    assert lines["drains_m2"].max() == pytest.approx(2 * 3750, rel=0.03)


def test_a_row_across_the_valley_is_met_once_at_its_middle():
    surface = ground(valley)
    flow = flow_over(surface)
    profiles = row_profiles(rows_of([(5, 30), (95, 30)]).frame, surface, slope_of(surface))
    met = crossings(flow, flow_lines(flow, field(), least_m2=1000), profiles)
    assert met["row"].tolist() == [1]
    assert met["station_m"][0] == pytest.approx(45, abs=1.5)


# --- along rows ---------------------------------------------------------------------------------------------------


def profile_of(z, slope=0.1):
    at = np.arange(len(z), dtype=float)
    return Profile(
        1, at, np.asarray(z, dtype=float), np.column_stack([WEST + at, SOUTH + 0 * at]), np.full(len(z), slope)
    )


def test_a_row_across_a_v_valley_has_one_low_point_as_deep_as_its_lower_side():
    surface = ground(valley)
    (profile,) = row_profiles(rows_of([(10, 30), (95, 30)]).frame, surface, slope_of(surface))
    stations, depths = profile.low_points()
    assert profile.station_m[stations].tolist() == pytest.approx([40.5], abs=1)
    assert depths.tolist() == pytest.approx([4.05], abs=0.11)  # 40 m at 10 % on the lower side


def test_every_layout_tells_its_low_points():
    surface = ground(valley)
    terrain = Terrain(slope_of(surface), None, surface, surface, 0.0, "made by a test", surface)
    (finding,) = low_point_findings(rows_of([(10, 30), (95, 30)], [(60, 50), (95, 50)]), terrain)
    assert finding.text.startswith("1 of 2 rows has 1 inner low point of 0.15 m or deeper, the deepest 4.0")


def test_ways_turn_at_heights_and_low_points():
    profile = profile_of(np.abs(np.arange(101) - 40.0) / 50)
    ways = ways_along([profile])
    assert [(w.high, w.low, w.at_row_end) for w in ways] == [(0, 40, False), (100, 40, False)]
    assert one_way_m([profile], ways).tolist() == [60.0]


def test_ripples_below_the_survey_s_noise_are_no_low_points():
    profile = profile_of(np.arange(101) * 0.01 + 0.005 * np.sin(np.arange(101)))
    assert len(profile.low_points()[0]) == 0
    assert len(ways_along([profile])) == 1


# --- ponds --------------------------------------------------------------------------------------------------------


def test_a_level_row_holds_its_section_times_its_length():
    ponds = RowPonds(profile_of(np.zeros(101)), Ridge(height_m=0.3, bank=2.0))
    section = 0.3**2 / 2 * (1 / 0.1 + 2.0)
    assert ponds.room_at(50) == pytest.approx(100 * section)
    (spill,) = ponds.add(np.array([50]), np.array([100 * section + 7.0]))
    assert spill.volume_m3 == pytest.approx(7.0)


def test_a_falling_row_holds_a_wedge_at_its_lower_end():
    """Ditch of 1 m bottom and upright banks, falling 1 %, 0.3 m deep: a wedge 30 m long, half of 0.3 m deep."""
    ridge = Ridge(kind="ditch", height_m=0.3, bottom_m=1.0, bank=1e-9)
    ponds = RowPonds(profile_of(np.arange(101) * 0.01), ridge)
    assert ponds.room_at(0) == pytest.approx(30 * 0.3 / 2, rel=0.01)


def test_open_ends_let_water_out_and_closed_ones_keep_it():
    falling = profile_of(np.arange(101) * 0.01)
    (spill,) = RowPonds(falling, Ridge(ends="open")).add(np.array([50]), np.array([1.0]))
    assert (spill.at, spill.over_end) == (0, True)
    assert RowPonds(falling, Ridge(ends="closed")).add(np.array([50]), np.array([0.5])) == []


def test_a_full_pond_runs_along_the_row_into_the_next_before_it_runs_over():
    z = 0.1 * np.cos(np.arange(101) / 100 * 4 * np.pi)  # low at 25 and 75, pass at 50
    ponds = RowPonds(profile_of(z), Ridge(height_m=1.0))
    room = ponds.room_at(25)
    assert ponds.add(np.array([25]), np.array([1.5 * room])) == []
    assert ponds.held_at(25) == pytest.approx(room)
    assert ponds.held_at(75) == pytest.approx(0.5 * room)


def test_two_full_ponds_share_one_level_up_to_the_ridge():
    z = 0.1 * np.cos(np.arange(101) / 100 * 4 * np.pi)
    ridge = Ridge(height_m=0.5)
    ponds = RowPonds(profile_of(z), ridge)
    spills = ponds.add(np.array([25]), np.array([1e4]))
    share = np.full(101, 1.0)
    share[[0, -1]] /= 2
    full = (water_section_m2(-0.1 + 0.5 - z, np.full(101, 0.1), ridge) * share).sum()
    assert ponds.held_m3 == pytest.approx(full)
    assert sum(s.volume_m3 for s in spills) == pytest.approx(1e4 - full)


@settings(max_examples=60)
@given(seed=st.integers(0, 10_000), ends=st.sampled_from(["open", "closed"]), height=st.floats(0.05, 1.0))
def test_ponds_neither_make_nor_lose_water(seed, ends, height):
    rng = np.random.default_rng(seed)
    ponds = RowPonds(profile_of(np.cumsum(rng.normal(size=80)) * 0.04), Ridge(height_m=height, ends=ends))
    poured, left = 0.0, 0.0
    for _ in range(4):
        volume = rng.uniform(0, 3, 5)
        poured += volume.sum()
        left += sum(s.volume_m3 for s in ponds.add(rng.integers(0, 80, 5), volume))
    assert ponds.held_m3 + left == pytest.approx(poured)


# --- the storm ----------------------------------------------------------------------------------------------------


def test_each_row_catches_the_ground_between_it_and_the_row_above():
    surface = ground(lambda x, y: 0.1 * y + 0.0 * x)
    profiles = row_profiles(rows_of([(0.5, 70), (99.5, 70)], [(0.5, 40), (99.5, 40)]).frame, surface, slope_of(surface))
    caught = ground_caught(flow_over(surface), profiles)
    assert [a.sum() for a in caught.area_m2] == pytest.approx([3000, 3000], rel=0.05)


def test_what_the_upper_row_can_t_hold_the_lower_one_receives():
    surface = ground(lambda x, y: 0.1 * y + 0.0 * x)
    profiles = row_profiles(rows_of([(0.5, 70), (99.5, 70)], [(0.5, 40), (99.5, 40)]).frame, surface, slope_of(surface))
    flow = flow_over(surface)
    storm = storm_on_rows(flow, profiles, ground_caught(flow, profiles), runoff_mm=50, ridge=Ridge(height_m=0.1))
    assert storm.over_m3[0] > 0
    assert storm.received_m3[1] == pytest.approx(storm.over_m3[0])
    assert storm.left_m3 == pytest.approx(storm.over_m3[1])


@settings(max_examples=20)
@given(seed=st.integers(0, 10_000), runoff=st.floats(1, 200), height=st.floats(0.05, 0.6))
def test_the_storm_s_water_balance_closes_on_random_ground(seed, runoff, height):
    surface = random_ground(seed)
    profiles = row_profiles(rows_of(*three_rows()).frame, surface, slope_of(surface))
    flow = flow_over(surface)
    storm = storm_on_rows(flow, profiles, ground_caught(flow, profiles), runoff_mm=runoff, ridge=Ridge(height_m=height))
    held = sum(p.held_m3 for p in storm.ponds)
    assert held + storm.left_m3 + storm.hollow_m3 == pytest.approx(storm.caught_m3.sum(), rel=1e-9)


def test_water_that_goes_round_in_a_hollow_comes_to_an_end():
    surface = ground(lambda x, y: 0.004 * ((x - 50) ** 2 + (y - 50) ** 2))
    lines = [[(30, y), (70, y)] for y in (40, 45, 50, 55, 60)]
    profiles = row_profiles(rows_of(*lines).frame, surface, slope_of(surface))
    flow = flow_over(surface)
    storm = storm_on_rows(flow, profiles, ground_caught(flow, profiles), runoff_mm=300, ridge=Ridge(height_m=0.1))
    stands = sum(p.held_m3 for p in storm.ponds) + storm.hollow_m3
    assert stands + storm.left_m3 == pytest.approx(storm.caught_m3.sum())


def sags(depth_m, length=101):
    """A row that sags to its middle."""
    at = np.linspace(-1, 1, length)
    return profile_of(depth_m * at**2)


def test_two_full_ponds_that_feed_one_another_rise_to_the_lowest_other_gate():
    ridge = Ridge(height_m=0.5, ends="open")
    ponds = [RowPonds(sags(0.3), ridge), RowPonds(sags(0.2), ridge)]
    known = {(0, 0): (1, 50), (1, 0): (0, 50)}  # each one's first end leads into the other's middle
    for pond in ponds:
        pond.add(np.array([50]), np.array([1e5]))
    assert _finds_a_way(ponds, _Ways(None, [], None, known), 0, 0)
    assert ponds[1].gate_at(50) == ("last end", pytest.approx(0.2))  # the lower of the two leaves by its other end
    assert ponds[0].gate_at(50)[0] == "first end"


def test_a_ring_without_another_gate_is_a_hollow():
    ponds = [RowPonds(sags(0.3), Ridge(height_m=0.1)), RowPonds(sags(0.2), Ridge(height_m=0.1))]
    for pond in ponds:
        pond.add(np.array([50]), np.array([1e5]))
    assert not _finds_a_way(ponds, _Ways(None, [], None, {(0, 50): (1, 50), (1, 50): (0, 50)}), 0, 50)


def test_water_that_still_finds_room_closes_no_gate():
    ponds = [RowPonds(sags(0.3), Ridge(height_m=0.1)), RowPonds(sags(0.2), Ridge(height_m=0.1))]
    ponds[0].add(np.array([50]), np.array([1e5]))
    assert _finds_a_way(ponds, _Ways(None, [], None, {(0, 50): (1, 50), (1, 50): (0, 50)}), 0, 50)
    assert ponds[0].gate_at(50)[0] == "ridge"


def test_the_plan_says_what_runs_over_and_balances():
    surface = random_ground(5)
    plan = water_on_rows(surface, slope_of(surface), rows_of(*three_rows()), field(80), rule=STORE)
    balance = plan.water_balance.set_index("item")["volume_m3"]
    assert abs(balance["difference"]) <= 0.001 * balance["runoff"]
    assert plan.row_water["row"].tolist() == [1, 2, 3]
    assert any("run over" in finding.text or "hold the storm" in finding.text for finding in plan.findings)
    assert any("licensed professional" in finding.text for finding in plan.findings)
    for spec, frame in plan.tables():
        spec.check(frame)


def test_the_same_ground_gives_the_same_plan():
    surface = random_ground(7)
    one, two = (
        water_on_rows(surface, slope_of(surface), rows_of(*three_rows()), field(80), rule=STORE) for _ in range(2)
    )
    for (_, a), (_, b) in zip(one.tables(), two.tables(), strict=True):
        assert a.equals(b)


def test_rows_that_lead_water_into_a_low_point_far_from_an_outlet_are_told():
    rule = WaterRule(rows="lead", intensity_mm_h=60, runoff_coefficient=0.5, max_way_m=30)
    surface = ground(valley)
    plan = water_on_rows(surface, slope_of(surface), rows_of([(5, 30), (95, 30)]), field(), rule=rule)
    problems = " ".join(plan.row_profile["problem"])
    assert "above water.max_way_m" in problems
    assert "low point" in problems
    peak = plan.row_profile["peak_l_s"].sum()
    assert peak == pytest.approx(1000 * 0.5 * 60 / 3.6e6 * plan.row_water["drains_m2"].sum(), rel=1e-6)


def test_without_a_storm_in_the_design_no_volume_is_told():
    surface = ground(valley)
    plan = water_on_rows(surface, slope_of(surface), rows_of([(5, 30), (95, 30)]), field(), rule=None)
    assert plan.row_water["caught_m3"].isna().all()
    assert len(plan.spills) == 0
    assert any("no storm was reckoned with" in finding.text for finding in plan.findings)
