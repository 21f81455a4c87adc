"""Rows that someone drew or edited: kept, filled around, reported, numbered as before."""

from functools import cache

import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, UTM, plane, square_ground
from shapely import LineString, MultiPolygon, Point, box

from geoagro.beds.layout import lay_beds
from geoagro.errors import LayoutError
from geoagro.ground.leftover import leftover_ground
from geoagro.outputs.layout.hand_layers import hand_layers
from geoagro.rows.by_hand.limits import WORDS
from geoagro.rows.layout import lay_rows
from geoagro.values.design import BedRule, RowRule
from geoagro.values.ground import UNPLANTED, Ground
from geoagro.values.site import DrawnRows

GROUND = square_ground()
LAND = plane()


def line(*points):
    return LineString([(EAST + x, NORTH + y) for x, y in points])


def drawn(*lines, numbers=None, names=None, only_where=None):
    n = len(lines)
    return DrawnRows(tuple(lines), tuple(numbers or [0] * n), tuple(names or [""] * n), only_where)


def lay(given, *, ground=GROUND, terrain=LAND, open_ground=None, **rule):
    rule = {"thorough": False} | rule
    return lay_rows(ground, terrain, RowRule(**rule), drawn=given, open_ground=open_ground or ground.boundary)


def by_number(rows):
    return dict(zip(rows.frame["row"], rows.frame.geometry, strict=True))


def same(one, other):
    """The same corners to the bit, in this order or the other."""
    return one.equals_exact(other, 0) or one.reverse().equals_exact(other, 0)


BENT = line((0, 50), (30, 50), (45, 51), (60, 50), (100, 50))


@cache
def earlier():
    """Rows laid without a hand on the plane."""
    return lay_rows(GROUND, LAND, RowRule(thorough=False))


def as_given(rows, only_where=None):
    frame = rows.frame
    return drawn(*frame.geometry, numbers=list(frame["row"]), names=list(frame["name"]), only_where=only_where)


def test_drawn_rows_stand_exactly_where_they_were_drawn_and_no_other_row_is_laid():
    lines = [BENT, line((0, 30), (100, 80)), line((10, 10), (12, 10))]
    rows = lay(drawn(*lines), method="drawn")
    assert len(rows.frame) == len(lines)
    assert all(any(same(row, given) for row in rows.frame.geometry) for given in lines)


def test_a_drawn_row_that_rises_on_its_way_is_told_where_a_fall_is_wanted_and_only_there():
    falling, rising, dented = (
        line((0, 60), (100, 59)),
        line((0, 40), (100, 42)),
        line((0, 30), (50, 29), (60, 29.8), (100, 29)),
    )
    given = drawn(falling, rising, dented, numbers=[1, 2, 3])
    wanted = {"target_grade_pct": 1, "fall_toward": "outlet", "outlet": {"file": "outlet.gpkg"}, "min_turn_radius_m": 0}
    rule = RowRule(method="drawn", max_grade_pct=20, **wanted)
    outlet = Point(EAST + 5_000, NORTH + 50)
    limits = lay_rows(GROUND, LAND, rule, drawn=given, outlet=outlet, open_ground=GROUND.boundary).by_hand.limits
    rises = limits[limits["limit"] == "rise_limit"].set_index("row")
    assert list(rises.index) == [2, 3]
    # on ground that rises by a tenth to the north, 2 m and 0.8 m north are 20 and 8 cm up; 5 cm of it are allowed
    assert rises["worst"].tolist() == pytest.approx([0.2, 0.08], abs=0.005)
    assert rises["allowed"].tolist() == [0.05, 0.05]
    assert rises["from_m"].tolist() == pytest.approx([25.0, 56.3], abs=1.0)
    level = lay_rows(GROUND, LAND, RowRule(method="drawn"), drawn=given, open_ground=GROUND.boundary).by_hand.limits
    assert "rise_limit" not in set(level["limit"])


def test_what_of_a_guide_rises_on_its_way_is_named_as_the_reason_that_no_row_follows_it():
    rule = RowRule(target_grade_pct=1, fall_toward="outlet", outlet={"file": "outlet.gpkg"}, thorough=False)
    outlet = Point(EAST + 5_000, NORTH + 50)
    rows = lay_rows(GROUND, LAND, rule, guides=[line((0, 40), (100, 43))], outlet=outlet)
    assert rows.by_hand.guides["followed_pct"].iloc[0] < 50
    assert "rising on the way" in str(rows.by_hand.guides["why_not"].iloc[0])


def test_every_limit_that_a_drawn_row_breaks_is_told_with_its_place_and_nothing_is_changed():
    lines = [line((0, 50), (100, 50)), line((0, 52), (60, 52)), line((5, 20), (15, 20)), line((90, 2), (96, 40)),
             line((20, 80), (24, 80), (24.1, 80.8), (20, 81))]  # fmt: skip
    rows = lay(drawn(*lines, numbers=[1, 2, 3, 4, 5]), method="drawn")
    limits = rows.by_hand.limits
    broken = {row: set(part["limit"]) for row, part in limits.groupby("row")}
    assert "spacing_limit" in broken[2]
    assert "short_row" in broken[3]
    assert "grade_limit" in broken[4]
    assert "turn_radius" in broken[5]
    near = limits[(limits["row"] == 2) & (limits["limit"] == "spacing_limit")].iloc[0]
    assert near["worst"] == pytest.approx(2.0)
    assert near["allowed"] == pytest.approx(4.05)
    assert (near["from_m"], near["to_m"]) == (0.0, pytest.approx(60.0))
    steep = limits[(limits["row"] == 4) & (limits["limit"] == "grade_limit")].iloc[0]
    assert steep["worst"] == pytest.approx(100 * 0.10 * 38 / np.hypot(6, 38), rel=1e-3)  # slope times the share uphill
    assert by_number(rows)[int(near["row"])].distance(Point(near["x"], near["y"])) < 1e-6
    assert all("Nothing was changed" in finding.text for finding in rows.by_hand.findings)


def test_what_lies_outside_the_field_or_on_ground_kept_free_is_trimmed_and_told():
    pond = box(EAST + 40, NORTH + 40, EAST + 50, NORTH + 60)
    open_ground = MultiPolygon([GROUND.boundary.difference(pond)])
    rows = lay(drawn(line((-20, 50), (120, 50)), numbers=[7], names=["top"]), method="drawn", open_ground=open_ground)
    lengths = dict(zip(rows.frame["row"], rows.frame["length_m"], strict=True))
    assert lengths == {7: pytest.approx(50.0), 8: pytest.approx(40.0)}
    assert rows.frame.set_index("row")["name"].to_dict() == {7: "top", 8: ""}
    (told,) = [f for f in rows.by_hand.findings if "trimmed" in f.text]
    assert told.where == "inputs.rows, row 7 'top'"
    assert told.text.startswith("50.00 m of 140.0 m")


@pytest.mark.parametrize("method", ["contour", "straight", "guide"])
def test_a_kept_row_stays_to_the_bit_and_the_field_is_filled_around_it_within_the_limits(method):
    rows = lay(drawn(BENT, numbers=[12]), method=method)
    kept = rows.frame[rows.frame["by_hand"]]
    assert list(kept["row"]) == [12]
    assert same(kept.geometry.iloc[0], BENT)
    others = rows.frame[~rows.frame["by_hand"]].geometry
    assert others.distance(BENT).min() >= 0.9 * 4.5 - 1e-6
    assert rows.frame["length_m"].sum() * 4.5 / 1e4 > 0.9, "the rest of the field is filled"
    assert rows.frame["row"].is_unique


def test_rows_on_the_edge_of_ground_kept_free_come_back_unchanged_though_they_end_on_it():
    rows = lay(as_given(earlier()), method="drawn")
    assert all(same(row, earlier().frame.geometry[k]) for k, row in enumerate(rows.frame.geometry))


def test_numbers_and_names_stay_with_their_rows_and_a_deleted_number_does_not_come_back():
    frame = earlier().frame
    lines, numbers = list(frame.geometry), list(frame["row"])
    del lines[4], numbers[4]
    moved = shapely.affinity.translate(lines[7], 0, 0.4)
    lines[7] = moved
    new = line((20, 1), (60, 1))
    rows = lay(drawn(*lines, new, numbers=[*numbers, 0], names=[*[""] * len(lines), "hedge"]), method="drawn")
    got = by_number(rows)
    assert same(got[numbers[7]], moved)
    assert all(same(got[n], one) for n, one in zip(numbers, lines, strict=True))
    assert 5 not in got
    assert same(got[max(numbers) + 1], new)
    assert rows.frame.loc[rows.frame["name"] == "hedge", "row"].tolist() == [max(numbers) + 1]
    told = {int(n) for text in [*rows.frame["up_rows"], *rows.frame["down_rows"]] for n in text.split(",") if n}
    assert told <= set(got), "neighbours are told by the numbers that rows have"


def test_laying_anew_inside_a_polygon_leaves_the_rows_outside_as_they_were_to_the_bit():
    hole = MultiPolygon([box(EAST + 30, NORTH + 30, EAST + 70, NORTH + 60)])
    rows = lay(as_given(earlier(), only_where=hole), spacing_m=4.5)
    before, after = by_number(earlier()), by_number(rows)
    untouched = [n for n, row in before.items() if not row.intersects(hole)]
    assert len(untouched) > 5
    assert all(after[n].equals_exact(before[n], 0) for n in untouched)
    outside = shapely.difference(shapely.union_all([*before.values()]), hole.buffer(0.001))
    assert shapely.difference(outside, shapely.buffer(shapely.union_all([*after.values()]), 1e-6)).length < 1e-6
    assert set(before) <= set(after)


def test_parted_rows_are_joined_with_the_new_ones_and_keep_their_number():
    hole = MultiPolygon([box(EAST + 30, NORTH + 30, EAST + 70, NORTH + 60)])
    rows = lay(as_given(earlier(), only_where=hole), spacing_m=4.5)
    assert len(rows.frame) == len(earlier().frame)
    assert np.allclose(rows.frame["length_m"], 100, atol=0.5)


def test_guides_say_how_much_of_them_is_followed_and_why_not_more():
    guide = line((0, 50), (60, 50), (75, 62), (100, 62))  # 12 m up in 15: 6 % on this ground
    rows = lay_rows(GROUND, LAND, RowRule(thorough=False), guides=[guide])
    (one,) = rows.by_hand.guides.itertuples()
    assert 0 < one.followed_m < one.length_m
    assert "steeper than rows.max_grade_pct" in one.why_not
    assert str(round(one.length_m)) in rows.by_hand.findings[0].text


def test_rows_outside_the_field_and_a_polygon_beside_it_are_refused():
    with pytest.raises(LayoutError, match=r"inputs\.rows"):
        lay(drawn(line((500, 500), (600, 500))), method="drawn")
    away = MultiPolygon([box(EAST + 500, NORTH, EAST + 600, NORTH + 10)])
    with pytest.raises(LayoutError, match=r"rows\.only_where"):
        lay(drawn(BENT, only_where=away))


def _scrawl(rng):
    """Lines as a slipping hand may draw them: crossing, doubled, there and back, rings, specks, spirals."""
    turn = np.linspace(0, 2 * np.pi, 40)
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    circle[-1] = circle[0]
    middle = rng.uniform(20, 80, 2)
    y = rng.uniform(0, 100)
    return [
        LineString(xy + np.array([EAST, NORTH]))
        for xy in (
            rng.uniform(-10, 110, (8, 2)),
            middle + rng.uniform(0.1, 15) * circle,
            middle + 0.05 * circle,
            middle + 12 * np.column_stack([np.sin(turn), np.sin(2 * turn)]),
            np.array([[0, y], [100, y], [0, y + rng.uniform(0, 1e-3)]]),
            np.array([[0, y], [100, y]]),
            middle + np.cumsum(rng.normal(0, 0.3, (100, 2)), axis=0),
            np.column_stack([np.linspace(0, 40, 9), np.tile([0, 8], 5)[:9]]) + middle - 20,
            middle + turn[:, None] * circle,
            np.array([middle, middle + 0.02]),
        )
    ]


@pytest.mark.parametrize("seed", range(3))
def test_any_drawing_gets_beds_that_add_up_with_the_rest_to_the_field(seed):
    rng = np.random.default_rng(seed)
    lines = _scrawl(rng)
    rng.shuffle(lines)
    rows = lay(drawn(*lines[: rng.integers(3, 11)]), method="drawn")
    nothing = UNPLANTED.empty(UTM)
    ground = Ground(GROUND.boundary, GROUND.plantable, nothing)
    beds = lay_beds(rows, ground.plantable, BedRule())
    left = leftover_ground(ground, beds, rows.cut, spacing_m=4.5)
    strips = [*beds.tree_beds.geometry, *beds.beds.geometry, *beds.paths.geometry]
    assert all(strip.is_valid for strip in strips)
    assert sum(s.area for s in strips) + left.area.sum() == pytest.approx(1e4, abs=0.5)


def test_every_limit_that_is_told_has_words_and_a_look():
    layer = next(one for one in hand_layers(lay(drawn(BENT), method="drawn")) if one.spec.name == "row_limits")
    assert set(layer.style.looks) == set(WORDS)
