"""Small steps of placing, each worked by hand: lines, places, spots, who stands instead of whom, which way roots point."""

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pytest
import shapely
from builders import UTM
from plants_builders import crop, stand

from geoagro.errors import DesignError, LayoutError
from geoagro.planar.polylines import Polylines
from geoagro.planar.zones import Zones
from geoagro.plants import root_harm
from geoagro.plants.advice import recipe_warnings
from geoagro.plants.auto_direction import _first_best, _Group, _meeting, _middles
from geoagro.plants.blocks.tallies import Turned
from geoagro.plants.crowding import crowding_table
from geoagro.plants.directions import azimuths, beside_azimuths
from geoagro.plants.instructions import centimetres
from geoagro.plants.kinds import Kind, Stand, moments, months_of_rounds
from geoagro.plants.lines import Lines, lay_lines, lay_places
from geoagro.plants.root_report import _judges
from geoagro.plants.root_shares import Link, states, worst_moment
from geoagro.plants.sheet_words import sides_of
from geoagro.plants.spots import FACINGS, Spots, bearing_deg, facing_of, join_spots, no_spots, toward
from geoagro.plants.strips import Strips
from geoagro.plants.takeover import take_over
from geoagro.plants.timing import Life
from geoagro.values.grid import Grid
from geoagro.values.recipe import Planting
from geoagro.values.rules.bed_kinds import TREE, VEGETABLE
from geoagro.values.timeline import Standing, Stay


def strips(*polygons, axis=((0.0, 0.0), (10.0, 0.0)), side=1, width=2.0):
    n = len(polygons)
    kind = np.repeat(np.array([VEGETABLE.code if side else TREE.code], dtype=object), n)
    names = np.array([f"R{k + 1:03d}-U1" for k in range(n)], dtype=object)
    axes = Polylines.read(np.array([shapely.LineString(axis)] * n, dtype=object))
    ones, shapes = np.ones(n, dtype=np.int64), np.array(polygons, dtype=object)
    return Strips(names, ones, kind, side * ones, ones, np.zeros(n, bool), width * ones, shapes, axes)


def planting(**given):
    return Planting(**({"crop": "a", "bed": "vegetable"} | given))


def lines(*lengths, number=None):
    shape = Polylines.read(
        np.array([shapely.LineString([(0, k), (w, k)]) for k, w in enumerate(lengths)], dtype=object)
    )
    count = np.zeros(len(lengths), dtype=np.int64)
    return Lines(
        shape, count, np.arange(1, len(lengths) + 1) if number is None else np.array(number), 1.0 * count, 1.0 * count
    )


# --- lines and places --------------------------------------------------------------------------------------------


def test_places_follow_the_formula_with_margin_offset_and_every_second_line_shifted():
    """40 m: .2 + .1 first, room 39.5 = 56.4 steps of .7, so 57; shifted by .35: 39.15 = 55.9 steps, 56 places."""
    rule = planting(end_margin_m=0.2, first_offset_m=0.1, stagger=True)
    found = lay_places(rule, lines(40.0, 40.0), 0.7)
    assert np.bincount(found.line).tolist() == [57, 56]
    assert found.station_m[[0, 1, 56]] == pytest.approx([0.3, 1.0, 39.5])
    assert found.station_m[[57, 58, 112]] == pytest.approx([0.65, 1.35, 39.15])
    assert found.place.tolist() == [*range(57), *range(56)]


def test_half_a_step_is_kept_free_at_both_ends_where_no_margin_is_given():
    found = lay_places(planting(), lines(3.0), 1.0)
    assert found.station_m.tolist() == [0.5, 1.5, 2.5]


def test_a_line_as_long_as_its_margins_holds_one_place_and_a_shorter_one_none():
    found = lay_places(planting(end_margin_m=0.5), lines(1.0, 0.99, 0.5, 2.0), 1.0)
    assert np.bincount(found.line, minlength=4).tolist() == [1, 0, 0, 2]


def test_a_step_that_fits_but_for_rounding_fits():
    found = lay_places(planting(end_margin_m=0.0), lines(0.3), 0.1)  # .3 / .1 is a little less than 3
    assert found.station_m == pytest.approx([0.0, 0.1, 0.2, 0.3])
    assert found.station_m.max() <= 0.3


def test_lines_lie_from_the_upslope_side_on_as_far_from_the_middle_as_asked():
    found = lay_lines(
        planting(offsets_m=(-0.5, 0.25)), strips(shapely.box(0, -1, 10, 1), shapely.box(0, -1, 10, 1)), np.array([0, 1])
    )
    assert found.bed.tolist() == [0, 0, 1, 1] and found.number.tolist() == [1, 2, 1, 2]
    assert found.offset_m.tolist() == [0.25, -0.5, 0.25, -0.5]
    y = [line.coords[0][1] for line in found.shape.geometries()]
    assert y == pytest.approx([0.25, -0.5, 0.25, -0.5])  # a row running east has its upslope side in the north
    assert found.start_m.tolist() == [0.0] * 4


def test_a_line_through_a_cut_bed_falls_into_pieces_counted_from_the_first_ones_start():
    bed = shapely.MultiPolygon([shapely.box(1, -1, 4, 1), shapely.box(6, -1, 9.5, 0.3)])
    found = lay_lines(planting(offsets_m=(0.5, 0.0)), strips(bed, shapely.box(0, -1, 10, 1)), np.array([0, 1]))
    # the line at .5 meets the first part only; that in the middle both, 5 m from start to start
    assert found.bed.tolist() == [0, 0, 0, 1, 1]
    assert found.number.tolist() == [1, 2, 2, 1, 2]
    assert found.start_m == pytest.approx([0, 0, 5, 0, 0])
    assert found.shape.lengths == pytest.approx([3, 3, 3.5, 10, 10])


def test_offsets_may_reach_the_beds_edge_and_no_farther():
    bed = strips(shapely.box(0, -1, 10, 1))
    assert lay_lines(planting(offsets_m=(1.0, -1.0)), bed, np.array([0])).offset_m.tolist() == [1.0, -1.0]
    with pytest.raises(DesignError, match=r"2\.00 m wide. Keep offsets within ±1\.00 m"):
        lay_lines(planting(offsets_m=(0.0, -1.01)), bed, np.array([0]))


# --- spots -------------------------------------------------------------------------------------------------------


def spots(station, line=1, bed=0, *, along=90.0, offset=0.0, xy=None, code=0):
    n = len(station)
    whole, real = np.ones(n, dtype=np.int64), np.ones(n)
    at = np.column_stack([station, np.zeros(n)]) if xy is None else np.asarray(xy, dtype=float)
    return Spots(
        bed * whole, line * whole, whole, np.asarray(station, dtype=float), offset * real, at,
        along * real, np.full(n, np.nan), 0 * whole, code * whole,
    )  # fmt: skip


def test_spots_are_joined_chosen_and_turned_in_order():
    both = join_spots([spots([1.0, 2.0]), spots([3.0], line=2)])
    assert len(both) == 3 and len(no_spots()) == 0
    assert both.where([2, 0]).station_m.tolist() == [3.0, 1.0]
    assert both.where(both.line == 1).station_m.tolist() == [1.0, 2.0]
    turned = both.turned(np.array([1.0, 2.0, 3.0]), np.array([4, 5, 6]))
    assert (turned.bearing_deg.tolist(), turned.facing.tolist()) == ([1, 2, 3], [4, 5, 6])


def test_bearings_and_directions_are_each_others_inverse():
    vectors = np.array([[0.0, 2.0], [3.0, 3.0], [-1.0, 0.0]])
    assert bearing_deg(vectors).tolist() == [0.0, 45.0, 270.0]
    assert toward(np.array([0.0, 90.0, 210.0])) == pytest.approx(np.array([[0, 1], [1, 0], [-0.5, -np.sqrt(0.75)]]))
    assert [facing_of(word) for word in FACINGS] == list(range(7))
    assert FACINGS[facing_of(33.0)] == "bearing"


# --- which way roots point ---------------------------------------------------------------------------------------


def plan(side=1, aspect=None, **changes):
    bed = strips(shapely.box(0, -1, 10, 1), side=side)
    return SimpleNamespace(strips=bed, terrain=SimpleNamespace(aspect_deg=aspect), **changes)


def facing(direction, *, side=1, along=90.0, offset=0.0, aspect=None, xy=None):
    where = spots([1.0], along=along, offset=offset, xy=xy)
    return float(azimuths(planting(direction=direction), direction, where, plan(side, aspect))[0])


def test_roots_point_along_the_row_against_it_or_where_the_design_says():
    assert np.isnan(facing("all_round")) and np.isnan(facing("auto"))
    assert (facing("along", along=350.0), facing("against", along=350.0)) == (350.0, 170.0)
    assert facing(33.0) == 33.0


@pytest.mark.parametrize(
    ("side", "offset", "expected"), [(1, -0.2, 260.0), (-1, 0.2, 80.0), (0, 0.2, 260.0), (0, -0.2, 80.0)]
)
def test_away_is_square_to_the_row_on_the_beds_side_or_on_the_lines_own(side, offset, expected):
    """A row that bears 350 has its upslope side on the left, at 260."""
    assert facing("away", side=side, along=350.0, offset=offset) == expected


def test_away_from_the_middle_of_a_tree_bed_is_refused():
    with pytest.raises(DesignError, match="direction away needs a side"):
        facing("away", side=0)


def test_downhill_follows_the_ground_and_uphill_is_opposite():
    """Aspects 350 and 10 in neighbouring cells: north between them, not south."""
    aspect = Grid(np.array([[350.0, 10.0], [350.0, 10.0]]), 0.0, 2.0, 1.0, UTM)
    middle = [(1.0, 1.0)]
    assert facing("downhill", aspect=aspect, xy=middle) % 360 == pytest.approx(0.0, abs=1e-9)
    assert facing("uphill", aspect=aspect, xy=middle) == pytest.approx(180.0)
    east = Grid(np.full((2, 2), 90.0), 0.0, 2.0, 1.0, UTM)
    assert (facing("downhill", aspect=east, xy=middle), facing("uphill", aspect=east, xy=middle)) == pytest.approx(
        (90, 270)
    )


def test_on_level_ground_the_rows_upslope_side_counts_as_uphill():
    level = Grid(np.array([[0.0, 180.0], [0.0, 180.0]]), 0.0, 2.0, 1.0, UTM)  # cancels in the middle
    unknown = Grid(np.full((2, 2), np.nan), 0.0, 2.0, 1.0, UTM)
    for aspect in (level, unknown):
        assert facing("downhill", along=300.0, aspect=aspect, xy=[(1.0, 1.0)]) == pytest.approx(30.0)
        assert facing("uphill", along=300.0, aspect=aspect, xy=[(1.0, 1.0)]) == pytest.approx(210.0)
    with pytest.raises(LayoutError, match="needs heights or slope with aspect"):
        facing("downhill")


@pytest.mark.parametrize(
    ("where", "expected"),
    [("along", 300), ("against", 120), ("upslope", 210), ("downslope", 30), ("ahead", 100), ("behind", 280)],
)
def test_a_companion_stands_by_the_row_or_by_its_stems_roots(where, expected):
    stem = spots([1.0], along=300.0).turned(np.array([100.0]), np.array([6]))
    assert beside_azimuths(where, stem).tolist() == [expected]
    turned = spots([1.0], along=250.0).turned(np.array([350.0]), np.array([6]))
    assert 0 <= beside_azimuths(where, turned)[0] < 360


# --- one crop instead of another ---------------------------------------------------------------------------------

HEDGE = {"a": crop(spacing_m=0.4), "b": crop(spacing_m=2.0, spacing_range_m=(1.0, 3.0)), "c": crop()}


def taken_over(found, **rule):
    plantings = [planting(crop="a"), planting(crop="b", instead_of="a", **rule)]
    tallies = []
    given = {0: found, 1: no_spots()}
    bed = SimpleNamespace(
        plantings=plantings, crops=HEDGE, strips=strips(shapely.box(0, -1, 10, 1)), reach={}, terrain=None,
        counted=lambda bed: np.ones(len(bed), dtype=bool),
    )  # fmt: skip
    take_over(bed, given, tallies)
    return given, tallies[0]


def test_places_are_thinned_line_by_line_to_the_least_multiple_that_keeps_the_spacing():
    """Steps of 1 m stay; of .4 m every third place stays (1.2 m); a line of one place keeps it; the least step counts."""
    parts = [
        spots([0.5, 1.5, 2.5, 3.5]),
        spots([0.0, 0.4, 0.8, 1.2], line=2),
        spots([7.0], line=3),
        spots([1.0, 1.6, 3.0, 3.6], bed=1, line=3),
    ]
    given, tally = taken_over(join_spots(parts), spacing_m=1.0)
    kept = given[1]
    assert len(given[0]) == 0
    assert kept.station_m.tolist() == [0.5, 1.5, 2.5, 3.5, 0.0, 1.2, 7.0, 1.0, 3.0]
    assert kept.bed.tolist() == [0] * 7 + [1] * 2
    assert kept.line.tolist() == [1] * 4 + [2] * 2 + [3] + [3] * 2
    assert (tally.places, tally.least_m, tally.asked_m) == (9, np.inf, 1.0)
    assert tally.told() is None


def test_places_taken_as_they_are_tell_how_near_they_stand():
    given, tally = taken_over(join_spots([spots([5.0, 4.2]), spots([1.0, 1.9], line=2)]))
    assert given[1].station_m.tolist() == [4.2, 5.0, 1.0, 1.9]  # in the order of the line
    assert tally.places == 4 and tally.least_m == pytest.approx(0.8)
    assert "0.80 m apart" in str(tally.told().text) and "1 m or more" in str(tally.told().text)
    wide = taken_over(spots([1.0, 2.0, 3.0]))[1]
    assert wide.least_m == 1.0 and wide.told() is None  # as near as asked, no nearer
    assert taken_over(spots([1.0]))[1].least_m == np.inf
    added = tally.more(wide)
    assert (added.places, added.least_m) == (7, pytest.approx(0.8))


def test_only_places_of_that_crop_where_the_address_holds_are_taken():
    """Of two crops in turn the first is replaced, east of 2 m only."""
    plantings = [planting(crop=None, sequence=("a", "c")), planting(crop="b", instead_of="a")]
    east = SimpleNamespace(holds=lambda names, bed, xy: xy[:, 0] > 2)
    bed = SimpleNamespace(
        plantings=plantings, crops=HEDGE, strips=strips(shapely.box(0, -1, 10, 1)), reach={1: east}, terrain=None,
        counted=lambda bed: np.ones(len(bed), dtype=bool),
    )  # fmt: skip
    turns = replace(spots([1.0, 2.0, 3.0, 4.0]), code=np.array([0, 1, 0, 1]))
    given = {0: turns, 1: no_spots()}
    take_over(bed, given, [])
    assert (given[0].station_m.tolist(), given[1].station_m.tolist()) == ([1, 2, 4], [3])
    assert given[1].code.tolist() == [0]
    plain = [planting(crop="c"), planting(crop="b", instead_of="c")]
    bed.plantings, bed.reach, bed.crops = plain, {}, HEDGE | {"b": crop(spacing_m=2.0)}
    given, tallies = {0: spots([1.0, 2.0]), 1: no_spots()}, []
    take_over(bed, given, tallies)
    assert tallies[0].asked_m == 2.0  # its own spacing where no range is known


def test_none_to_stand_instead_of_is_told_and_a_wrong_name_refused_with_the_nearest():
    _, tally = taken_over(no_spots())
    assert "No a stands there" in str(tally.told().text)
    wrong = [planting(crop="apple", bed="vegetable"), planting(crop="b", instead_of="appel")]
    with pytest.raises(DesignError, match=r"there are apple\).*Did you mean apple\?"):
        take_over(SimpleNamespace(plantings=wrong, reach={}), {0: no_spots(), 1: no_spots()}, [])
    other_bed = [planting(crop="a", bed="tree"), planting(crop="b", instead_of="a")]
    with pytest.raises(DesignError, match=r"there are none\)\.$"):
        take_over(SimpleNamespace(plantings=other_bed, reach={}), {0: no_spots(), 1: no_spots()}, [])


# --- advice ------------------------------------------------------------------------------------------------------


def warned(rule, **changes):
    crops = {"a": crop(spacing_range_m=(0.3, 0.6), **changes), "b": crop(spacing_range_m=(1.0, 2.0))}
    return [str(f.text) for f in recipe_warnings([planting(**rule)], crops)]


@pytest.mark.parametrize(("spacing", "told"), [(0.29, True), (0.3, False), (0.6, False), (0.61, True)])
def test_a_distance_outside_the_handbooks_range_is_warned_of(spacing, told):
    assert bool(warned({"spacing_m": spacing})) is told


def test_a_crop_of_a_sequence_stands_as_far_apart_as_its_turns_come():
    """Four places of .5 m, a has two: 1 m apart, b 2 m; farther than the range is no fault where others stand between."""
    assert warned({"crop": None, "sequence": ("a", "b", "a", "-"), "spacing_m": 0.5}) == []
    (text,) = warned({"crop": None, "sequence": ("a", "b", "b", "-"), "spacing_m": 0.4})
    assert text.startswith("b stands 0.80 m apart in the line; handbooks give 1 to 2 m (no source given)")
    assert warned({"beside": {"planting": "x", "distance_m": 0.1}}) == []


def test_a_tree_belongs_into_a_tree_bed():
    (text,) = warned({"spacing_m": 0.5}, habit="tree")
    assert text.startswith("a is a tree")
    assert warned({"spacing_m": 0.5, "bed": "tree"}, habit="tree") == []
    assert warned({"spacing_m": 0.5}, habit="shrub") == []


# --- kinds and months --------------------------------------------------------------------------------------------


def stay(plant, ripe, end, *, life_end=None, round_=1):
    return Stay(round_, plant, ripe, end, end if life_end is None else life_end)


def kind(code="a", *stays, full=10.0, harvest="pick", stratum="low", crown=0.5):
    stays = stays or (stay(0, 30, 40),)
    first = stays[0]
    life = Life(first.plant_week, first.harvest_from_week, first.end_week)
    return Kind(
        "vegetable", "m", code, code, life, planting(crop=code), stratum, "herb", harvest, 0.5, 360.0, 120.0, crown, 1.0,
        full, Standing("vegetable", "m", code, code, 1, stays),
    )  # fmt: skip


def test_months_run_one_by_one_and_then_a_year_apart_until_all_are_grown():
    """Grown in week 104, the end of month 24 (23.9 rounded up); harvested before it is grown, its harvest counts."""
    months, weeks = moments([kind(full=104.0), kind("b", stay(0, 30, 200), full=104.0)], 6)
    assert months.tolist() == [1, 2, 3, 4, 5, 6, 18, 30]
    assert weeks[[0, 7]] == pytest.approx([0.5 * 365.25 / 84, 29.5 * 365.25 / 84])
    assert moments([kind(full=104.0)], 12)[0].tolist() == list(range(1, 13))  # gone in week 40
    assert moments([], 3)[0].tolist() == [1, 2, 3]


def test_months_of_repeats_end_with_the_last_of_them():
    twice = kind("a", stay(0, 8, 10), stay(20, 28, 30, round_=2))
    assert months_of_rounds([kind(), twice]) == 7  # 30 weeks are 6.9 months
    assert months_of_rounds([kind()]) == 0


def test_a_plant_has_a_size_only_while_it_stands():
    herb = kind(full=20.0)
    assert [herb.size(week) for week in (-1, 0, 5, 40, 41)] == [0, 0, 0.25, 1, 0]
    assert [herb.crown(week) for week in (5, 20, 41)] == [0.125, 0.5, 0]
    assert herb.meets(kind("b", stay(39, 50, 60))) and not herb.meets(kind("b", stay(41, 50, 60)))


def test_states_are_the_sizes_that_both_have_at_once():
    def first(week):
        return min(week, 2.0)

    def second(week):
        return 0.0 if week > 3 else 1.0

    found = [(a, b, at.tolist()) for a, b, at in states(first, second, np.array([0.0, 1.0, 2.0, 3.0, 4.0]))]
    assert found == [(1.0, 1.0, [1]), (2.0, 1.0, [2, 3])]


def test_the_worst_moment_is_the_first_highest_that_counts():
    assert worst_moment(np.array([0.1, 0.9, 0.5, 0.5]), [True, False, True, True]) == 2
    assert worst_moment(np.array([np.nan, 0.0]), [True, True]) == 0


def test_crowns_that_meet_are_counted_with_the_share_of_the_lens():
    """Radii .5 and .3, stems .6 apart: the lens of two circles by an independent library. Of three plants one stands alone."""
    x = np.array([0.0, 10.0, 0.6])
    pair = Stand((kind("a"), kind("b", crown=0.3)), np.array([0, 0, 1]), x, np.zeros(3), np.full(3, np.nan))
    table = crowding_table(pair, np.arange(3), np.array([1, 2]), np.array([5.0, 12.0]))
    circles = [shapely.Point(at, 0).buffer(radius, quad_segs=2000) for at, radius in ((0, 0.5), (0.6, 0.3))]
    lens = shapely.intersection(*circles).area
    one, other = table.to_dict("records")
    assert (one["crop"], one["with_crop"]) == ("b", "a")  # all plants of b, half of those of a
    assert [v for v in one.values() if isinstance(v, float)] == pytest.approx(
        [100.0, 100 * lens / (np.pi * 0.09)], rel=1e-5
    )
    assert [v for v in other.values() if isinstance(v, float)] == pytest.approx(
        [50.0, 50 * lens / (np.pi / 4)], rel=1e-5
    )
    assert [row["from_month"] for row in (one, other)] == [2, 2]  # half grown, crowns of .25 and .15 m don't reach
    high = Stand((kind("a"), kind("b", crown=0.3, stratum="high")), pair.kind, x, np.zeros(3), pair.bearing_deg)
    assert len(crowding_table(high, np.arange(3), np.array([1]), np.array([12.0]))) == 0


@pytest.mark.parametrize(("living", "judged"), [(1, 1), (400, 400), (401, 201), (1201, 301)])
def test_at_most_four_hundred_living_plants_judge(living, judged):
    alive = np.ones((living + 5, 1), dtype=bool)
    alive[living:] = False
    shares = SimpleNamespace(crop=np.zeros(living + 5, dtype=int), alive=alive)
    assert len(_judges(SimpleNamespace(shares=shares), 0, 0)) == judged


# --- lifting -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("other", "stands_on"),
    [
        ((0, 30, 40), True),  # unripe and long to stand
        ((0, 25, 40), True),
        ((0, 24, 40), False),  # ripe 4 weeks after the lifting: lifted with it
        ((0, 30, 24), False),  # planted over 4 weeks after
        ((0, 10, 106), True),  # bears already, but lasts for more than two years
        ((0, 10, 104), False),
    ],
)
def test_what_is_ripe_soon_after_the_lifting_is_lifted_with_it_but_not_what_lasts(other, stands_on):
    """The first is lifted in weeks 18 to 22, in the middle 20."""
    dug = kind("dug", stay(2, 18, 22), harvest="uproot")
    found = root_harm._lifting(kind("other", stay(*other)), dug, None)
    assert (found is not None) is stands_on
    if found:
        assert (found.first_week, found.usual_week, found.grown_weeks, found.stands_to) == (18.0, 20.0, 18.0, other[2])


def test_what_lasts_is_told_by_its_time_on_the_ground_and_not_by_the_week():
    """Bears already in week 100; from week 50 to 150 it stands 100 weeks, to 155 one more than two years."""
    assert not root_harm._stands_on(stay(50, 60, 150), 100.0)
    assert root_harm._stands_on(stay(50, 60, 155), 100.0)
    assert not root_harm._stands_on(stay(50, 60, 104, life_end=155), 100.0)  # gone four weeks later


def test_the_latest_round_in_which_something_is_harmed_is_taken():
    dug = kind("dug", stay(0, 18, 22), stay(50, 68, 72, round_=2), stay(150, 168, 172, round_=3), harvest="uproot")
    found = root_harm._lifting(kind("other", stay(0, 90, 100)), dug, None)
    assert (found.first_week, found.usual_week, found.grown_weeks) == (68.0, 70.0, 20.0)
    assert root_harm._lifting(kind("other", stay(70, 90, 100)), replace(dug, standing=Standing("", "", "", "dug", 1, (stay(50, 68, 72),))), None) is None  # fmt: skip


# --- small words and dates ---------------------------------------------------------------------------------------


def test_lengths_for_a_tape_are_told_to_a_millimetre():
    assert [str(centimetres(m)) for m in (1.5, 0.255, 0.2, 0.0333)] == ["150 cm", "25.5 cm", "20 cm", "3.3 cm"]


def test_sides_are_read_from_the_names_of_beds():
    assert sides_of(["R001-U1", "R002-D2", "R003-T"]) == {"U", "D"}


def test_directions_tried_are_told_from_the_commonest_on():
    """Lines chose along, against, against; they share .2, .1 and .3, .2 on average: 20 %."""
    found = Turned("row", ("along", "against"), np.array([[0.2, 0.5, 0.5], [0.4, 0.1, 0.3]]), np.array([0, 1, 1]))
    text = str(found.told().text)
    assert "against on 2 of 3 lines" in text and "along on 1 of 3 lines" in text
    assert text.index("against on 2") < text.index("along on 1")
    assert "use 20 % of its root zones (with all lines along 40 %, against 27 %)" in text
    assert found.more(found).mean.shape == (2, 6)


def test_plants_carry_dates_counted_in_weeks_and_the_week_of_their_thinning():
    """40 plants; half stay after year 1, a quarter after year 2: every second goes in week 52, every fourth in week 104."""
    steps = ({"year": 1, "keep_pct": 50}, {"year": 2, "keep_pct": 25})
    plants, _ = stand([{"crop": "a", "thin": steps, "week": 3}], {"a": crop(harvest_weeks=(200, 300))})
    last = plants.frame["harvest_to_week"].to_numpy()
    assert sorted({int(week) for week in last}) == [3 + 52, 3 + 104, 303]
    assert [int((last == week).sum()) for week in (55, 107, 303)] == [20, 10, 10]
    assert last[:5].tolist() == [55, 107, 55, 303, 55]  # counted on by the row's number, 1
    assert plants.frame["plant_date"].isna().all()


def test_dates_are_weeks_after_the_first_day():
    from geoagro.plants.plant_frame import _dates  # noqa: PLC0415

    weeks = {
        "plant_week": np.array([0, 2]),
        "harvest_from_week": np.array([1, 3]),
        "harvest_to_week": np.array([4, 52]),
    }
    found = _dates(weeks, date(2027, 3, 1))
    assert found["plant_date"].astype("datetime64[D]").tolist() == [date(2027, 3, 1), date(2027, 3, 15)]
    assert found["harvest_to_date"].astype("datetime64[D]").tolist() == [date(2027, 3, 29), date(2028, 2, 28)]


# --- directions tried, harm told ---------------------------------------------------------------------------------


def test_lines_are_judged_by_sixteen_plants_in_their_middle_and_of_many_lines_by_four():
    twenty = _middles(np.repeat([7, 9], [20, 3]))
    assert twenty.tolist() == [*range(2, 18), 20, 21, 22]
    many = _middles(np.repeat(np.arange(1501), 9))  # 6,000 over 1,501 lines leave fewer than four
    assert len(many) == 1501 * 3 and many[:3].tolist() == [3, 4, 5]  # of nine the middle one and one to each side
    some = _middles(np.repeat(np.arange(750), 8))  # 6,000 / 750
    assert len(some) == 6000
    assert len(_middles(np.zeros(0, dtype=int))) == 0


def test_of_directions_within_half_a_per_cent_the_first_is_taken():
    mean = np.array([[0.205, 0.206, 0.3], [0.2, 0.2, 0.31], [0.5, 0.1, 0.3]])
    assert _first_best(mean).tolist() == [0, 2, 0]


def test_two_groups_meet_at_the_size_they_have_when_the_first_is_harvested():
    """Planted in weeks 0 and 4, harvested to 20 and 30, full after 40 and 32: half grown both when the first goes."""

    def group(x, plant, last, full):
        n = len(x)
        disc = Zones(np.array(x), np.zeros(n), np.ones(n), np.full(n, np.nan), np.full(n, 360.0))
        return _Group(disc, Life(plant, plant + 5, last), full)

    mine, theirs = group([0.0, 5.0], 0, 20, 40.0), group([0.9, 1.1, 5.0], 4, 30, 32.0)
    i, a, b = _meeting(mine, theirs)
    assert (i.tolist(), a.x.tolist(), b.x.tolist()) == ([0], [0.0], [0.9])  # 1.1 m is out of reach, 5.0 is itself
    assert (a.reach.tolist(), b.reach.tolist()) == ([0.5], [0.5])
    assert len(_meeting(mine, group([0.1], 20, 30, 5.0))[0]) == 0  # planted when the other goes
    assert (mine.size(-1), mine.size(10), mine.size(99)) == (0.0, 0.25, 1.0)


def harm_roots(threshold=0.25):
    pair = Stand((kind("apple"), kind("yam")), np.array([0, 0, 1]), np.zeros(3), np.zeros(3), np.full(3, np.nan))
    shares = SimpleNamespace(subject=np.arange(3), links=(), crops=("apple", "yam"))
    return SimpleNamespace(stand=pair, shares=shares, names={"apple": "apple", "yam": "yam"}, threshold=threshold)


def harmed(monkeypatch, share, **rules):
    monkeypatch.setattr(root_harm, "_dug_up", lambda *args, **asked: np.array(share))
    monkeypatch.setattr(root_harm, "_best", lambda *args: "leave it")
    lifting = root_harm._Lifting(SimpleNamespace(a=0, b=1), 18.0, 20.4, 16.6, 40)
    return root_harm._harm(harm_roots(**rules), ("apple", "yam"), [lifting])


def test_a_conflict_is_where_a_plant_reaches_the_threshold_and_the_mean_half_of_it(monkeypatch):
    """Of two apples; the yam itself doesn't count."""
    found = harmed(monkeypatch, [0.25, 0.05, 0.9])
    assert (found.dug, found.other, found.week, found.advice) == ("yam", "apple", 20, "leave it")
    assert found.who.tolist() == [0, 2] and found.share.tolist() == [0.25, 0.9]
    assert (
        "Lifting yam about 17 weeks after it is planted (week 20) digs up 15 % of the root zone of apple" in found.text
    )
    assert "which stands to week 40; leave it." in found.text
    assert harmed(monkeypatch, [0.24, 0.24, 0.0]) is None  # none reaches it
    assert harmed(monkeypatch, [0.25, 0.0, 0.0]) is not None  # .125 is half of .25
    assert harmed(monkeypatch, [0.24, 0.0, 0.9]) is None


def advised(monkeypatch, *tries, mean=0.6):
    monkeypatch.setattr(root_harm, "_tries", lambda *args: iter(tries))
    return str(root_harm._best(harm_roots(), ("apple", "yam"), [], (None, mean)))


def test_the_easiest_change_that_leaves_less_than_the_threshold_is_advised(monkeypatch):
    assert advised(monkeypatch, (0.24, "lift early"), (0.1, "move it")) == "lift early and it is 24 %"
    assert advised(monkeypatch, (0.25, "lift early"), (0.1, "move it")) == "move it and it is 10 %"
    both = advised(monkeypatch, (0.4, "lift early"), (0.3, "move it"))
    assert both.startswith("move it and it is 30 %, or grow something there that is cut or picked instead of yam")


def test_a_change_that_gains_less_than_a_tenth_is_none(monkeypatch):
    assert advised(monkeypatch, (0.51, "lift early")).startswith("grow something there")
    assert advised(monkeypatch, (0.49, "lift early")).startswith("lift early and it is 49 %")


def test_plants_are_set_apart_by_the_least_step_that_helps_or_half_a_metre(monkeypatch):
    left = {0.0: 0.6, 0.05: 0.5, 0.1: 0.4, 0.15: 0.2}
    asked = []

    def dug_up(roots, liftings, *, first=False, moved_m=0.0):
        asked.append((first, moved_m))
        return np.full(3, 0.3 if first else left.get(moved_m, 0.26))

    monkeypatch.setattr(root_harm, "_dug_up", dug_up)
    monkeypatch.setattr(root_harm, "_turned", lambda *args: None)
    lifting = root_harm._Lifting(SimpleNamespace(a=0, b=1), 18.0, 20.0, 16.0, 40)
    who = np.array([True, True, False])
    tries = [(after, str(words)) for after, words in root_harm._tries(harm_roots(), ("apple", "yam"), [lifting], who)]
    assert tries == [
        (0.3, "lift yam in its first weeks, from week 18 on,"),
        (0.2, "set the two 15 cm farther apart"),
    ]
    assert asked == [(True, 0.0), (False, 0.05), (False, 0.1), (False, 0.15)]
    left[0.15] = 0.3
    last = list(root_harm._tries(harm_roots(), ("apple", "yam"), [lifting], who))[-1]
    assert (last[0], str(last[1])) == (0.26, "set the two 50 cm farther apart")


def test_what_is_dug_up_is_the_lens_of_both_zones_at_the_week_of_lifting():
    """Grown discs of .5 m, .6 m apart: their lens over one's area; 40 cm farther apart they only touch."""
    a, b = kind("apple", stay(0, 60, 200)), kind("yam", stay(0, 18, 22), harvest="uproot")
    two = Stand((a, b), np.array([0, 1]), np.array([40.0, 40.6]), np.full(2, 7.0), np.full(2, np.nan))
    link = Link(0, 1, np.array([0]), np.array([1]))
    roots = SimpleNamespace(stand=two, shares=SimpleNamespace(subject=np.array([0])))
    lifting = root_harm._lifting(a, b, link)
    circles = [shapely.Point(at, 0).buffer(0.5, quad_segs=500) for at in (0, 0.6)]
    lens = shapely.intersection(*circles).area / (np.pi / 4)
    assert root_harm._dug_up(roots, [lifting])[0] == pytest.approx(lens, abs=0.03)
    assert root_harm._dug_up(roots, [lifting], moved_m=0.4)[0] == pytest.approx(0.0, abs=0.01)
    young = replace(lifting, first_week=5.0)  # half grown both: zones of .25 m don't reach
    assert root_harm._dug_up(roots, [young], first=True)[0] == 0.0
    assert root_harm._dug_up(roots, [replace(lifting, usual_week=300.0)])[0] == 0.0  # nothing stands any more


def test_each_plant_is_listed_once_with_its_worst_harm():
    frame = gpd.GeoDataFrame(
        {"plant": [11, 12, 13], "crop": "apple", "planting": "row", "bed": "b", "x": 0.0, "y": 0.0},
        geometry=shapely.points([0, 1, 2], [0, 0, 0]), crs=UTM,
    )  # fmt: skip
    roots = SimpleNamespace(frame=frame, shares=SimpleNamespace(subject=np.array([2, 0])))

    def harm(dug, who, share):
        return root_harm.Harm(dug, "apple", np.array(who), np.array(share), 20, f"no {dug}", "")

    table = root_harm.conflict_layer(roots, [harm("yam", [0, 1], [0.3, 0.5]), harm("taro", [0], [0.4])])
    assert table["plant"].tolist() == [13, 11]
    assert table["with_crop"].tolist() == ["taro", "yam"]
    assert table["share_pct"].tolist() == pytest.approx([40.0, 50.0])
    assert table["advice"].tolist() == ["no taro", "no yam"]
    assert len(root_harm.conflict_layer(roots, [])) == 0
