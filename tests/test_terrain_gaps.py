"""Gaps in a raster: which there are, how wide, in which order, and which of them are closed."""

import numpy as np
import pytest

from geoagro.errors import LayoutError
from geoagro.terrain.gaps import Gap, closed_gaps, gaps_in_field, refuse_large_gaps
from geoagro.values.grid import Grid

WEST, NORTH, CELL = 1000.0, 5000.0, 2.0


def torn(*cells, shape=(30, 40)):
    """Level ground of 2 m cells without a value in these rows and columns."""
    z = np.zeros(shape)
    for rows, columns in cells:
        z[rows, columns] = np.nan
    return Grid(z, WEST, NORTH, CELL, None)


def at(row, column):
    """Centre of a cell."""
    return WEST + (column + 0.5) * CELL, NORTH - (row + 0.5) * CELL


EVERYWHERE = np.ones((30, 40), dtype=bool)


def test_gaps_come_widest_first_then_by_area_then_from_west_to_east_and_south_to_north():
    grid = torn(
        (slice(3, 4), slice(30, 31)),  # single cells: as wide as each other
        (slice(3, 4), slice(4, 5)),
        (slice(9, 10), slice(4, 5)),
        (slice(14, 15), slice(20, 26)),  # a line of six: no wider than a cell, larger
        (slice(20, 23), slice(10, 13)),  # three by three
        (slice(20, 25), slice(30, 35)),  # five by five
    )
    found = gaps_in_field(grid, EVERYWHERE)
    assert found[0] == Gap(*at(22, 32), 10.0, 100.0)
    assert found[1] == Gap(*at(21, 11), 6.0, 36.0)
    assert (found[2].width_m, found[2].area_m2) == (2.0, 24.0)
    assert found[3:] == [Gap(*at(9, 4), 2.0, 4.0), Gap(*at(3, 4), 2.0, 4.0), Gap(*at(3, 30), 2.0, 4.0)]
    assert gaps_in_field(torn(), EVERYWHERE) == []


def test_cells_that_touch_at_a_corner_are_one_gap_and_the_field_s_edge_makes_it_no_narrower():
    (gap,) = gaps_in_field(torn((5, 5), (6, 6), (7, 5)), EVERYWHERE)
    assert gap.area_m2 == 12.0
    inside = EVERYWHERE.copy()
    inside[:, 12:] = False
    (gap,) = gaps_in_field(torn((slice(10, 15), slice(10, 15))), inside)  # two of its columns lie in the field
    assert (gap.x, gap.y) in [at(row, 11) for row in (11, 12, 13)]  # equally far from data
    assert (gap.width_m, gap.area_m2) == (6.0, 40.0)


def test_five_large_gaps_are_named_and_the_others_counted():
    cells = [(slice(2, 5), slice(c, c + 3)) for c in range(2, 37, 5)]
    grid = torn(*cells, (20, 20))
    assert len(refuse_large_gaps(grid, EVERYWHERE, max_gap_m=6.0)) == 8  # just as wide as is allowed
    with pytest.raises(LayoutError) as refused:
        refuse_large_gaps(grid, EVERYWHERE, max_gap_m=5.9)
    text = str(refused.value)
    assert "has 7 gap(s)" in text and text.count("6.0 m wide, 36 m²") == 5 and "and 2 more" in text
    with pytest.raises(LayoutError) as refused:
        refuse_large_gaps(torn(*cells[:5]), EVERYWHERE, max_gap_m=5.0)
    assert "more" not in str(refused.value).split("Give")[0]


def test_a_gap_is_closed_where_data_lie_all_round_it_inside_the_field():
    grid = torn((slice(5, 7), slice(5, 7)), (slice(9, 12), slice(18, 22)), (slice(20, 22), slice(0, 3)))
    inside = EVERYWHERE.copy()
    inside[:, 20:] = False
    closed = closed_gaps(grid, inside)
    assert closed[5:7, 5:7].all()
    assert not closed[9:12].any()  # open to the outside, also where it lies in the field
    assert not closed[20:22, 0].any()  # there is no ground beyond the raster's edge
    assert not closed[~np.isnan(grid.values)].any()


def test_a_gap_at_any_edge_of_the_raster_is_open():
    edges = torn((slice(0, 2), 10), (slice(28, 30), 10), (10, slice(0, 2)), (10, slice(38, 40)))
    closed = closed_gaps(edges, EVERYWHERE)
    assert not any(edge.any() for edge in (closed[0], closed[-1], closed[:, 0], closed[:, -1]))
