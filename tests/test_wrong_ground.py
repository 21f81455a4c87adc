"""Ground that can't be what it is taken for is noticed, with the figure that gave it away."""

import numpy as np
import pytest
import shapely
from affine import Affine
from input_files import EAST, FIELD, NORTH, UTM, design, slope_north, write_raster, write_vector
from shapely import LineString, Polygon

from geoagro.errors import InputError
from geoagro.inputs.raster.ground_source import read_ground_source
from geoagro.inputs.site import read_site

import rasterio  # isort: skip
from rasterio.enums import ColorInterp  # isort: skip

RNG = np.random.default_rng(5)


def ground(folder, **inputs):
    asked = design(folder, **inputs)
    return read_ground_source(asked, read_site(asked))


def picture(path, bands, colours, *, table=False, scale=None):
    values = RNG.integers(0, 255, (bands, 120, 130)).astype("uint8")
    with rasterio.open(
        path, "w", driver="GTiff", dtype="uint8", count=bands, height=120, width=130, crs=UTM.to_wkt(),
        transform=Affine(2, 0, EAST - 80, 0, -2, NORTH + 160), photometric="RGB" if bands >= 3 else None,
    ) as file:  # fmt: skip
        file.write(values)
        if colours:
            file.colorinterp = colours
        if table:
            file.write_colormap(1, {k: (k, 0, 0, 255) for k in range(256)})
        if scale is not None:
            file.scales = (scale,) * bands


def test_a_photo_is_no_ground(tmp_path):
    rgb = [ColorInterp.red, ColorInterp.green, ColorInterp.blue]
    picture(tmp_path / "dem.tif", 3, rgb)
    with pytest.raises(InputError, match=r"is a picture \(3 bands of 8 bit, 3 of them colours\)"):
        ground(tmp_path)


def test_a_grey_photo_is_too_rough_for_ground(tmp_path):
    picture(tmp_path / "dem.tif", 1, None)
    with pytest.raises(InputError, match=r"half of the ground would be steeper than \d,\d+ %"):
        ground(tmp_path)


def test_a_palette_is_no_ground(tmp_path):
    picture(tmp_path / "dem.tif", 1, None, table=True)
    with pytest.raises(InputError, match="palette"):
        ground(tmp_path)


def test_a_band_scaled_by_zero_is_told(tmp_path):
    picture(tmp_path / "dem.tif", 1, None, scale=0.0)
    with pytest.raises(InputError, match="scaled by 0"):
        ground(tmp_path)


def test_ground_that_is_all_alike_is_doubted(tmp_path):
    write_raster(tmp_path / "dem.tif", np.full((120, 130), 200.0))
    assert any("all 1" in f.text and "hold 200 m" in f.text for f in ground(tmp_path).findings)


def test_heights_in_centimetres_are_noticed_and_read_where_told(tmp_path):
    write_raster(tmp_path / "dem.tif", slope_north(base=10.0) * 100)
    with pytest.raises(InputError, match=r"steeper than 1,000 %.*set inputs\.elevation\.unit to cm"):
        ground(tmp_path)
    read = ground(tmp_path, elevation={"file": "dem.tif", "unit": "cm"})
    assert float(np.nanmin(read.heights.values)) == pytest.approx(slope_north(base=10.0).min(), abs=3.0)
    write_raster(tmp_path / "dem.tif", slope_north(base=10.0, grade=0.006) * 100)
    assert any("steeper than 60 %" in f.text for f in ground(tmp_path).findings)


@pytest.mark.parametrize(("cell_m", "told"), [(2.0, False), (5.0, False), (10.0, True), (25.0, True)])
def test_what_coarse_cells_hide_is_told_with_their_width(tmp_path, cell_m, told):
    count = int(400 / cell_m)
    y = np.repeat(np.arange(count)[::-1, None] * cell_m, count, axis=1)
    write_raster(tmp_path / "dem.tif", 100 + 0.0613 * y, west=EAST - 120, north=NORTH + 240, cell=cell_m)
    notes = [f.text for f in ground(tmp_path).findings if "between them is taken to be smooth" in f.text]
    assert bool(notes) is told
    assert all(f"about {cell_m:.0f} m wide" in text and f"about {2 * cell_m:.0f} m aren't" in text for text in notes)


def cone():
    y, x = np.mgrid[0:120, 0:130] * 2.0
    away = np.hypot(x - 130, y - 120)
    heights = 300 - 20 * np.exp(-((away / 60) ** 2))
    north, east = np.gradient(heights, 2.0)
    return np.hypot(north, east) * 100, np.mod(np.rad2deg(np.arctan2(-east, north)), 360)


def slope_and_aspect(folder, aspect):
    write_raster(folder / "slope.tif", cone()[0])
    write_raster(folder / "aspect.tif", aspect)
    return ground(folder, slope={"file": "slope.tif", "unit": "percent"}, aspect={"file": "aspect.tif"})


def test_aspect_that_fits_is_not_doubted_and_one_that_does_not_is(tmp_path):
    _, aspect = cone()
    assert not [f for f in slope_and_aspect(tmp_path, aspect).findings if "one ground" in f.text]
    for wrong in (np.mod(aspect + 90, 360), RNG.uniform(0, 360, aspect.shape), np.mod(90 - aspect, 360)):
        told = [f.text for f in slope_and_aspect(tmp_path, wrong).findings if "don't belong to one ground" in f.text]
        assert told
        assert "%" in told[0]


def test_directions_in_radians_are_recognised(tmp_path):
    with pytest.raises(InputError, match=r"directions run from 0\.\d+ to 6\.\d+, which is the circle in radians"):
        slope_and_aspect(tmp_path, np.deg2rad(cone()[1]))


def level_lines():
    return [LineString([(EAST - 50, NORTH + y), (EAST + 150, NORTH + y)]) for y in range(-40, 120, 10)]


@pytest.mark.parametrize(
    ("more", "height", "told"),
    [
        ([LineString([(EAST - 50, NORTH + 40), (EAST + 150, NORTH + 40)])], 999.0, "lie on each other with different heights"),
        ([LineString([(EAST + 20, NORTH - 30), (EAST + 25, NORTH + 100)])], 205.0, r"\d+ pair\(s\) of contours .* cross"),
    ],
)  # fmt: skip
def test_contours_that_can_not_be_are_refused(tmp_path, more, height, told):
    lines = level_lines()
    heights = [200.0 + k for k in range(len(lines))]
    write_vector(tmp_path / "c.gpkg", lines, elev=heights)
    assert ground(tmp_path, contours={"file": "c.gpkg"}).contours is not None
    write_vector(tmp_path / "c.gpkg", [*lines, *more], elev=[*heights, height])
    with pytest.raises(InputError, match=told):
        ground(tmp_path, contours={"file": "c.gpkg"})


def test_a_hole_outside_its_outline_never_becomes_ground(tmp_path):
    hole = shapely.affinity.translate(FIELD, 300, 0)
    write_vector(tmp_path / "field.gpkg", [Polygon(FIELD.exterior.coords, [hole.exterior.coords])])
    site = read_site(design(tmp_path))
    assert site.boundary.area == pytest.approx(FIELD.area)
    assert any("hole lies outside its outline" in f.text for f in site.findings)
