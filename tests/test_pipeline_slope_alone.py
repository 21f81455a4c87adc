"""A field whose ground is known by a slope raster alone: steepness without direction."""

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from affine import Affine
from shapely import box

import geoagro
from geoagro.rows.quality_table import GRADE_MAX

DESIGN = """
name: slope alone
inputs:
  boundary: {{file: field.gpkg}}
  slope: {{file: slope.tif, unit: percent}}
rows: {{method: {method}, bearing_deg: 90}}
plantings:
  - {{crop: apple, bed: tree, spacing_m: 4}}
"""


@pytest.fixture
def folder(tmp_path):
    gpd.GeoDataFrame(geometry=[box(500_000, 5_000_000, 500_080, 5_000_060)], crs=32633).to_file(tmp_path / "field.gpkg")
    profile = {"driver": "GTiff", "height": 120, "width": 140, "count": 1, "dtype": "float32", "crs": "EPSG:32633"}
    transform = Affine(1, 0, 499_970, 0, -1, 5_000_090)
    with rasterio.open(tmp_path / "slope.tif", "w", transform=transform, **profile) as target:
        target.write(np.full((120, 140), 6.0, dtype="float32"), 1)
    return tmp_path


def laid(folder, method):
    (folder / "design.yaml").write_text(DESIGN.format(method=method))
    return geoagro.layout(folder / "design.yaml")


def test_straight_rows_are_laid_without_contours_heights_or_grades(folder):
    layout = laid(folder, "straight")
    assert len(layout.rows.frame) == 13  # 58 m of plantable depth carries 13 rows 4.5 m apart
    assert len(layout.contours) == 0
    assert layout.plants.frame["z"].isna().all()
    assert GRADE_MAX not in layout.tables.layout_quality


def test_contour_rows_are_refused_with_the_remedy(folder):
    with pytest.raises(geoagro.LayoutError, match=r"no direction.*aspect.*straight or guide"):
        laid(folder, "contour")
