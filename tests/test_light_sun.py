"""Where the sun stands, against published examples and a reference library."""

import numpy as np
import pytest

from geoagro.light.rays import Rays, Sky
from geoagro.light.sun import MEAN_DAY, day_length_h, declination, extraterrestrial_mj, position, shadow_across_m


def test_radiation_and_day_length_are_those_of_the_handbook():
    """FAO Irrigation and Drainage Paper 56, examples 8 and 9: 3 September (day 246), 20 degrees south."""
    assert extraterrestrial_mj(-20.0, 246) == pytest.approx(32.2, abs=0.05)
    assert day_length_h(-20.0, 246) == pytest.approx(11.7, abs=0.05)
    assert float(declination(246)) == pytest.approx(0.120, abs=5e-4)  # example 8


@pytest.mark.parametrize(
    ("latitude", "month", "expected"),
    # FAO-56, Annex 2, table 2.6: daily extraterrestrial radiation on the 15th, MJ/m2 (from memory)
    [(0, 1, 36.2), (0, 6, 33.4), (-30, 1, 43.6), (40, 7, 40.6), (40, 1, 15.0)],
)
def test_radiation_by_month_is_that_of_the_handbooks_table(latitude, month, expected):
    day = int(30.4 * (month - 1) + 15)
    assert extraterrestrial_mj(latitude, day) == pytest.approx(expected, rel=0.03)


def test_the_sun_is_where_the_nrel_algorithm_puts_it():
    """Reda and Andreas 2004 by pvlib, itself checked on their worked example (zenith 50.11162, azimuth 194.34024)."""
    pd = pytest.importorskip("pandas")
    solar = pytest.importorskip("pvlib.solarposition")
    example = solar.spa_python(
        pd.DatetimeIndex(["2003-10-17 12:30:30"], tz="Etc/GMT+7"),
        39.742476, -105.1786, altitude=1830.14, pressure=82000, temperature=11, delta_t=67,
    )  # fmt: skip
    assert example["apparent_zenith"].iloc[0] == pytest.approx(50.11162, abs=2e-4)
    assert example["azimuth"].iloc[0] == pytest.approx(194.34024, abs=2e-4)
    for latitude in (-30.0, 5.0, 52.0):
        times = pd.date_range("2027-01-01", "2027-12-31", freq="173min", tz="UTC")
        true = solar.spa_python(times, latitude, 0.0, how="numpy")
        hour = times.hour + times.minute / 60 + true["equation_of_time"].to_numpy() / 60
        day = times.day_of_year.to_numpy()
        found = np.array([np.ravel(position(latitude, d, h)) for d, h in zip(day, hour, strict=True)])
        up = true["elevation"].to_numpy() > 3
        away = _angle(found[up], np.column_stack([true["elevation"], true["azimuth"]])[up])
        assert away.mean() < 0.5
        assert away.max() < 1.3


def _angle(a, b):
    """Degrees between directions given as elevation and azimuth."""
    (h1, a1), (h2, a2) = np.radians(a).T, np.radians(b).T
    cosine = np.sin(h1) * np.sin(h2) + np.cos(h1) * np.cos(h2) * np.cos(a1 - a2)
    return np.degrees(np.arccos(np.clip(cosine, -1, 1)))


def test_shadows_are_as_long_as_geometry_says():
    """Hedge 5 m high, sun 30 degrees above the horizon."""
    assert [shadow_across_m(5, 30, off) for off in (0, 45, 90)] == pytest.approx([0, 6.124, 8.660], abs=5e-4)


def test_the_sun_culminates_to_the_north_south_of_the_equator():
    elevation, azimuth = position(-30.0, 172, 12.0)
    assert float(azimuth) == pytest.approx(0.0, abs=1e-6) or float(azimuth) == pytest.approx(360.0, abs=1e-6)
    assert float(elevation) == pytest.approx(90 - 30 - 23.45, abs=0.1)


@pytest.mark.parametrize("latitude", [-60, -30, 0, 45, 70])
def test_rays_of_a_month_add_up_and_come_from_above(latitude):
    for month in range(1, 13):
        rays = Sky(latitude).rays((month,), 37.0)
        assert rays.weight.sum() == pytest.approx(1.0)
        assert (rays.path >= 1).all()
        assert np.allclose(rays.sloped(0.0).weight, rays.weight)


def test_polar_night_has_sky_but_no_sun():
    assert len(Sky(85.0).rays((12,), 0.0).weight) == 56
    assert day_length_h(85.0, MEAN_DAY[11]) == 0


def test_a_slope_meets_a_slanted_ray_where_the_lines_cross():
    # ground z = -fall * x, ray from (0, 1) down to the right: x = shift * (1 - z), so it meets at z = -fall * shift / (1 - fall * shift)
    shift, fall = np.array([1.5, -1.5, 0.0]), 0.2
    rays = Rays(shift, np.hypot(1.0, shift), np.array([0.5, 0.3, 0.2]))
    meets = rays.sloped(fall)
    down = 1 + fall * shift / (
        1 - fall * shift
    )  # metres that the ray falls, of the one metre above the slope at its start
    assert np.allclose(meets.shift, shift * down)
    assert np.allclose(meets.path, np.hypot(1.0, shift) * down)
    caught = rays.weight / down
    assert np.allclose(meets.weight, caught / caught.sum())


def test_rays_from_behind_the_slope_dont_reach_it():
    rays = Rays(np.array([6.0, 0.5]), np.array([6.1, 1.1]), np.array([0.5, 0.5]))
    assert rays.sloped(0.2).shift.tolist() == pytest.approx([0.5 / 0.9])


def test_the_mean_days_of_months_have_the_declinations_of_the_table():
    """Klein 1977 as textbooks print it (from memory): degrees by 23.45 sin(360 (284 + n) / 365), to a tenth."""
    printed = (-20.9, -13.0, -2.4, 9.4, 18.8, 23.1, 21.2, 13.5, 2.2, -9.6, -18.9, -23.0)
    days = np.array(MEAN_DAY)
    assert 23.45 * np.sin(np.radians(360 * (284 + days) / 365)) == pytest.approx(np.array(printed), abs=0.061)
    assert np.degrees(declination(days)) == pytest.approx(np.array(printed), abs=0.5)


def moments(rays, weights=None):
    """Sums that tell rays apart, whatever their order."""
    w = rays.weight if weights is None else weights
    return [float((w * v).sum()) for v in (1.0, rays.shift, rays.path, rays.shift**2, rays.shift * rays.path)]


def test_an_even_sky_sends_a_share_of_sine_squared_from_within_an_angle_and_looks_alike_all_round():
    rays = Sky(None).rays((1,), 37.0)
    within = np.radians(4 / 7 * 90)
    assert rays.weight[rays.path < 1 / np.cos(within)].sum() == pytest.approx(np.sin(within) ** 2)
    assert len(np.unique(np.abs(rays.shift).round(9))) == 7 * 2  # left as right, ahead as behind
    assert moments(rays) == pytest.approx(moments(Sky(None).rays((6,), 200.0)))
    assert Sky(None).month_weight(3) == 1.0
    assert not Sky(None).south and not Sky(0.0).south and Sky(-0.1).south


@pytest.mark.parametrize(("latitude", "month", "bearing"), [(-30.0, 1, 0.0), (47.0, 6, 60.0), (5.0, 10, 275.0)])
def test_direct_light_comes_from_the_suns_places_weakened_by_the_air(latitude, month, bearing):
    """Hour by hour from half past; a share 0.7^(m^0.678) comes through an air mass of m = 1 / sine of the height (Meinel)."""
    height, azimuth = position(latitude, MEAN_DAY[month - 1], np.arange(24) + 0.5)
    up = height > 3
    h, a = np.radians(height[up]), np.radians(azimuth[up] - bearing)
    light = np.sin(h) * 0.7 ** ((1 / np.sin(h)) ** 0.678)
    expected = Rays(-np.sin(a) / np.tan(h), 1 / np.sin(h), light / light.sum())
    assert moments(Sky(latitude, 0.0).rays((month,), bearing)) == pytest.approx(moments(expected))
    whole, even = Sky(latitude, 0.3).rays((month,), bearing), Sky(None).rays((month,), bearing)
    assert moments(whole) == pytest.approx(
        [0.7 * s + 0.3 * d for s, d in zip(moments(expected), moments(even), strict=True)]
    )


def test_months_count_by_their_radiation():
    sky, bearing = Sky(45.0, 0.0), 90.0
    june, december = (moments(sky.rays((month,), bearing)) for month in (6, 12))
    a, b = (extraterrestrial_mj(45.0, MEAN_DAY[month - 1]) for month in (6, 12))
    assert (sky.month_weight(6), sky.month_weight(12)) == (a, b)
    mean = [(a * s + b * t) / (a + b) for s, t in zip(june, december, strict=True)]
    assert moments(sky.rays((6, 12), bearing)) == pytest.approx(mean)
    assert moments(sky.rays((6,), bearing + 360.0)) == pytest.approx(june)
    polar = Sky(85.0, 0.0)  # of these two months the sun shines in one
    assert moments(polar.rays((6, 12), bearing)) == pytest.approx(moments(polar.rays((6,), bearing)))
    assert 0.4 <= Sky(45.0).diffuse_share <= 0.6  # about half of the light, by many climates' means (from memory)


@pytest.mark.parametrize(("latitude", "fall"), [(-30.0, 0.0), (45.0, 0.3), (None, -0.2), (85.0, 0.1)])
def test_a_year_of_rays_holds_those_of_its_months(latitude, fall):
    sky = Sky(latitude, 0.4)
    rays, weights = sky.year(120.0, fall)
    assert weights.sum(axis=1) == pytest.approx(np.ones(12))
    assert rays.weight == pytest.approx(weights.mean(axis=0))
    for month in (1, 4, 6, 12):
        if latitude == 85.0 and month in (1, 12):
            continue  # polar night: the share of a sun that doesn't shine is left to the sky
        assert moments(rays, weights[month - 1]) == pytest.approx(moments(sky.rays((month,), 120.0).sloped(fall)))
    few = rays.only(np.array([3, 1]))
    assert few.shift.tolist() == rays.shift[[3, 1]].tolist() and few.path.tolist() == rays.path[[3, 1]].tolist()
