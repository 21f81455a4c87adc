"""The area of a field whose boundary points err, tried two thousand times: against an independent geometry library."""

import numpy as np
import pytest
import shapely

from geoagro.reports.boundary_error import DRAWS, SEED, _draw, simulated_sd

FIELD = shapely.Polygon([(0, 0), (90, 10), (100, 80), (20, 60)], [[(40, 30), (60, 30), (60, 40), (40, 45)]])


def test_two_thousand_boundaries_drawn_by_the_stated_seed_have_the_spread_that_is_told():
    """Every vertex moves east and north by normal errors of 2 m, ring after ring; their areas are the library's."""
    chance = np.random.default_rng(331)
    outline = shapely.orient_polygons(FIELD)
    rings = [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(outline)]
    areas = np.zeros(2000)
    for points, sign in zip(rings, (1, -1), strict=True):
        east, north = (2.0 * chance.standard_normal((len(points), 2000)) for _ in range(2))
        moved = np.stack([points[:, :1] + east, points[:, 1:] + north], axis=2).transpose(1, 0, 2)
        signed = [shapely.Polygon(xy).area * (1 if shapely.is_ccw(shapely.LinearRing(xy)) else -1) for xy in moved]
        assert np.sign(np.mean(signed)) == sign  # shells run one way, holes the other
        areas += signed
    assert simulated_sd(FIELD, 2.0) == pytest.approx(np.std(areas, ddof=1), rel=1e-9)
    assert (SEED, DRAWS) == (331, 2000)


def test_a_field_far_from_the_origin_errs_alike():
    far = shapely.transform(FIELD, lambda xy: np.asarray(xy) + np.array([5e5, 5e6]))
    assert simulated_sd(far, 2.0) == pytest.approx(simulated_sd(FIELD, 2.0), rel=1e-6)


def test_errors_along_a_ring_go_together_by_their_distance_on_it():
    """Vertices 10 m apart, correlation 20 m: exp(-.5) from one to the next, exp(-1) to the one after; all of spread 1."""
    points = np.column_stack([10.0 * np.arange(6), np.zeros(6)])
    errors = _draw(np.random.default_rng(1), points, 40_000, 20.0)
    alike = np.corrcoef(errors)
    assert errors.std(axis=1) == pytest.approx(1.0, abs=0.02)
    assert [alike[k, k + 1] for k in range(5)] == pytest.approx([np.exp(-0.5)] * 5, abs=0.02)
    assert alike[0, 2] == pytest.approx(np.exp(-1.0), abs=0.02)
    alone = _draw(np.random.default_rng(1), points, 100, 0.0)
    assert (alone == np.random.default_rng(1).standard_normal((6, 100))).all()
