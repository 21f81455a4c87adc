import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Proj
from shapely import Polygon, box

from geoagro.crs import (
    WGS84,
    choose_working_crs,
    geodesic_area_m2,
    geodesic_length_m,
    inside_area_of_use,
    name_of,
    parse_crs,
    same,
    scale_at,
    to_lonlat,
    transform_bounds,
    transform_geometries,
    transform_points,
    utm_zone,
    utm_zone_number,
)
from geoagro.errors import CrsError
from geoagro.inputs.crs_words import datum_doubt


def crs(code):
    return CRS.from_epsg(code)


# Coordinates printed by others: AGI STK help, "Convert MapGridPoint" (metres, whole numbers); GeoConvert manual
# (input; output computed with GeographicLib); the definition of UTM (central meridian, equator).
@pytest.mark.parametrize(
    ("place", "zone", "expected", "tolerance"),
    [
        ((74.75, 33.5), 32643, (476779.0, 3706747.0), 0.5),
        ((74.75, 33.5), 32643, (476778.627, 3706747.182), 0.001),
        ((44.4, 33.3), 32638, (444140.545, 3684706.356), 0.001),
        ((3.0, 0.0), 32631, (500000.0, 0.0), 1e-6),
    ],
)
def test_utm_coordinates_agree_with_published_ones(place, zone, expected, tolerance):
    assert utm_zone(*place).to_epsg() == zone
    x, y = transform_points(*place, WGS84, crs(zone))
    assert (float(x), float(y)) == pytest.approx(expected, abs=tolerance)


# Polygon of the GeographicLib documentation (C. Karney, planimeter example: the coast of Antarctica).
ANTARCTICA = [
    (-63.1, -58), (-72.9, -74), (-71.9, -102), (-74.9, -102), (-74.3, -131), (-77.5, -163), (-77.4, 163), (-71.7, 172),
    (-65.9, 140), (-65.7, 113), (-66.6, 88), (-66.9, 59), (-69.8, 25), (-70.0, -4), (-71.0, -14), (-77.3, -33),
    (-77.9, -46), (-74.7, -61),
]  # fmt: skip


def test_geodesic_area_and_perimeter_agree_with_the_planimeter_example():
    polygon = Polygon([(lon, lat) for lat, lon in ANTARCTICA])
    assert geodesic_length_m(polygon, WGS84) == pytest.approx(16831067.893, abs=0.001)
    assert geodesic_area_m2(polygon, WGS84) == pytest.approx(13662703680020.1, abs=0.1)


def test_an_octant_is_an_eighth_of_the_ellipsoid():
    # 63758202715511.06 m2: surface of the WGS 84 ellipsoid / 8, closed form with a = 6378137 m, f = 1/298.257223563.
    a, f = 6378137.0, 1 / 298.257223563
    e = math.sqrt(f * (2 - f))
    surface = 2 * math.pi * a**2 * (1 + (1 - e**2) / e * math.atanh(e))
    area = geodesic_area_m2(Polygon([(0, 0), (90, 0), (0, 90)]), WGS84)
    assert area == pytest.approx(surface / 8, rel=1e-9)
    assert area == pytest.approx(63758202715511.06, abs=1.0)


def test_one_degree_cell_at_the_origin():
    # Computed with geographiclib 2 (Karney), geodesic edges.
    assert geodesic_area_m2(box(0, 0, 1, 1), WGS84) == pytest.approx(12308778361.469, abs=0.01)
    assert geodesic_length_m(box(0, 0, 1, 1), WGS84) == pytest.approx(443770.917, abs=0.001)


@settings(max_examples=25, deadline=None)
@given(
    st.floats(-170, 170),
    st.floats(-60, 70),
    st.lists(st.tuples(st.floats(0.2, 1.0), st.floats(0.0, 1.0)), min_size=5, max_size=8),
)
def test_areas_of_random_fields_agree_with_a_second_library(lon, lat, spokes):
    turns = np.cumsum([0.3 + s for _, s in spokes])
    angles = 2 * np.pi * turns / (turns[-1] + 0.3)
    ring = [(lon + 0.01 * r * np.cos(a), lat + 0.01 * r * np.sin(a)) for (r, _), a in zip(spokes, angles, strict=True)]
    other = Geodesic.WGS84.Polygon()
    for x, y in ring:
        other.AddPoint(y, x)
    _, perimeter, area = other.Compute()
    assert geodesic_area_m2(Polygon(ring), WGS84) == pytest.approx(abs(area), rel=1e-9, abs=0.01)
    assert geodesic_length_m(Polygon(ring), WGS84) == pytest.approx(perimeter, rel=1e-9)


def test_holes_are_taken_off_whatever_way_rings_run():
    hole = [(0.2, 0.2), (0.4, 0.2), (0.4, 0.4), (0.2, 0.4)]
    for ring in (hole, hole[::-1]):
        ringed = Polygon(box(0, 0, 1, 1).exterior, [ring])
        expected = geodesic_area_m2(box(0, 0, 1, 1), WGS84) - geodesic_area_m2(Polygon(hole), WGS84)
        assert geodesic_area_m2(ringed, WGS84) == pytest.approx(expected, rel=1e-12)


def test_area_on_the_map_over_area_on_the_ellipsoid_is_the_areal_scale():
    square = box(400_000, 5_000_000, 400_200, 5_000_200)
    scale = scale_at(crs(32633), 400_100, 5_000_100)
    assert square.area / geodesic_area_m2(square, crs(32633)) == pytest.approx(scale.areal, rel=1e-7)


def test_point_scale_factor_of_utm_is_0_9996_on_its_meridian():
    scale = scale_at(crs(32633), 500_000, 5_000_000)
    assert (scale.smallest, scale.largest) == pytest.approx((0.9996, 0.9996), abs=1e-8)
    assert scale.areal == pytest.approx(0.9996**2, abs=1e-8)
    assert scale.convergence_deg == pytest.approx(0.0, abs=1e-6)


def test_scale_and_convergence_agree_with_those_of_proj():
    lon, lat = 12.5, 47.0
    factors = Proj(crs(32633)).get_factors(lon, lat)
    x, y = transform_points(lon, lat, WGS84, crs(32633))
    scale = scale_at(crs(32633), float(x), float(y))
    assert scale.largest == pytest.approx(factors.tissot_semimajor, abs=1e-7)
    assert scale.areal == pytest.approx(factors.areal_scale, abs=1e-7)
    assert scale.convergence_deg == pytest.approx(factors.meridian_convergence, abs=1e-4)


def test_grid_north_lies_west_of_true_north_west_of_the_meridian():
    assert (
        scale_at(crs(32633), 400_000, 5_000_000).convergence_deg
        < 0
        < scale_at(crs(32633), 600_000, 5_000_000).convergence_deg
    )


# 32V and 31X-37X as in GeographicLib's UTMUPS::StandardZone and the UTM grid's usual description.
@pytest.mark.parametrize(
    ("lon", "lat", "zone"),
    [
        (5.5, 60.4, 32), (2.9, 60.4, 31), (5.5, 64.0, 31), (5.5, 55.9, 31), (3.0, 56.0, 32), (5.9, 63.99, 32), (6.0, 60, 32),
        (8.9, 78, 31), (9.0, 78, 33), (20.9, 78, 33), (21.0, 78, 35), (33.0, 78, 37), (41.9, 78, 37), (42.1, 78, 38),
        (8.9, 72.0, 31), (8.9, 71.99, 32), (0.0, 72.0, 31), (-0.1, 78, 30), (42.0, 78, 38), (8.9, 84.0, 31), (30.5, 71.9, 36),
        (-180.0, 10, 1), (179.99, 10, 60), (180.0, 10, 1), (-0.01, 10, 30), (0.0, -10, 31), (-50.0, -15, 22),
    ],
)  # fmt: skip
def test_zone_numbers_with_the_wide_zones_of_norway_and_svalbard(lon, lat, zone):
    assert utm_zone_number(lon, lat) == zone


@pytest.mark.parametrize(
    ("datum", "lon", "lat", "expected"),
    [
        (4326, 15, 46, 32633),
        (4258, 15, 46, 25833),
        (4269, -93, 42, 26915),
        (4674, -50, -15, 31982),
        (4312, 14, 47, 32633),
    ],
)
def test_zone_keeps_the_datum_where_the_registry_has_it(datum, lon, lat, expected):
    assert utm_zone(lon, lat, like=crs(datum)).to_epsg() == expected


def test_no_zone_near_the_poles():
    with pytest.raises(CrsError, match="outside UTM"):
        utm_zone(10, 85)


def test_a_metric_crs_true_to_scale_is_worked_in():
    chosen = choose_working_crs([("the boundary", crs(31287))], lon=14.0, lat=47.0)
    assert chosen.crs.to_epsg() == 31287
    assert "that of the boundary" in chosen.sentence()


@pytest.mark.parametrize(
    ("code", "lon", "lat", "utm", "why"),
    [
        (4326, 15.0, 46.0, 32633, "in degrees"),
        (3857, 15.0, 46.0, 32633, "out of scale by 44"),
        (3857, 15.0, 0.0, 32633, "out of scale by 0.67"),  # Web Mercator is out of scale even on the equator
        (2264, -79.0, 35.5, 26917, "US survey foot, not metres"),
        (5070, -96.0, 38.0, 26915, "out of scale"),
    ],
)
def test_anything_else_gives_way_to_utm_and_says_why(code, lon, lat, utm, why):
    chosen = choose_working_crs([("the boundary", crs(code))], lon=lon, lat=lat)
    assert chosen.crs.to_epsg() == utm
    assert why in chosen.sentence()


def test_the_first_usable_candidate_wins():
    both = [("the elevation raster", crs(4326)), ("the boundary", crs(3794))]
    assert choose_working_crs(both, lon=15.0, lat=46.5).crs.to_epsg() == 3794


def test_a_forced_crs_is_used_or_refused():
    assert choose_working_crs([("b", WGS84)], lon=15.0, lat=46.0, forced=crs(3794)).crs.to_epsg() == 3794
    with pytest.raises(CrsError, match=r"inputs.working_crs: EPSG:3857 .* out of scale"):
        choose_working_crs([("b", WGS84)], lon=15.0, lat=46.0, forced=crs(3857))


def test_what_is_no_crs_is_refused_with_the_place_it_stood():
    with pytest.raises(CrsError, match=r"inputs.boundary.crs: 'EPSG:99' is not a coordinate reference system"):
        parse_crs("EPSG:99", where="inputs.boundary.crs")
    with pytest.raises(CrsError, match="neither projected nor longitude/latitude"):
        parse_crs('LOCAL_CS["site grid",UNIT["metre",1]]', where="plan.dxf")


def test_a_crs_without_its_code_is_recognised():
    spelled = CRS.from_wkt(crs(25832).to_wkt("WKT1_ESRI"))
    assert parse_crs(spelled, where="a").to_epsg() == 25832
    assert same(spelled, crs(25832))
    assert not same(crs(32632), crs(25832))


def test_only_the_horizontal_part_of_a_compound_crs_is_kept():
    assert parse_crs("EPSG:4269+5703", where="a").is_geographic
    assert name_of(parse_crs("EPSG:26911+5703", where="a")) == "EPSG:26911 NAD83 / UTM zone 11N"


@settings(max_examples=30, deadline=None)
@given(st.floats(12.0, 18.0), st.floats(40.0, 55.0))
def test_there_and_back_is_the_same_place(lon, lat):
    x, y = transform_points(lon, lat, WGS84, crs(32633))
    back = to_lonlat(x, y, crs(32633))
    assert (float(back[0]), float(back[1])) == pytest.approx((lon, lat), abs=1e-9)


def test_latitude_first_crs_still_takes_longitude_first():
    x, y = transform_points(15.0, 46.0, crs(4258), crs(3035))
    assert (float(x), float(y)) == pytest.approx((4_707_000, 2_552_000), abs=30_000)


def test_geometries_lose_their_z_and_keep_their_holes():
    ring = Polygon(
        [(15, 46, 5), (15.1, 46, 5), (15.1, 46.1, 5)], [[(15.05, 46.01, 5), (15.06, 46.01, 5), (15.06, 46.02, 5)]]
    )
    moved = transform_geometries(np.array([ring]), WGS84, crs(32633))[0]
    assert not shapely.has_z(moved)
    assert len(moved.interiors) == 1


def test_bounds_hold_the_bulge_of_a_parallel():
    west, south, east, north = transform_bounds((12.0, 60.0, 18.0, 61.0), WGS84, crs(32633))
    corner = transform_points(12.0, 61.0, WGS84, crs(32633))[1]
    middle = transform_points(15.0, 60.0, WGS84, crs(32633))[1]
    assert north >= float(corner)
    assert south <= float(middle)
    assert west < 500_000 < east


def test_coordinates_without_a_place_are_refused():
    with pytest.raises(CrsError, match="can't be brought from"):
        transform_points(np.array([500000.0]), np.array([5e6]), WGS84, crs(32633))


def test_area_of_use_and_datum_doubts():
    assert inside_area_of_use(crs(32633), 15.0, 46.0)
    assert not inside_area_of_use(crs(32633), -90.0, 46.0)
    assert datum_doubt(crs(32633), crs(32633), lon=15.0, lat=46.0) is None
    assert "good to about" in datum_doubt(crs(4267), crs(32615), lon=-93.0, lat=42.0)
    assert "may be off" in datum_doubt(crs(4326), CRS.from_proj4("+proj=utm +zone=33 +ellps=bessel"), lon=15, lat=46)


PACKAGE = Path(__file__).parents[1] / "geoagro"


@pytest.mark.parametrize("word", ["Transformer", ".to_crs(", "rasterio.warp", "WarpedVRT"])
def test_coordinates_are_transformed_in_one_place_only(word):
    found = [str(p.relative_to(PACKAGE)) for p in PACKAGE.rglob("*.py") if word in p.read_text(encoding="utf-8")]
    assert found == (["crs.py"] if word == "Transformer" else [])
