"""Reading grids between and beside the middles of their cells."""

import numpy as np
import pytest
from builders import UTM

from geoagro.values.grid import Grid

# values 0 to 5 on cells of 2 m: two rows, three columns; the plane z = x / 2 - 1.5 y + 4 about the south-west corner
GRID = Grid(np.array([[0.0, 1.0, 2.0], [3.0, 4.0, 5.0]]), west=100.0, north=204.0, cell_m=2.0, crs=UTM)


def test_middles_of_cells_have_their_own_value():
    x, y = np.meshgrid(GRID.x, GRID.y)
    assert (x[0].tolist(), y[:, 0].tolist()) == ([101.0, 103.0, 105.0], [203.0, 201.0])
    assert np.array_equal(GRID.sample(x, y), GRID.values)


@pytest.mark.parametrize(
    ("x", "y", "value"),
    [
        (102.0, 203.0, 0.5),  # between two middles
        (102.0, 202.0, 2.0),  # between four: the mean of 0, 1, 3, 4
        (103.5, 202.5, 2.0),  # bilinear by hand: 1.25 + 0.25 x 3
        (100.0, 203.0, 0.0),  # the west edge, half a cell out: the cell's own value
        (106.0, 201.0, 5.0),  # the east edge
        (103.0, 204.0, 1.0),  # the north edge
        (103.0, 200.0, 4.0),  # the south edge
        (106.0, 200.0, 5.0),  # a corner
    ],
)
def test_between_middles_values_are_bilinear_and_to_the_edge_the_last_one_holds(x, y, value):
    assert GRID.sample(x, y) == pytest.approx(value)


@pytest.mark.parametrize(("x", "y"), [(99.99, 202.0), (106.01, 202.0), (103.0, 204.01), (103.0, 199.99)])
def test_beyond_the_edge_nothing_is_known(x, y):
    assert np.isnan(GRID.sample(x, y))


def test_next_to_an_unknown_cell_nothing_is_known():
    grid = GRID.with_values(np.where(GRID.values == 4, np.nan, GRID.values))
    assert np.isnan(grid.sample(102.0, 202.0))


def test_other_values_must_have_the_same_shape():
    with pytest.raises(ValueError, match="differs from"):
        GRID.with_values(np.zeros((3, 2)))
