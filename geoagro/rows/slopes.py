"""A surface and its gradient, read at any point without holes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import distance_transform_edt, map_coordinates

from geoagro.arrays import Floats
from geoagro.rows.loops.ground import frame_of, rises
from geoagro.values.grid import Grid


@dataclass(frozen=True, eq=False)
class Slopes:
    """Heights (metres) of a grid without gaps, and their change per metre east and north, one value per cell."""

    grid: Grid
    height: Floats
    east: Floats
    north: Floats

    @classmethod
    def of(cls, surface: Grid) -> Slopes:
        """Prepare a surface; cells without data take the nearest value."""
        height = filled(surface.values)
        south, east = np.gradient(height, surface.cell_m)
        return cls(surface, height, np.asarray(east), -np.asarray(south))

    def read(self, xy: Floats, normal: Floats) -> tuple[Floats, Floats]:
        """Heights at points, and how they change per metre along `normal`."""
        z, rise = np.empty(len(xy)), np.empty(len(xy))
        rises((self.height, self.east, self.north), frame_of(self.grid), xy, normal, (z, rise))
        return z, rise

    def gradient(self, xy: Floats) -> Floats:
        """Change of height per metre east and north at points, shape (n, 2)."""
        return np.column_stack(self._at(xy, self.east, self.north))

    def heights(self, x: Floats, y: Floats) -> Floats:
        """Heights on the lattice of all x with all y, shape (len(y), len(x))."""
        east, north = np.meshgrid(x, y)
        z = self._at(np.column_stack([east.ravel(), north.ravel()]), self.height)[0]
        return z.reshape(east.shape)

    def _at(self, xy: Floats, *layers: Floats) -> list[Floats]:
        place = list(self.grid.pixel(xy[:, 0], xy[:, 1]))
        return [map_coordinates(layer, place, order=1, mode="nearest") for layer in layers]


def filled(values: Floats) -> Floats:
    """Fill unknown cells from the nearest known one, so that a lattice wider than the data still has ground."""
    unknown = ~np.isfinite(values)
    if not unknown.any():
        return values
    nearest = distance_transform_edt(unknown, return_distances=False, return_indices=True)
    out: Floats = values[tuple(nearest)]
    return out
