"""Rows that avoid inner low points where the design asks for it."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from landforms import broken, ground_of, rolling, square

from geoagro.planar.dents import deep_dents, heights_along
from geoagro.planar.polylines import Polylines
from geoagro.rows.candidates import weighed
from geoagro.rows.contour import contour_rows
from geoagro.rows.task import Task
from geoagro.values.design import RowRule

SIZE_M = 80.0
PLAIN = RowRule(thorough=False)
AVOIDING = RowRule(thorough=False, avoid_low_points=True)


def laid(shape, rule, **given):
    ground = ground_of(shape)
    return contour_rows(square(SIZE_M), ground, ground, rule, **given)


def weigh(lines, shape, longest_way_m=None):
    ground = ground_of(shape)
    task = replace(Task(square(SIZE_M), ground, ground, AVOIDING), longest_way_m=longest_way_m)
    return weighed(lines.kept, lines, task)


@pytest.fixture(scope="module", params=[broken, rolling], ids=["broken", "rolling"])
def both(request):
    return request.param, laid(request.param, PLAIN), laid(request.param, AVOIDING)


def test_what_is_preferred_is_never_worth_less_with_the_price_than_what_is_laid_without_it(both):
    shape, plain, avoiding = both
    assert weigh(avoiding, shape).preferred >= weigh(plain, shape).preferred - 1e-12


def test_what_it_costs_is_told_where_the_rows_differ_and_only_there(both):
    shape, plain, avoiding = both
    same = shapely.equals_exact(shapely.multilinestrings(plain.kept), shapely.multilinestrings(avoiding.kept), 0)
    assert bool(same) == (avoiding.findings == ())
    assert plain.findings == ()
    for finding in avoiding.findings:
        there, before = weigh(avoiding, shape), weigh(plain, shape)
        assert finding.text.startswith(f"{there.low_points} inner low points")
        assert finding.text.endswith(f"had {before.low_points} and {before.share:.3f}")


def test_low_points_are_counted_on_the_surface_that_rows_are_judged_on():
    lines = laid(broken, PLAIN)
    heights = heights_along(Polylines.read(lines.kept), ground_of(broken).sample)
    found = weigh(lines, broken)
    assert found.low_points == deep_dents(heights) > 0
    assert found.price == pytest.approx(15 * found.low_points * 4.5 / SIZE_M**2)


def test_a_way_that_is_too_long_has_a_price_too():
    lines = laid(broken, PLAIN)
    assert weigh(lines, broken, 5.0).price > weigh(lines, broken, 40.0).price >= weigh(lines, broken).price


def test_without_the_key_nothing_is_priced_and_a_given_way_changes_no_row():
    one, other = laid(rolling, PLAIN), laid(rolling, PLAIN, longest_way_m=5.0)
    assert np.array_equal(shapely.get_coordinates(one.kept), shapely.get_coordinates(other.kept))
