"""The table of quality: published scales on a plane, where every figure can be worked out by hand."""

import dataclasses

import numpy as np
import pytest
from landforms import EAST, NORTH, UTM, plane, square, surface, terrain_of
from scipy.ndimage import gaussian_filter
from shapely import LineString, MultiPolygon, Point, box
from shapely.affinity import rotate

from geoagro.rows import quality
from geoagro.rows import quality_table as q
from geoagro.rows.numbering import number_rows
from geoagro.rows.quality_table import weighted_quantiles
from geoagro.values.design import RowRule
from geoagro.values.layout import LAYOUT_QUALITY
from geoagro.values.rows import Lines

D = 4.5
RULE = RowRule()


def parallel(turn_deg=0.0, count=7, gap=D, length=80.0):
    """Straight rows through the middle of the field, turned counter-clockwise from west-east."""
    low = -gap * (count - 1) / 2
    rows = [
        LineString([(EAST - length / 2, NORTH + low + k * gap), (EAST + length / 2, NORTH + low + k * gap)])
        for k in range(count)
    ]
    return [rotate(row, turn_deg, origin=(EAST, NORTH)) for row in rows]


def table_of(rows, *, slope=0.12, field=None, rule=RULE, heights=True):
    terrain = terrain_of(surface(lambda x, y: plane(x, y, slope=slope)))
    if not heights:
        terrain = dataclasses.replace(terrain, judged=None, heights=None, smooth=None)
    numbered = number_rows(Lines(rows, []), heights=terrain.judged, spacing_m=rule.spacing_m, crs=UTM)
    return q.row_quality(numbered, square() if field is None else field, terrain, rule)


def at_grade(grade, slope=0.12):
    """Rows that climb at `grade` on a plane of `slope`: grade = slope x sin(angle to the contour)."""
    return table_of(parallel(np.degrees(np.arcsin(grade / slope))), slope=slope)


def test_the_worked_example_of_the_training_slides_meets_specifications():
    # RUSLE2 training slide set 2, slide 171, and USDA-NRCS practice standard 331, row grade: land slope 12 %, row
    # grade 0.9 %: relative row grade 7.5 %, above the class of 5 %, within that of 10 %; limit min(12 % / 2, 4 %) = 4 %.
    table = at_grade(0.009)
    assert table[q.GRADE_P50] == pytest.approx(0.9)
    assert table.at(q.RELATIVE_GRADE)[5] == 0
    assert table.at(q.RELATIVE_GRADE)[10] == pytest.approx(1)
    assert table[q.LIMIT_BARE] == pytest.approx(1)


@pytest.mark.parametrize(
    ("relative", "within"),
    [(4.9, 5), (5.1, 10), (9.9, 10), (10.1, 25), (24.9, 25), (25.1, 50), (49.9, 50), (50.1, None)],
)
def test_relative_row_grade_falls_into_the_published_classes(relative, within):
    table = at_grade(0.12 * relative / 100)
    for limit in (5, 10, 25, 50):
        expected = 1.0 if within is not None and limit >= within else 0.0
        assert table.at(q.RELATIVE_GRADE)[limit] == pytest.approx(expected)


@pytest.mark.parametrize(
    ("slope", "grade", "bare", "covered"),
    [
        (0.12, 0.039, 1, 1),  # below 4 %
        (0.12, 0.041, 0, 1),  # above 4 %, below half the slope (6 %)
        (0.12, 0.061, 0, 0),  # above half the slope
        (0.06, 0.029, 1, 1),  # below half the slope (3 %), which is the lesser
        (0.06, 0.031, 0, 0),  # above it, though below 4 %
        (0.30, 0.099, 0, 1),  # below 10 %, the cap with cover
        (0.30, 0.101, 0, 0),  # above it, though below half the slope
    ],
)
def test_the_grade_limit_of_tree_rows_is_the_lesser_of_half_the_slope_and_the_cap(slope, grade, bare, covered):
    # USDA-NRCS practice standard 331, row grade: 1/2 of the land slope, at most 4 % (10 % with cover in the alleys)
    table = at_grade(grade, slope)
    assert table[q.LIMIT_BARE] == pytest.approx(bare)
    assert table[q.LIMIT_COVERED] == pytest.approx(covered)


def test_relative_grade_leaves_out_ground_below_two_percent():
    table = table_of(parallel(30), slope=0.015)
    assert np.isnan(table.at(q.RELATIVE_GRADE)[5])


@pytest.mark.parametrize("turn", [0.0, 12.0])
def test_parallel_rows_have_the_spacing_the_length_and_the_cover_of_the_formula(turn):
    gap, count, length = 4.7, 7, 80.0
    table = table_of(parallel(turn, count, gap, length))
    assert table[q.ROWS] == count
    assert table[q.ROW_LENGTH] == pytest.approx(count * length)
    assert table[q.MEAN_ROW_LENGTH] == pytest.approx(length)
    assert table[q.COVERED] == pytest.approx(count * length * D / 90**2)
    assert [table[k] for k in (q.SPACING_P05, q.SPACING_P50, q.SPACING_P95)] == pytest.approx([gap] * 3)
    assert table[q.SPACING_WITHIN] == pytest.approx(1)
    assert table[q.NEARER] == 0
    assert table[q.OPEN_SIDES] == pytest.approx(1 / count)  # one side of the first and one of the last of 7 rows
    assert table[q.ROW_ENDS] == pytest.approx(2 * count / 0.81)
    assert table[q.SHORT_ROWS] == 0
    assert table[q.RADIUS_MIN] > 1e6


@pytest.mark.parametrize(("beyond", "told"), [(1.5, 0.0), (0.9, 1.0)])
def test_a_side_is_open_at_the_edge_only_where_the_field_ends_within_a_neighbour_s_reach(beyond, told):
    count, length = 7, 80.0
    half = 3 * D + beyond * q.NEIGHBOUR_REACH * D
    field = MultiPolygon([box(EAST - length / 2, NORTH - half, EAST + length / 2, NORTH + half)])
    table = table_of(parallel(), field=field)
    assert table[q.OPEN_SIDES] == pytest.approx(1 / count)
    assert table[q.OPEN_SIDES_AT_EDGE] == pytest.approx(told / count)


def test_rows_too_near_are_told():
    rows = parallel(gap=4.0)
    table = table_of(rows)
    assert table[q.NEARER] == pytest.approx(1)
    assert table[q.SPACING_WITHIN] == 0
    assert table.at(q.IN_LIMITS)[4] == 0


def test_legal_share_is_given_at_the_rule_and_at_the_two_published_limits():
    field = MultiPolygon([box(EAST - 40, NORTH - 3.5 * D, EAST + 40, NORTH + 3.5 * D)])
    turned = MultiPolygon([rotate(field.geoms[0], np.degrees(np.arcsin(0.03 / 0.12)), origin=(EAST, NORTH))])
    rows = parallel(np.degrees(np.arcsin(0.03 / 0.12)))  # 3 % everywhere
    table = table_of(rows, field=turned, rule=RowRule(max_grade_pct=6.0))
    assert table.at(q.IN_LIMITS)[2] == 0
    assert table.at(q.IN_LIMITS)[4] == pytest.approx(1)  # 7 rows of 80 m on 7 spacings by 80 m
    assert table.at(q.IN_LIMITS)[6] == pytest.approx(1)
    assert set(table_of(rows, field=turned).at(q.IN_LIMITS)) == {2, 4}


def test_grade_percentiles_weigh_by_length():
    steep = [rotate(row, 90, origin=(EAST, NORTH)) for row in parallel(count=1, length=20)]
    even = [LineString([(EAST - 40, NORTH + 30), (EAST + 40, NORTH + 30)])]
    table = table_of([*steep, *even], slope=0.10)
    assert table[q.GRADE_P50] == pytest.approx(0, abs=1e-9)  # 80 m of 100 m
    assert table[q.GRADE_P95] == pytest.approx(10)
    assert table[q.GRADE_MAX] == pytest.approx(10)
    assert table[q.LIMIT_BARE] == pytest.approx(0.8)


def test_without_heights_lines_on_grade_are_left_out():
    table = table_of(parallel(), heights=False)
    assert not [m.words for m in table if "grade" in m.words]
    assert table[q.COVERED] == pytest.approx(7 * 80 * D / 90**2)


def test_every_line_says_how_it_is_computed():
    terrain = terrain_of(surface(plane))
    rows = number_rows(Lines(parallel(), []), heights=terrain.judged, spacing_m=D, crs=UTM)
    table = q.row_quality(rows, square(), terrain, RULE).frame(LAYOUT_QUALITY)
    assert table["measure"].is_unique
    assert table["definition"].str.len().min() > 10


@pytest.mark.parametrize("seed", range(3))
def test_weighted_quantiles_agree_with_repeating_each_value(seed):
    random = np.random.default_rng(seed)
    values, weight = random.normal(size=30), random.integers(1, 9, 30)
    shares = (0.0, 0.05, 0.37, 0.5, 0.95, 1.0)
    expected = np.quantile(np.repeat(values, weight), shares, method="inverted_cdf")
    np.testing.assert_allclose(weighted_quantiles(values, weight.astype(float), shares), expected)


def test_quantiles_of_nothing_are_unknown():
    assert np.isnan(weighted_quantiles(np.zeros(0), np.zeros(0), (0.5,))).all()


def surveyed(height):
    """Level rows on a plane, the survey with what `height` adds, judged on that smoothed by 1.5 m."""
    raw = surface(lambda x, y: plane(x, y, slope=0.05) + height(x, y))
    judged = raw.with_values(gaussian_filter(raw.values, 1.5))
    terrain = dataclasses.replace(terrain_of(raw), heights=raw, judged=judged, smooth=judged)
    numbered = number_rows(Lines(parallel(), []), heights=judged, spacing_m=D, crs=UTM)
    return q.row_quality(numbered, square(), terrain, RowRule(max_grade_pct=2, preferred_grade_pct=1))


def test_noise_of_a_survey_is_told_from_real_steps():
    rng = np.random.default_rng(5)
    noisy = surveyed(lambda x, y: rng.normal(0, 0.3, x.shape))
    assert noisy[q.STEEP_UNSMOOTHED] > 0.2
    assert noisy[q.STEEP_STEPS] < 0.1 * noisy[q.STEEP_UNSMOOTHED]
    # a bank of half a metre across the rows, in a survey with noise of a centimetre
    bank = surveyed(lambda x, y: 0.5 * (x > 3) + rng.normal(0, 0.01, x.shape))
    assert bank[q.STEEP_UNSMOOTHED] > 0.1
    assert bank[q.STEEP_STEPS] > 0.1 * bank[q.STEEP_UNSMOOTHED]
    assert bank[q.STEEP_6_M] > 0.05


def test_what_is_told_of_a_measure_is_what_it_is_measured_with():
    def told(quantity):
        return quantity.definition

    assert f"up to {quality.SPACING_REACH:g} spacings" in told(q.SPACING_WITHIN)
    for open_sides in (q.OPEN_SIDES, q.OPEN_SIDES_AT_EDGE):
        assert f"within {quality.NEIGHBOUR_REACH:g} spacings" in told(open_sides)
    assert f"over {quality.BEND_WINDOW_M:g} m" in told(q.RADIUS_MIN)
    assert f"over {quality.CHORD_M:g} m" in told(q.GRADE_P50) and f"over {quality.CHORD_M:g} m" in told(
        q.STEEP_UNSMOOTHED
    )
    assert f"{quality.SHORT_CHORD_LIMITS:g} times" in told(q.STEEP_6_M) and f"over {quality.SHORT_CHORD_M:g} m" in told(
        q.STEEP_6_M
    )
    assert f"more than {100 * q.LEAST_SLOPE:g} %" in told(q.RELATIVE_GRADE)
    assert q.STEP_NOISES == 3 and "three times its noise" in told(q.STEEP_STEPS)
    # a neighbour that counts is nearer than one that is looked at; a row's own next bend is farther along than both
    assert 1 < quality.NEIGHBOUR_REACH < quality.SPACING_REACH < quality.OWN_GAP


def test_fall_within_half_of_what_is_wanted_is_told_by_length_on_a_twisted_plane():
    """Four rows of 60 m toward an outlet in the far east fall by 0.39, 0.61, 0.95 and 1.62 % where 1 % is wanted: two lie
    between 0.5 and 1.5 %. The plane is twisted (z = a x + b x y), so that each row falls evenly."""
    falls = {-20.0: 0.0039, -12.0: 0.00614, 0.0: 0.0095, 24.0: 0.01622}
    terrain = terrain_of(surface(lambda x, y: 100 - (0.0095 + 0.00028 * y) * x))
    rule = RowRule(target_grade_pct=1, fall_toward="outlet", outlet={"file": "outlet.gpkg"})
    rows = [LineString([(EAST - 30, NORTH + y), (EAST + 30, NORTH + y)]) for y in falls]
    numbered = number_rows(Lines(rows, []), heights=terrain.judged, spacing_m=12.0, crs=UTM)
    table = q.row_quality(numbered, square(), terrain, rule, outlet=Point(EAST + 50_000, NORTH))
    assert table[q.FALL_WITHIN] == pytest.approx(0.5, abs=0.01)
    assert table[q.FALL_P05] == pytest.approx(0.39, abs=0.02) and table[q.FALL_P95] == pytest.approx(1.62, abs=0.02)
    assert table[q.FALL_REVERSED] == table[q.FALL_SQUARE] == table[q.FALL_RISE] == 0


@pytest.mark.parametrize("east", [True, False])
def test_the_most_that_a_row_rises_on_its_way_is_told_over_the_lowest_place_before_it(east):
    """A row falls toward an outlet but for two rises, of 3 and 2 cm with a dip of 1 cm between: 4 cm over the lowest place."""
    x = np.array([-60, -20, -8, -2, 10, 60])
    z = np.array([100.0, 99.6, 99.63, 99.62, 99.64, 99.2])
    terrain = terrain_of(surface(lambda e, n: np.interp(e if east else -e, x, z) + 0 * n))
    rule = RowRule(target_grade_pct=1, fall_toward="outlet", outlet={"file": "outlet.gpkg"})
    row = LineString([(EAST - 30, NORTH), (EAST + 30, NORTH)])
    numbered = number_rows(Lines([row], []), heights=terrain.judged, spacing_m=4.5, crs=UTM)
    outlet = Point(EAST + (50_000 if east else -50_000), NORTH)
    table = q.row_quality(numbered, square(), terrain, rule, outlet=outlet)
    assert table[q.FALL_RISE] == pytest.approx(0.04, abs=0.004)  # the surface rounds its kinks off
