"""Rows with a wanted fall, and rows that must run on drawn lines."""

import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, plane, square_ground
from landforms import square, surface, terrain_of
from shapely import GeometryCollection, LineString, MultiLineString, MultiPoint, Point, box

from geoagro.errors import LayoutError
from geoagro.rows.contour import contour_rows
from geoagro.rows.fall import wanted_fall
from geoagro.rows.finishing import finish_rows
from geoagro.rows.guides import shift_to_guides
from geoagro.rows.sampling import sample_rows
from geoagro.values.design import RowRule

SLOPE = 0.10


def lay(rule, **given):
    terrain = plane(slope=SLOPE)
    return contour_rows(square_ground().plantable, terrain.smooth, terrain.judged, rule, **given)


def grades_eastward(lines):
    """Signed grade of each sample on the plane (it rises to the north), walking east."""
    samples = sample_rows(lines, 5.0)
    return samples, SLOPE * samples.ty * np.sign(samples.tx)


@pytest.mark.parametrize("target_pct", [0.5, 1.0, 2.0])
def test_rows_fall_at_the_wanted_grade_so_they_make_the_angle_asin_of_grade_over_slope_with_the_contour(target_pct):
    rule = RowRule(target_grade_pct=target_pct, fall_toward="outlet", outlet={"file": "outlet.gpkg"})
    rows = lay(rule, outlet=Point(EAST + 5_000, NORTH + 50)).kept
    _, grade = grades_eastward(rows)
    assert np.median(grade) == pytest.approx(-target_pct / 100, rel=0.1)
    assert np.percentile(grade, 98) < 0, "rows that fall toward the outlet never rise toward it"
    angle = np.degrees(np.arcsin(-np.median(grade) / SLOPE))
    assert angle == pytest.approx(np.degrees(np.arcsin(target_pct / 100 / SLOPE)), abs=0.6)


def test_an_outlet_on_the_other_side_turns_the_fall_round():
    rule = RowRule(target_grade_pct=1, fall_toward="outlet", outlet={"file": "outlet.gpkg"})
    _, grade = grades_eastward(lay(rule, outlet=Point(EAST - 5_000, NORTH + 50)).kept)
    assert np.median(grade) == pytest.approx(0.01, rel=0.1)


def test_a_wanted_fall_without_an_outlet_is_refused():
    rule = RowRule(target_grade_pct=1, fall_toward="outlet", outlet={"file": "outlet.gpkg"})
    with pytest.raises(LayoutError, match=r"rows\.outlet"):
        lay(rule)


def test_a_row_runs_on_a_guide_line_and_its_neighbours_keep_their_distance():
    # level at its ends, 1 m up and down between them: well within the grade limit
    x = np.linspace(EAST - 5, EAST + 105, 56)
    guide = LineString(np.column_stack([x, NORTH + 51.3 + np.sin((x - EAST) / 100 * 2 * np.pi)]))
    rows = lay(RowRule(max_grade_pct=4), guides=[guide]).kept
    inside = shapely.intersection(guide, square_ground().plantable)
    off = min(row.hausdorff_distance(inside) for row in rows)
    assert off < 0.15
    on_guide = min(rows, key=lambda row: row.hausdorff_distance(inside))
    others = [row for row in rows if row is not on_guide]
    near = min(row.distance(on_guide) for row in others)
    assert 4.05 - 1e-6 <= near <= 4.95


@pytest.mark.parametrize(
    ("off_m", "normal_deg", "caught"),
    [  # a guide runs along x; rows are 4 m apart; nearer than 0.45 of that a node is drawn onto it (our own choice)
        *((0.0, 0, True), (1.7, 0, True), (-1.7, 0, True), (1.9, 0, False), (-1.9, 0, False)),
        *(
            (1.0, 30, True),
            (1.0, 150, True),
            (1.0, 45, False),
            (1.0, 90, False),
        ),  # rows nearly square to the guide cross it
    ],
)
def test_a_guide_catches_rows_that_run_beside_it_and_near(off_m, normal_deg, caught):
    guide = LineString([(-50.0, 0.0), (50.0, 0.0)])
    normal = np.array([[np.sin(np.radians(normal_deg)), np.cos(np.radians(normal_deg))]])
    node, across = shift_to_guides(np.array([[3.0, off_m]]), normal, [guide], 4.0)
    assert (len(node) == 1) is caught
    if caught:
        assert across[0] == pytest.approx(-off_m * normal[0, 1])  # how far along the row's normal the guide lies


def test_without_guides_rows_choose_their_own_place():
    assert lay(RowRule()).kept


def rolling():
    """Ground that rises to the north and rolls, so that rows at a wanted grade must bend."""
    return terrain_of(surface(lambda x, y: 100 + 0.09 * y + 0.8 * np.sin(x / 25) * np.cos(y / 30)))


def fall_of(lines, terrain, wanted):
    """Fall the wanted way over 10 m at every half metre of each row, from chords of the rows themselves."""
    out = []
    for row in lines:
        s = np.arange(0.0, row.length, 0.5)
        a, b = (shapely.line_interpolate_point(row, np.clip(s + k, 0, row.length)) for k in (-5, 5))
        (ax, ay), (bx, by) = shapely.get_coordinates(a).T, shapely.get_coordinates(b).T
        rise = (terrain.judged.sample(bx, by) - terrain.judged.sample(ax, ay)) / np.hypot(bx - ax, by - ay)
        tangent = np.column_stack([bx - ax, by - ay]) / np.hypot(bx - ax, by - ay)[:, None]
        out.append(wanted.held(np.column_stack([ax + bx, ay + by]) / 2, tangent, rise))
    return np.concatenate(out)


@pytest.mark.parametrize(
    "outlet",
    [
        Point(3, -2),
        MultiPoint([(3, -2), (-30, 8), (3, -2)]),
        LineString([(-20, 0), (5, 5), (5, 5), (40, -10)]),
        MultiLineString([[(-20, 0), (5, 5)], [(0, -30), (0, -30.5), (9, -20)]]),
        box(-5, -5, 5, 5).exterior,
        box(-60, -60, -51, -40).difference(box(-58, -58, -53, -52)),
        GeometryCollection([Point(3, -2), LineString([(-20, 0), (5, 5)]), box(51, 0, 60, 9)]),
    ],
    ids=lambda outlet: outlet.geom_type,
)
def test_rows_fall_toward_the_nearest_place_on_the_outlet(outlet):
    """As the geometry library finds it."""
    rule = RowRule(target_grade_pct=1, fall_toward="outlet", outlet={"file": "outlet.gpkg"})
    fall = wanted_fall(rule, plane(slope=SLOPE).smooth, outlet)
    xy = np.random.default_rng(3).uniform(-50, 50, (400, 2))
    ends = shapely.get_coordinates(shapely.shortest_line(shapely.points(xy), outlet)).reshape(-1, 2, 2)
    way = ends[:, 1] - ends[:, 0]
    np.testing.assert_allclose(fall.toward(xy), way / np.hypot(*way.T)[:, None], atol=1e-9)
    assert np.all(fall.toward(shapely.get_coordinates(outlet)) == 0)  # there already


def test_grades_within_the_window_of_a_wanted_fall_are_those_that_never_run_back():
    terrain, rng = rolling(), np.random.default_rng(1)
    rule = RowRule(target_grade_pct=1, fall_toward="outlet", outlet={"file": "outlet.gpkg"})
    fall = wanted_fall(rule, terrain.smooth, Point(EAST + 60, NORTH - 20))
    xy = rng.uniform(-40, 40, (500, 2)) + np.array([EAST, NORTH])
    tangent = rng.normal(size=(500, 2))
    tangent /= np.hypot(*tangent.T)[:, None]
    rise = rng.uniform(-0.04, 0.04, 500)
    low, high = fall.window(fall.aim(xy, tangent), 0.04)
    held = fall.held(xy, tangent, rise)
    told = np.isfinite(held)
    assert told.sum() > 400
    assert (((rise >= low) & (rise <= high)) == (held >= 0))[told].all()
    assert ((low < 0) & (high > 0))[~told].all()
    backward = fall.window(fall.aim(xy, -tangent), 0.04)
    np.testing.assert_allclose(backward, (-high, -low))


@pytest.mark.parametrize(
    ("grade", "stays"), [(-0.01, True), (0.0, True), (0.0008, True), (0.0012, False), (0.01, False)]
)
def test_a_row_with_a_wanted_fall_may_run_back_by_a_centimetre_in_10_m_and_no_more(grade, stays):
    """A row runs east, toward the outlet, and rises by `grade` that way (the centimetre is our own choice)."""
    heights = surface(lambda x, y: 100 + grade * x + 0.08 * y)
    rule = RowRule(target_grade_pct=1, fall_toward="outlet", outlet={"file": "outlet.gpkg"})
    fall = wanted_fall(rule, heights, Point(EAST + 5_000, NORTH))
    row = LineString([(EAST - 30, NORTH), (EAST + 30, NORTH)])
    done = finish_rows(
        [row], square(), heights, spacing_m=4.5, tolerance=0.1, max_grade=0.04, min_radius_m=6.0, min_length_m=20.0, fall=fall
    )  # fmt: skip
    assert (sum(kept.length for kept in done.kept) == pytest.approx(60.0)) is stays
    assert {reason for reason, _ in done.cut} == (set() if stays else {"grade_limit"})


@pytest.mark.parametrize(("toward", "least", "typical_pct"), [("outlet", 0.95, 0.9), ("ridge", 0.85, 0.5)])
def test_on_rolling_ground_no_row_ever_falls_the_wrong_way(toward, least, typical_pct):
    # between hollows and ridges rows that keep their spacing have no room for the whole wanted fall
    terrain, outlet = rolling(), Point(EAST + 3_000, NORTH)
    given = {"outlet": {"file": "outlet.gpkg"}} if toward == "outlet" else {}
    rule = RowRule(target_grade_pct=1, fall_toward=toward, **given)
    outlet = outlet if toward == "outlet" else None
    rows = contour_rows(square(), terrain.smooth, terrain.judged, rule, outlet=outlet)
    assert shapely.length(rows.kept).sum() * rule.spacing_m > least * square().area
    held = fall_of(rows.kept, terrain, wanted_fall(rule, terrain.smooth, outlet))
    # 0 but for what lies between the points that are looked at, and the tangent being a chord of 10 m here
    assert np.nanpercentile(held, 0.2) > -0.0015
    assert typical_pct / 100 < np.nanmedian(held) < 0.014


def test_rows_that_fall_toward_the_ridge_lead_water_from_the_hollows_to_it():
    # on ridges and hollows that run down the slope, water flows along a row from the hollow to the crest
    terrain = terrain_of(surface(lambda x, y: 100 + 0.10 * y + 0.6 * np.cos(x / 15)))
    rule = RowRule(target_grade_pct=1, fall_toward="ridge")
    rows = contour_rows(square(), terrain.smooth, terrain.judged, rule).kept
    samples = sample_rows(rows, 2.0)
    x = samples.x - EAST
    crest = np.round(x / (30 * np.pi)) * 30 * np.pi
    side = np.abs(np.abs(x - crest) - 7.5 * np.pi) < 10  # half way between crest and hollow
    rise = samples.tx * (-0.04 * np.sin(x / 15)) + samples.ty * 0.10
    toward_crest = rise * np.sign(samples.tx * (crest - x))
    assert side.sum() > 20
    assert np.median(toward_crest[side]) < -0.004
