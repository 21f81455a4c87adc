"""Rows as the level lines of the row field."""

from __future__ import annotations

import contourpy
import numpy as np
from shapely import LineString

from geoagro.arrays import Floats
from geoagro.rows.lattice import Lattice


def level_lines(lattice: Lattice, phi: Floats, spacing_m: float, phase: float) -> list[LineString]:
    """Lines phi = (k + phase) d for every whole k, from the lowest up."""
    image = lattice.image(phi)
    generator = contourpy.contour_generator(x=lattice.x, y=lattice.y, z=image, name="serial")
    low, high = float(np.nanmin(image)) / spacing_m - phase, float(np.nanmax(image)) / spacing_m - phase
    found = [
        LineString(np.asarray(line, dtype=float))
        for k in range(int(np.ceil(low)), int(np.floor(high)) + 1)
        for line in generator.lines((k + phase) * spacing_m)
        if len(line) > 1
    ]
    return [line for line in found if line.length > 0]
