"""Marks on curved rows: where they stand, what they are called, and that names outlive small changes."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString
from shapely.ops import substring
from stakeout_builders import EAST, NO_BEDS, NORTH, arc_rows, beds_of, marks_along, plane, pond, rows_from

from geoagro.stakeout.labels import row_labels
from geoagro.stakeout.places import bends
from geoagro.values.beds import BEDS, PATHS, TREE_BEDS, Beds


def marks_of(rows, *, beds=NO_BEDS, exclusions=(), earlier=None, terrain=None, **rule):
    return marks_along(rows, beds=beds, exclusions=exclusions, earlier=earlier, terrain=terrain, **rule)


def straight(length, *, y=50.0, x=0.0):
    return LineString([(EAST + x, NORTH + y), (EAST + x + length, NORTH + y)])


def names(marks):
    return dict(zip(marks["stake"], zip(marks["x"], marks["y"], strict=True), strict=True))


@given(st.floats(25, 80), st.floats(6, 40))
@settings(max_examples=20)
def test_a_bend_is_found_at_its_corner(angle_deg, station):
    turn = np.radians(angle_deg)
    line = LineString([(0, 0), (station, 0), (station + 30 * np.cos(turn), 30 * np.sin(turn))])
    assert bends(line, 20.0) == pytest.approx([station], abs=1e-3)


def test_a_name_is_the_row_and_the_whole_metres_along_it():
    marks = marks_of(rows_from([straight(61.4)]))
    assert marks["stake"].tolist() == ["1-000", "1-025", "1-050", "1-061"]
    assert marks["number"].tolist() == [1, 2, 3, 4]
    assert marks["station_m"].tolist() == pytest.approx([0, 25, 50, 61.4])


def test_every_end_of_row_and_bed_has_a_mark_on_the_row():
    rows = arc_rows()
    marks = marks_of(rows, beds=beds_of(rows, start_m=3.0, end_m=7.0))
    for line, (_, mine) in zip(rows.frame.geometry, marks.groupby("row"), strict=True):
        # the bed lies on the outer side of the arc, so the corners of its square ends project onto the row
        # itself at the stations where the bed's own axis was cut
        for station in (0.0, 3.0, line.length - 7.0, line.length):
            assert np.abs(mine["station_m"] - station).min() < 0.02
        assert shapely.distance(mine.geometry, line).max() < 1e-6
    assert set(marks["kind"]) == {"row_end", "bed_end", "tape"}


def test_tapes_keep_to_the_row_and_between_the_limits():
    rows = arc_rows(12)
    marks = marks_of(rows, tolerance_m=0.05, min_spacing_m=4, max_spacing_m=20)
    assert marks["off_tape_m"].max() <= 0.05 + 1e-9
    assert marks["tape_m"].max() <= 20
    for line, (_, mine) in zip(rows.frame.geometry, marks.groupby("row"), strict=True):
        tape = LineString(mine.geometry.tolist())
        assert shapely.hausdorff_distance(line, tape, densify=0.01) <= 0.05 + 2e-3


def test_a_row_that_ends_at_a_pond_is_marked_as_its_edge():
    rows = rows_from([straight(30.0), straight(40.0, x=41.0)])
    marks = marks_of(rows, exclusions=(pond(30.5, 45.0),))
    edges = marks[marks["kind"] == "exclusion_edge"]
    assert edges["stake"].tolist() == ["1-030", "2-000"]
    assert set(edges["note"]) == {"pond"}


def test_a_break_in_the_tree_bed_is_marked_at_both_sides():
    rows = rows_from([straight(60.0)])
    line = rows.frame.geometry.iloc[0]
    parts = [
        substring(line, 0, 20).buffer(0.5, cap_style="flat"),
        substring(line, 26, 60).buffer(0.5, cap_style="flat"),
    ]
    columns = {
        "bed": ["R001-Ta", "R001-Tb"],
        "row": [1, 1],
        "width_m": [1, 1],
        "length_m": [20, 34],
        "area_m2": [20, 34],
    }
    beds = Beds(TREE_BEDS.frame(columns, geometry=parts, crs=rows.frame.crs), BEDS.empty(), PATHS.empty())
    marks = marks_of(rows, beds=beds)
    gaps = marks[marks["kind"] == "gap"]
    assert gaps["station_m"].tolist() == pytest.approx([20, 26])
    assert gaps["note"].tolist() == ["R001-Ta ends", "R001-Tb begins"]


def test_a_bend_gets_a_mark_of_its_own():
    bent = LineString([(EAST, NORTH), (EAST + 33.3, NORTH), (EAST + 60, NORTH + 20)])
    marks = marks_of(rows_from([bent]))
    (bend,) = marks.loc[marks["kind"] == "bend", "station_m"]
    assert bend == pytest.approx(33.3, abs=0.5)
    assert marks["off_tape_m"].max() <= 0.05


def test_heights_come_from_the_surface_and_stay_empty_without_one():
    rows = rows_from([straight(50.0, y=20.0), straight(50.0, y=10.0)])
    assert marks_of(rows, terrain=plane())["z"].tolist() == pytest.approx([102.0] * 3 + [101.0] * 3)
    assert marks_of(rows)["z"].isna().all()


def test_bearings_follow_the_row():
    marks = marks_of(rows_from([LineString([(EAST, NORTH), (EAST, NORTH + 40)])]))
    assert marks["bearing_deg"].tolist() == pytest.approx([0.0] * len(marks))


# names that last


@settings(max_examples=10, deadline=None)
@given(sideways=st.floats(-0.2, 0.2), shorter=st.floats(-0.8, 0.8), later=st.floats(-0.8, 0.8))
def test_names_stay_when_rows_shift_and_change_length_a_little(sideways, shorter, later):
    before = marks_of(rows_from([straight(83.0, y=50 - 4.5 * k) for k in range(4)]))
    moved = rows_from([straight(83.0 - shorter - later, y=50 - 4.5 * k + sideways, x=later) for k in range(4)])
    after = marks_of(moved, earlier=before)
    kept = after[after["stake"].isin(before["stake"])].reset_index(drop=True)
    assert kept["stake"].tolist() == before["stake"].tolist()
    assert len(after) <= len(before) + 4  # a row longer than whole tapes takes one stake more
    inner = before["kind"].to_numpy() == "tape"
    moved_by = np.hypot(kept["x"] - before["x"], kept["y"] - before["y"])
    assert moved_by[inner].max() <= abs(sideways) + 1e-3


def test_a_row_that_begins_later_still_counts_from_where_it_first_began():
    before = marks_of(rows_from([straight(90.0)]))
    after = marks_of(rows_from([straight(80.0, x=10.0)]), earlier=before)
    assert after["stake"].tolist() == ["1-010", "1-025", "1-050", "1-075", "1-090"]
    assert after["station_m"].tolist() == pytest.approx([0, 15, 40, 65, 80])


def test_a_row_that_begins_earlier_gets_names_before_the_old_start():
    before = marks_of(rows_from([straight(80.0, x=12.0)]))
    after = marks_of(rows_from([straight(92.0)]), earlier=before)
    assert after["stake"].iloc[0] == "1-N012"
    assert names(after)["1-025"] == pytest.approx(names(before)["1-025"])


def test_a_new_first_row_renames_no_other():
    before = marks_of(rows_from([straight(60.0, y=50 - 4.5 * k) for k in range(3)]))
    after = marks_of(rows_from([straight(60.0, y=54.5 - 4.5 * k) for k in range(4)]), earlier=before)
    kept = names(after)
    assert all(kept[name] == pytest.approx(at) for name, at in names(before).items())
    assert after.loc[after["row"] == 1, "label"].unique().tolist() == ["0a"]
    assert after.loc[after["row"] == 2, "label"].unique().tolist() == ["1"]


def test_rows_that_moved_to_elsewhere_get_names_of_their_own():
    before = marks_of(rows_from([straight(60.0, y=50 - 4.5 * k) for k in range(3)]))
    after = marks_of(rows_from([straight(60.0, y=52 - 4.5 * k) for k in range(3)]), earlier=before)
    fresh = marks_of(rows_from([straight(60.0, y=52 - 4.5 * k) for k in range(3)]))
    assert after["stake"].tolist() == fresh["stake"].tolist()


def test_planning_twice_gives_the_same_marks():
    rows = arc_rows()
    first = marks_of(rows, beds=beds_of(rows, end_m=6.0))
    again = marks_of(rows, beds=beds_of(rows, end_m=6.0), earlier=first)
    assert again.drop(columns="geometry").equals(first.drop(columns="geometry"))


def test_one_stake_more_renames_no_other():
    coarse = set(marks_of(rows_from([straight(95.0)]), max_spacing_m=25)["stake"])
    bent = LineString([(EAST, NORTH + 50), (EAST + 50, NORTH + 50), (EAST + 94, NORTH + 52)])
    assert coarse - set(marks_of(rows_from([bent]), max_spacing_m=25)["stake"]) <= {"1-095"}


def test_names_are_never_used_twice():
    marks = marks_of(arc_rows(40, radius_m=12.0), tolerance_m=0.02, min_spacing_m=1)
    assert marks["stake"].is_unique


def test_labels_fall_back_to_letters_where_a_number_is_taken():
    assert row_labels([1, 2, 3], []) == ["1", "2", "3"]
    assert row_labels([1, 2, 3, 4], [(0, "1"), (3, "2")]) == ["1", "1a", "3", "2"]
