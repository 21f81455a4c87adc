"""How tightly lines bend."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Floats


def circle_radius(first: Floats, middle: Floats, last: Floats) -> Floats:
    """Radius of the circle through three points each, shape (n, 2): the sides' product over four times the area.

    Points in one line have a radius of trillions of metres.
    """
    a, b = first - middle, last - middle
    twice_area = np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    sides = np.hypot(*a.T) * np.hypot(*b.T) * np.hypot(*(b - a).T)
    radius: Floats = sides / (2 * np.maximum(twice_area, 1e-12))
    return radius
