"""Which area each point lies in: the first one, in whatever runs points are looked at."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from geoagro.planar import inside
from geoagro.planar.inside import owners_of


@pytest.mark.parametrize("run", [1, 7, 300, 10_000])
def test_the_first_area_that_a_point_lies_in_is_found_whatever_is_looked_at_at_once(run, monkeypatch):
    monkeypatch.setattr(inside, "_RUN", run)
    rng = np.random.default_rng(2)
    xy = rng.uniform(0, 30, (400, 2))
    areas = shapely.buffer(shapely.points(rng.uniform(0, 30, (6, 2))), 5.0)
    holds = np.asarray(shapely.intersects_xy(areas[:, None], *xy.T[:, None]))
    wanted = np.where(holds.any(axis=0), holds.argmax(axis=0), -1)
    assert owners_of(xy, areas).tolist() == wanted.tolist()
    assert (wanted == -1).any()
    assert holds.sum(axis=0).max() > 1
    assert owners_of(xy[:0], areas).tolist() == []


def test_a_point_on_an_edge_belongs_to_the_first_area_that_it_bounds():
    areas = np.array([shapely.box(0, 0, 1, 1), shapely.box(1, 0, 2, 1)], dtype=object)
    assert owners_of(np.array([[1.0, 0.5], [1.5, 1.0], [5.0, 5.0]]), areas, otherwise=9).tolist() == [0, 1, 9]
