"""Heights, slope and aspect from rasters: passed through where they lie right, else brought over without no-data."""

import numpy as np
import pytest
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from input_files import EAST, FIELD, NORTH, UTM, design, slope_north, write_raster, write_vector
from pyproj import CRS
from shapely import affinity

from geoagro.cli.check_words import known_in_field
from geoagro.crs import WGS84, transform_geometries, transform_points
from geoagro.errors import CrsError, InputError
from geoagro.inputs.raster import file as raster_file
from geoagro.inputs.raster.file import applied
from geoagro.inputs.raster.ground_source import read_ground_source
from geoagro.inputs.site import read_site


def read(tmp_path, **inputs):
    wanted = design(tmp_path, **inputs)
    site = read_site(wanted)
    return site, read_ground_source(wanted, site)


def heights_of(tmp_path, values, *, keys=None, **profile):
    write_raster(tmp_path / "h.tif", values, **profile)
    return read(tmp_path, elevation={"file": "h.tif", **(keys or {})})[1]


def texts(source):
    return [f.text for f in source.findings]


def plane_at(grid, grade=0.10, base=200.0):
    return np.repeat(base + grade * (grid.y - NORTH)[:, None], len(grid.x), axis=1)


def assert_plane(grid, tolerance, **kw):
    known = np.isfinite(grid.values)
    assert known.any()
    assert np.abs(grid.values - plane_at(grid, **kw))[known].max() < tolerance


# ------------------------------------------------------------------ heights


@pytest.mark.parametrize("dtype", ["float32", "float64", "int16"])
def test_cells_that_lie_right_pass_through_unchanged(tmp_path, dtype):
    values = (slope_north() * 10).astype(dtype)
    source = heights_of(tmp_path, values, west=EAST - 80.4, north=NORTH + 160.3)
    grid = source.heights
    row, column = round((NORTH + 160.3 - grid.north) / 2), round((grid.west - (EAST - 80.4)) / 2)
    rows, columns = grid.values.shape
    assert np.array_equal(grid.values, values[row : row + rows, column : column + columns])
    assert (grid.cell_m, grid.crs.to_epsg()) == (2.0, 32633)
    assert not [t for t in texts(source) if "brought from" in t]


def test_the_window_reaches_60_m_past_the_field(tmp_path):
    grid = heights_of(tmp_path, slope_north(shape=(300, 300)), west=EAST - 200, north=NORTH + 300).heights
    west, south, east, north = grid.bounds
    assert EAST - 68 <= west <= EAST - 60
    assert NORTH - 68 <= south <= NORTH - 60
    assert EAST + 160 <= east <= EAST + 168
    assert NORTH + 140 <= north <= NORTH + 148


def test_a_south_up_raster_is_turned_not_resampled(tmp_path):
    values = slope_north()
    turned = Affine(2.0, 0, EAST - 80, 0, 2.0, NORTH + 160 - 2 * len(values))
    grid = heights_of(tmp_path, values[::-1], transform=turned).heights
    assert_plane(grid, 1e-9)


def test_where_the_raster_ends_inside_the_field_the_grid_goes_on_without_data(tmp_path):
    site, source = read(tmp_path, elevation={"file": write_raster(tmp_path / "h.tif", slope_north()[:, :60]).name})
    _, _, east, _ = source.heights.bounds
    assert east >= EAST + 100
    known = known_in_field(source.heights, site)
    assert len(known) == 20 * 40  # of 50 x 40 cells, the raster covers 40 m of 100 m
    assert np.isnan(source.heights.sample(EAST + 60, NORTH + 40))
    assert source.heights.sample(EAST + 20, NORTH + 40) == pytest.approx(204.0, abs=0.2)


def test_declared_no_data_is_unknown(tmp_path):
    values = slope_north().astype("float32")
    values[60:70, 60:70] = -9999
    grid = heights_of(tmp_path, values, nodata=-9999).heights
    assert np.isnan(grid.values).sum() == 100
    assert_plane(grid, 1e-4)


@pytest.mark.parametrize("sentinel", [-9999.0, -32768.0, -3.4028234663852886e38, 1e31, np.inf, -99999.0])
def test_undeclared_no_data_is_found_and_told(tmp_path, sentinel):
    values = slope_north().astype("float32")
    values[60:70, 60:70] = sentinel
    source = heights_of(tmp_path, values)
    assert np.isnan(source.heights.values).sum() == 100
    assert any(t.startswith("100 cells hold") and "doesn't declare it" in t for t in texts(source))


def test_zeros_around_the_data_are_no_data_but_a_shore_is_not(tmp_path):
    values = slope_north()
    values[:, :50] = 0.0
    source = heights_of(tmp_path, values)
    assert np.isnan(source.heights.values).any()
    assert source.heights.values[np.isfinite(source.heights.values)].min() > 190
    shore = np.maximum(slope_north(base=-3.0), 0.0)
    assert np.isfinite(heights_of(tmp_path, shore).heights.values).all()


def test_a_very_fine_raster_is_averaged_in_blocks_and_that_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr(raster_file, "MOST_CELLS", 3000)
    values = slope_north()
    values[60, 60] = -9999.0
    values[:, :20] = 0.0
    source = heights_of(tmp_path, values)
    grid = source.heights
    assert grid.cell_m == 4.0  # 2 x 2 cells of 2 m
    assert grid.values.size <= 3000
    assert any("averaged in blocks of 2 x 2" in t for t in texts(source))
    assert_plane(grid, 1e-6)
    assert np.isnan(grid.sample(EAST - 80 + 121, NORTH + 160 - 121))
    with pytest.raises(InputError, match=r"directions can't be averaged"):
        write_raster(tmp_path / "s.tif", np.full((20, 20), 0.1), cell=12)
        write_raster(tmp_path / "a.tif", np.full((120, 130), 90.0))
        read(tmp_path, slope={"file": "s.tif", "unit": "ratio"}, aspect={"file": "a.tif"})


def test_no_data_named_in_the_design(tmp_path):
    values = slope_north()
    values[60:70, 60:70] = 207.125
    grid = heights_of(tmp_path, values, keys={"nodata": 207.125}).heights
    assert np.isnan(grid.values).sum() == 100


# International foot 0.3048 m (exact, 1959 agreement); US survey foot 1200/3937 m (exact, Mendenhall order 1893).
@pytest.mark.parametrize(
    ("keys", "profile", "metres"),
    [
        ({"unit": "ft"}, {}, 0.3048),
        ({"unit": "us-ft"}, {}, 1200 / 3937),
        ({}, {"units": "feet"}, 0.3048),
        ({}, {"units": "US survey foot"}, 1200 / 3937),
        ({}, {"units": "cm"}, 0.01),
        ({}, {"crs": "EPSG:32633+6360"}, 1200 / 3937),  # NAVD88 height (ftUS)
        ({}, {"crs": "EPSG:32633+5703"}, 1.0),  # NAVD88 height (m)
        ({"unit": "m"}, {}, 1.0),
    ],
)
def test_heights_in_other_units_become_metres(tmp_path, keys, profile, metres):
    grid = heights_of(tmp_path, slope_north() / metres, keys=keys, **profile).heights
    assert_plane(grid, 1e-6)


def test_units_that_contradict_or_are_unknown(tmp_path):
    source = heights_of(tmp_path, slope_north(), keys={"unit": "m"}, units="ft")
    assert "the file says heights are in ft; the design's unit, m, is used" in texts(source)
    with pytest.raises(InputError, match=r"heights are in 'fathom', which isn't known; set inputs.elevation.unit"):
        heights_of(tmp_path, slope_north(), units="fathom")
    with pytest.raises(InputError, match=r"inputs.elevation.unit: must be m, ft or us-ft \(got 'inch'\)"):
        heights_of(tmp_path, slope_north(), keys={"unit": "inch"})


def test_positions_in_feet_need_a_stated_unit_of_heights(tmp_path):
    feet = CRS.from_epsg(2264)
    west, north = transform_points(-79.0, 35.6, WGS84, feet)
    transform = Affine(10, 0, float(west), 0, -10, float(north))
    write_raster(tmp_path / "h.tif", np.full((400, 400), 100.0), transform=transform, crs="EPSG:2264")
    field = affinity.translate(FIELD, -EAST + float(west) + 1500, -NORTH + float(north) - 2500)
    write_vector(tmp_path / "f.gpkg", [field], feet)
    inputs = {"boundary": {"file": "f.gpkg"}, "elevation": {"file": "h.tif"}}
    with pytest.raises(InputError, match=r"positions are in US survey foot, and the unit of heights is stated nowhere"):
        read(tmp_path, **inputs)
    inputs["elevation"]["unit"] = "us-ft"
    site, source = read(tmp_path, **inputs)
    assert site.crs.to_epsg() == 26917
    assert site.boundary.area == pytest.approx(8000 * (1200 / 3937) ** 2, rel=0.002)
    assert np.nanmax(source.heights.values) == pytest.approx(100 * 1200 / 3937)


def test_scale_and_offset_of_the_band_are_applied(tmp_path):
    path = write_raster(tmp_path / "h.tif", (slope_north() * 10).round().astype("int16"))
    import rasterio  # noqa: PLC0415

    with rasterio.open(path, "r+") as file:
        file.scales, file.offsets = (0.1,), (5.0,)
    assert_plane(read(tmp_path, elevation={"file": "h.tif"})[1].heights, 0.051, base=205.0)


def test_heights_that_are_no_land_are_refused(tmp_path):
    with pytest.raises(InputError, match=r"heights from 1.*e.06 m aren't land. Set inputs.elevation.unit or"):
        heights_of(tmp_path, slope_north() * 1e4)


# ------------------------------------------------------------------ bringing cells over


def test_a_raster_in_degrees_is_brought_over(tmp_path):
    step = 2e-5  # about 2.2 m north, 1.6 m east
    lon0, lat0 = 14.998, 45.1545
    rows, columns = 200, 300
    lon, lat = np.meshgrid(lon0 + (np.arange(columns) + 0.5) * step, lat0 - (np.arange(rows) + 0.5) * step)
    _, y = transform_points(lon, lat, WGS84, UTM)
    write_vector(tmp_path / "f.gpkg", [FIELD])
    write_raster(
        tmp_path / "h.tif", 200 + 0.1 * (y - NORTH), transform=Affine(step, 0, lon0, 0, -step, lat0), crs="EPSG:4326"
    )
    site, source = read(tmp_path, boundary={"file": "f.gpkg"}, elevation={"file": "h.tif"})
    grid = source.heights
    assert site.crs.to_epsg() == 32633
    assert grid.cell_m == pytest.approx(np.sqrt(step * 111_140 * step * 111_320 * np.cos(np.deg2rad(45.15))), rel=0.01)
    assert len(known_in_field(grid, site)) > 0.99 * FIELD.area / grid.cell_m**2
    assert_plane(grid, 1e-4)
    assert any(
        "cells brought from WGS 84 to square cells of 1.87 m in the working CRS, by cubic" in t for t in texts(source)
    )


def turned_raster(angle, size, n):
    """Transform of n x n cells whose middle is the middle of the field."""
    c, s = np.cos(np.deg2rad(angle)), np.sin(np.deg2rad(angle))
    a, b, d, e = c * size[0], -s * size[1], s * size[0], c * size[1]
    return Affine(a, b, EAST + 50 - (a + b) * n / 2, d, e, NORTH + 40 - (d + e) * n / 2)


@settings(max_examples=12, deadline=None)
@given(st.floats(-180, 180), st.floats(1.0, 3.0), st.floats(0.6, 1.5), st.booleans())
def test_a_plane_stays_a_plane_from_turned_and_oblong_cells(tmp_path_factory, angle, cell, oblong, flipped):
    folder = tmp_path_factory.mktemp("turned")
    n = 280
    size = (cell, cell * oblong * (1 if flipped else -1))
    t = turned_raster(angle, size, n)
    column, row = np.meshgrid(np.arange(n) + 0.5, np.arange(n) + 0.5)
    x, y = applied(t, column, row)
    values = 300 + 0.08 * (x - EAST) - 0.05 * (y - NORTH)
    holes = np.random.default_rng(0).random(values.shape) < 0.02
    values[holes] = -9999
    source = heights_of(folder, values, transform=t, nodata=-9999)
    grid = source.heights
    expected = 300 + 0.08 * (grid.x - EAST) - 0.05 * (grid.y - NORTH)[:, None]
    known = np.isfinite(grid.values)
    assert known.mean() > 0.5
    # both interpolations keep planes, and -9999 never enters; cells passed through may be 1 % of a cell off
    tolerance = 1e-5 if any("brought from" in t for t in texts(source)) else 0.01 * cell * 0.13
    assert np.abs(grid.values - expected)[known].max() < tolerance


def test_a_datum_that_can_t_be_joined_exactly_is_a_warning(tmp_path):
    old = CRS.from_epsg(4312)  # MGI, Austria
    lon, lat = transform_points(EAST, NORTH, UTM, old)
    transform = Affine(2e-5, 0, float(lon) - 0.003, 0, -2e-5, float(lat) + 0.003)
    write_raster(tmp_path / "h.tif", np.full((300, 400), 300.0), transform=transform, crs="EPSG:4312")
    _, source = read(tmp_path, elevation={"file": "h.tif"}, working_crs="EPSG:32633")
    assert any("positions are good to about" in t or "positions may be off" in t for t in texts(source))


def test_no_data_makes_unknown_what_touches_it_and_nothing_more(tmp_path):
    values = slope_north()
    values[60, 60] = np.nan
    turned = turned_raster(0.5, (2.0, -2.0), 130)
    grid = heights_of(tmp_path, values, transform=turned).heights
    hole = np.isnan(grid.sample(*applied(turned, 60.5, 60.5)))
    assert hole
    unknown = np.argwhere(np.isnan(grid.values[40:-40, 40:-40]))
    assert 1 <= len(unknown) <= 9


def test_another_zone_gives_the_same_ground(tmp_path):
    other = CRS.from_epsg(32632)
    corner = transform_geometries(np.array([FIELD.buffer(150)]), UTM, other)[0].bounds
    n, cell = 260, 2.0
    x, y = np.meshgrid(corner[0] + (np.arange(n) + 0.5) * cell, corner[3] - (np.arange(n) + 0.5) * cell)
    _, north = transform_points(x, y, other, UTM)
    write_raster(tmp_path / "h.tif", 200 + 0.1 * (north - NORTH), west=corner[0], north=corner[3], crs="EPSG:32632")
    site, source = read(tmp_path, elevation={"file": "h.tif"}, working_crs="EPSG:32633")
    assert site.crs.to_epsg() == 32633
    assert source.heights.cell_m == 2.0 or source.heights.cell_m == pytest.approx(2.0, rel=0.01)
    assert_plane(source.heights, 1e-4)


# ------------------------------------------------------------------ what can't be used


def test_a_raster_elsewhere_is_refused_with_both_extents(tmp_path):
    with pytest.raises(
        InputError,
        match=r"inputs.elevation \(h.tif\): doesn't reach the field. The raster covers x 509920 to 510180, "
        r"y 4999920 to 5000160, the field lies in x 499940 to 500160, y 4999940 to 5000140",
    ):
        heights_of(tmp_path, slope_north(), west=EAST + 9920)


def test_swapped_longitude_and_latitude_are_hinted_at(tmp_path):
    field = transform_geometries(np.array([FIELD]), UTM, WGS84)[0]
    swapped = type(field)([(lat, lon) for lon, lat in field.exterior.coords])
    write_vector(tmp_path / "f.geojson", [swapped], WGS84, driver="GeoJSON")
    write_raster(tmp_path / "h.tif", slope_north())
    with pytest.raises(InputError, match=r"With x and y of the field swapped, it would"):
        read(tmp_path, boundary={"file": "f.geojson"}, elevation={"file": "h.tif"})


def test_a_raster_without_crs_needs_the_key(tmp_path):
    with pytest.raises(CrsError, match=r"inputs.elevation \(h.tif\): states no coordinate reference system.*`crs:`"):
        heights_of(tmp_path, slope_north(), crs=None)
    assert_plane(heights_of(tmp_path, slope_north(), crs=None, keys={"crs": "EPSG:32633"}).heights, 1e-9)


def test_a_picture_without_a_place_is_refused(tmp_path):
    import warnings  # noqa: PLC0415

    from rasterio.errors import NotGeoreferencedWarning  # noqa: PLC0415

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        write_raster(tmp_path / "h.tif", slope_north(), transform=Affine.identity())
    with pytest.raises(InputError, match=r"isn't georeferenced"):
        read(tmp_path, elevation={"file": "h.tif"})


def test_other_bad_rasters(tmp_path):
    with pytest.raises(InputError, match=r"has 1 band\(s\); inputs.elevation.band says 2"):
        heights_of(tmp_path, slope_north(), keys={"band": 2})
    with pytest.raises(InputError, match=r"holds no data over the field"):
        heights_of(tmp_path, np.full((120, 130), -9999.0), nodata=-9999)
    margin_only = slope_north()
    margin_only[30:-30, 30:-30] = np.nan
    with pytest.raises(InputError, match=r"inputs.elevation.file: no.tif isn't there"):
        read(tmp_path, elevation={"file": "no.tif"})
    (tmp_path / "text.tif").write_text("no raster")
    with pytest.raises(InputError, match=r"inputs.elevation \(text.tif\): can't be read as a raster"):
        read(tmp_path, elevation={"file": "text.tif"})


def test_fields_too_far_apart_for_one_grid_are_refused(tmp_path):
    write_vector(tmp_path / "two.gpkg", [FIELD, affinity.translate(FIELD, 20_000, 15_000)])
    write_raster(tmp_path / "h.tif", slope_north())
    with pytest.raises(
        InputError, match=r"spreads over 20.1 x 15.1 km, 76 million cells of 2 m.*one field with `where`"
    ):
        read(tmp_path, boundary={"file": "two.gpkg"}, elevation={"file": "h.tif"})


def test_a_raster_that_knows_nothing_inside_the_field_is_refused(tmp_path):
    values = slope_north()
    values[:, 30:] = np.nan  # data only west of the field, inside the margin
    with pytest.raises(InputError, match=r"holds no data inside the field, only no-data cells"):
        heights_of(tmp_path, values)


# ------------------------------------------------------------------ slope and aspect


def slope_of(tmp_path, values, unit=None, **profile):
    write_raster(tmp_path / "s.tif", values, **profile)
    keys = {"unit": unit} if unit else {}
    return read(tmp_path, slope={"file": "s.tif", **keys})[1]


@pytest.mark.parametrize(
    ("unit", "value"), [("percent", 20.0), ("degrees", np.rad2deg(np.arctan(0.2))), ("ratio", 0.2)]
)
def test_slope_in_every_unit_becomes_a_ratio(tmp_path, unit, value):
    source = slope_of(tmp_path, np.full((120, 130), value), unit)
    assert np.nanmax(np.abs(source.slope.values - 0.2)) < 1e-12
    assert source.heights is None
    assert source.aspect_deg is None


def test_the_unit_of_slope_is_told_by_the_values_or_asked_for(tmp_path):
    steep = np.full((120, 130), 20.0)
    with pytest.raises(InputError, match=r"slopes up to 20.0 may be percent or degrees.*Set inputs.slope.unit"):
        slope_of(tmp_path, steep)
    steep[60, 60] = 140.0
    source = slope_of(tmp_path, steep)
    assert source.slope.values.min() == pytest.approx(0.2)
    assert any("slope taken as percent, since its largest value is 140" in t for t in texts(source))
    assert any("taken as ratio" in t for t in texts(slope_of(tmp_path, np.full((120, 130), 0.2))))
    named = slope_of(tmp_path, np.full((120, 130), 45.0), units="degrees")
    assert named.slope.values.max() == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("value", "unit", "message"),
    [
        (-5.0, "percent", r"slopes can't be negative \(found -5\)"),
        (95.0, "degrees", "95 degrees is no slope"),
        (5.0, "grad", r"inputs.slope.unit: must be percent, degrees or ratio \(got 'grad'\)"),
    ],
)
def test_slopes_that_cannot_be(tmp_path, value, unit, message):
    with pytest.raises(InputError, match=message):
        slope_of(tmp_path, np.full((120, 130), value), unit)


def test_aspect_is_turned_to_the_grid_north_of_the_working_crs(tmp_path):
    # In zone 32 the field lies 6 degrees east of the meridian: its grid north points east of true north there.
    other = CRS.from_epsg(32632)
    corner = transform_geometries(np.array([FIELD.buffer(150)]), UTM, other)[0].bounds
    place = {"west": corner[0], "north": corner[3], "crs": "EPSG:32632"}
    write_raster(tmp_path / "s.tif", np.full((260, 260), 0.2), **place)
    write_raster(tmp_path / "a.tif", np.full((260, 260), 180.0), **place)
    inputs = {"slope": {"file": "s.tif", "unit": "ratio"}, "aspect": {"file": "a.tif"}}
    _, source = read(tmp_path, **inputs, working_crs="EPSG:32633")
    # downslope along grid south of zone 32, as a bearing in zone 33: from two points moved over
    x, y = transform_points(EAST + 50, NORTH + 40, UTM, other)
    down = transform_points([float(x)] * 2, [float(y), float(y) - 100], other, UTM)
    expected = np.rad2deg(np.arctan2(down[0][1] - down[0][0], down[1][1] - down[1][0])) % 360
    assert source.aspect_deg.sample(EAST + 50, NORTH + 40) == pytest.approx(expected, abs=0.01)
    assert expected == pytest.approx(180 + 4.25, abs=0.1)


def test_aspect_is_averaged_round_the_circle_and_level_ground_gets_a_direction(tmp_path):
    aspect = np.where(np.arange(260)[None, :] % 2 == 0, 359.0, 1.0) * np.ones((240, 1))
    slope = np.full((120, 130), 0.1)
    slope[60, 60] = 0.0
    aspect[120:122, 120:122] = -1.0
    write_raster(tmp_path / "s.tif", slope)
    write_raster(tmp_path / "a.tif", aspect, cell=1.0)
    _, source = read(tmp_path, slope={"file": "s.tif", "unit": "ratio"}, aspect={"file": "a.tif"})
    turned = source.aspect_deg
    off = np.abs((turned.values + 180) % 360 - 180)
    assert np.nanmax(off) < 1e-6
    assert turned.sample(EAST - 80 + 121, NORTH + 160 - 121) == 0.0
    with pytest.raises(InputError, match=r"directions must be 0 to 360"):
        write_raster(tmp_path / "a.tif", np.full((120, 130), 400.0))
        read(tmp_path, slope={"file": "s.tif", "unit": "ratio"}, aspect={"file": "a.tif"})
