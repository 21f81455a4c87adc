import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from shapely import Point, Polygon

from geoagro.planar.zones import Zones, lens_area, sample_points, shared_area


def zone(x, y, reach, azimuth=np.nan, opening=360.0):
    return Zones(*(np.atleast_1d(np.asarray(v, dtype=float)) for v in (x, y, reach, azimuth, opening)))


def polygon(z: Zones, k: int = 0) -> Polygon:
    """The zone as a polygon of shapely, an independent numerical library; 1,000 corners per turn."""
    if z.is_disc[k]:
        return Point(z.x[k], z.y[k]).buffer(z.reach[k], quad_segs=250)
    half = z.half[k]
    angle = np.radians(z.bearing_deg[k]) + np.linspace(-half, half, max(8, int(1000 * half / np.pi)))
    arc = np.column_stack([z.x[k] + z.reach[k] * np.sin(angle), z.y[k] + z.reach[k] * np.cos(angle)])
    return Polygon([(z.x[k], z.y[k]), *arc])


def test_two_discs_match_the_closed_form_of_the_lens():
    # equal circles of radius r, distance r: r^2 (2 pi / 3 - sqrt(3) / 2), a textbook formula
    expected = 2 * np.pi / 3 - np.sqrt(3) / 2
    assert shared_area(zone(0, 0, 1), zone(1, 0, 1))[0] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("d", "expected"), [(0.0, np.pi * 0.25), (0.4, np.pi * 0.25), (1.5, 0.0), (2.0, 0.0)])
def test_discs_inside_and_apart(d, expected):
    assert lens_area(np.array([d]), np.array([1.0]), np.array([0.5]))[0] == pytest.approx(expected, abs=1e-12)


def test_a_sector_inside_a_disc_shares_all_of_itself():
    sector = zone(0, 0, 1, 30, 90)
    assert shared_area(sector, zone(0, 0, 2))[0] == pytest.approx(np.pi / 4, rel=1e-9)
    assert shared_area(zone(0, 0, 2), sector)[0] == pytest.approx(np.pi / 4, rel=1e-9)


def test_half_discs_back_to_back_share_nothing_and_face_to_face_a_lens():
    back = shared_area(zone(0, 0, 1, 270, 180), zone(0.5, 0, 1, 90, 180))[0]
    face = shared_area(zone(0, 0, 1, 90, 180), zone(0.5, 0, 1, 270, 180))[0]
    strip = shapely.intersection(polygon(zone(0, 0, 1)), shapely.box(0, -2, 0.5, 2))
    expected = shapely.intersection(strip, polygon(zone(0.5, 0, 1))).area
    assert back == pytest.approx(0, abs=1e-9)
    assert face == pytest.approx(expected, rel=2e-3)


def random_pairs(n: int, seed: int) -> tuple[Zones, Zones]:
    rng = np.random.default_rng(seed)

    def draw() -> Zones:
        azimuth = np.where(rng.random(n) < 0.25, np.nan, rng.uniform(0, 360, n))
        return Zones(
            rng.uniform(-1, 1, n), rng.uniform(-1, 1, n), rng.uniform(0.1, 1.5, n), azimuth, rng.uniform(20, 350, n)
        )

    return draw(), draw()


def test_any_two_zones_match_polygons_of_an_independent_library():
    a, b = random_pairs(250, 7)
    expected = [polygon(a, k).intersection(polygon(b, k)).area for k in range(len(a))]
    for rays, bound in ((48, 0.012), (24, 0.031)):
        error = np.abs(shared_area(a, b, rays=rays) - expected) / np.minimum(a.area, b.area)
        assert error.max() < bound


@given(st.integers(0, 10_000))
@settings(max_examples=10, deadline=None)
def test_sharing_is_mutual_and_never_more_than_the_smaller_zone(seed):
    a, b = random_pairs(40, seed)
    there, back = shared_area(a, b), shared_area(b, a)
    small = np.minimum(a.area, b.area)
    assert np.allclose(there, back, atol=0.024 * small.max())
    assert (there >= 0).all()
    assert (there <= small * 1.012).all()


def test_points_spread_by_area_count_what_is_shared():
    a, b = random_pairs(200, 3)
    x, y = sample_points(a, 512)
    assert a.holds(x, y).all()
    share = b.holds(x, y).mean(axis=1)
    assert np.abs(share - shared_area(a, b) / a.area).max() < 0.03


def test_a_sector_all_round_is_a_disc_whatever_its_bearing():
    whole, other = zone([0, 0], [0, 0], [1, 0.7], [30, 200], [360, 359.9995]), zone([1, 0], [0, 0.5], [1, 0.6])
    assert whole.is_disc.all()
    assert shared_area(whole, other) == pytest.approx(
        lens_area(np.array([1, 0.5]), whole.reach, other.reach), rel=1e-12
    )
    assert not zone(0, 0, 1, 30, 359).is_disc[0]
    assert zone(0, 0, 2, 30, 90).area[0] == pytest.approx(np.pi)
    assert zone(0, 0, 2).scaled(0.5).facing(np.array([90.0])).reach[0] == 1.0


def test_points_lie_evenly_over_radius_and_angle():
    count = 400
    for z in (zone(3, -2, 2), zone(3, -2, 2, 50, 80)):
        x, y = (v[0] for v in sample_points(z, count))
        radius = np.sort(np.hypot(x - 3, y + 2)) / 2
        assert radius**2 == pytest.approx((np.arange(count) + 0.5) / count)  # as many on equal areas
        middle = 0.0 if z.is_disc[0] else 50.0
        turn = (np.degrees(np.arctan2(x - 3, y + 2)) - middle + 180) % 360 - 180
        half = np.degrees(z.half[0])
        assert np.sort(turn) == pytest.approx(half * (2 * (np.arange(count) + 0.5) / count - 1), abs=half / 60)
        gap = cKDTree(np.column_stack([x, y])).query(np.column_stack([x, y]), k=2)[0][:, 1]
        assert gap.min() > 0.35 * np.sqrt(z.area[0] / count)
