import numpy as np
import pytest
from builders import UTM
from hypothesis import given, settings
from hypothesis import strategies as st

from geoagro.terrain.continuation import continued
from geoagro.values.grid import Grid

ROWS, COLUMNS = 30, 40


def known_part(values, side, cells):
    """Values with all but `cells` rows or columns at one side of the raster unknown: data that reach its very edge."""
    known = np.zeros(values.shape, dtype=bool)
    place = {"north": np.s_[:cells], "south": np.s_[-cells:], "west": np.s_[:, :cells], "east": np.s_[:, -cells:]}
    known[place[side]] = True
    return np.where(known, values, np.nan)


@pytest.mark.parametrize("side", ["north", "south", "west", "east"])
@pytest.mark.parametrize("cells", [2, 3, 7])
@given(east=st.floats(-0.3, 0.3), south=st.floats(-0.3, 0.3))
@settings(max_examples=8)
def test_a_plane_is_continued_exactly_also_from_data_at_the_rasters_edge(side, cells, east, south):
    down, right = np.mgrid[0:ROWS, 0:COLUMNS].astype(float)
    plane = 200 + east * right + south * down
    grid = Grid(known_part(plane, side, cells), 500_000.0, 5_000_000.0, 1.0, UTM)
    got = continued(grid, region=np.ones(plane.shape, dtype=bool), sigma_m=2.0)
    np.testing.assert_allclose(got.values, plane, atol=1e-6)


def test_cells_outside_the_region_stay_unknown():
    down, right = np.mgrid[0:ROWS, 0:COLUMNS].astype(float)
    grid = Grid(known_part(down + right, "west", 10), 500_000.0, 5_000_000.0, 1.0, UTM)
    region = right < 25
    got = continued(grid, region=region, sigma_m=2.0).values
    assert np.isfinite(got[region]).all()
    assert np.isnan(got[~region]).all()
