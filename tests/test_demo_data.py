import sys
from pathlib import Path

import numpy as np
import pyogrio
import rasterio
from shapely import contains_xy

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "data_demo"
sys.path.insert(0, str(ROOT / "scripts"))

import make_demo_data  # noqa: E402


def test_the_script_makes_the_files_that_are_kept(tmp_path):
    make_demo_data.main(tmp_path)
    with rasterio.open(tmp_path / "elevation.tif") as new, rasterio.open(DEMO / "elevation.tif") as kept:
        np.testing.assert_allclose(new.read(1), kept.read(1), atol=0.0101)  # one step of rounding between machines
        assert (new.crs, new.transform, new.nodata) == (kept.crs, kept.transform, kept.nodata)
    for layer in ("boundary", "spring", "track"):
        new, kept = (pyogrio.read_dataframe(folder / "farm.gpkg", layer=layer) for folder in (tmp_path, DEMO))
        assert new.equals(kept)


def test_everything_says_that_it_is_invented():
    assert "invented" in (DEMO / "SOURCES.md").read_text().lower()
    assert "invented" in (DEMO / "design.yaml").read_text().lower()
    for layer in ("boundary", "spring", "track"):
        assert "invented" in pyogrio.read_dataframe(DEMO / "farm.gpkg", layer=layer)["name"][0]


def test_it_is_small():
    assert sum(path.stat().st_size for path in DEMO.iterdir() if path.is_file()) < 1_000_000


def test_the_field_is_concave_has_a_hole_and_rolls():
    field = pyogrio.read_dataframe(DEMO / "farm.gpkg", layer="boundary").geometry[0]
    assert len(field.interiors) == 1
    assert 4e4 < field.area < 6e4
    assert field.convex_hull.area > 1.08 * field.area
    with rasterio.open(DEMO / "elevation.tif") as file:
        rows, columns = np.mgrid[: file.height, : file.width]
        x, y = rasterio.transform.xy(file.transform, rows.ravel(), columns.ravel())
        dy, dx = np.gradient(file.read(1).astype(float))
    slope = np.hypot(dx, dy).ravel()[contains_xy(field, x, y)]
    assert 0.05 < np.median(slope) < 0.20
