"""A north-up raster in the working CRS, and how to read it between its cell centres."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy
from numpy.typing import ArrayLike
from pyproj import CRS

from geoagro.arrays import Floats
from geoagro.errors import CrsError
from geoagro.values.base.value import Value


@dataclass(frozen=True, eq=False, repr=False)
class Grid(Value):
    """Values at cell centres; row 0 is the northern edge; NaN where nothing is known.

    Attributes
    ----------
    values
        Shape (rows, columns).
    west, north
        Outer corner of the north-western cell, metres in the working CRS.
    cell_m
        Width and height of a cell (cells are square).
    crs
        The working CRS (a pyproj.CRS), carried so that mixing is caught.

    >>> from geoagro import example_layout
    >>> example_layout().terrain.slope
    Grid: values 80 x 108 float64; west 499974; north 5.00005e+06; cell_m 1; crs EPSG:32633
    """

    values: Floats
    west: float
    north: float
    cell_m: float
    crs: CRS | None

    def __post_init__(self) -> None:
        if self.values.ndim != 2:
            raise ValueError("a grid has two dimensions")
        if not self.cell_m > 0:
            raise ValueError(f"cell size {self.cell_m} must be above 0")

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east, north of the outer cell edges, metres."""
        rows, columns = self.values.shape
        return (
            self.west,
            self.north - rows * self.cell_m,
            self.west + columns * self.cell_m,
            self.north,
        )

    @property
    def known_crs(self) -> CRS:
        """The working CRS; raises CrsError for a grid of a model that lies nowhere."""
        if self.crs is None:
            raise CrsError("This grid has no CRS, so its place on the earth isn't known.")
        return self.crs

    @property
    def x(self) -> Floats:
        """Easting of the cell centres of each column, metres."""
        x: Floats = self.west + (np.arange(self.values.shape[1], dtype=np.float64) + 0.5) * self.cell_m
        return x

    @property
    def y(self) -> Floats:
        """Northing of the cell centres of each row (falling), metres."""
        y: Floats = self.north - (np.arange(self.values.shape[0], dtype=np.float64) + 0.5) * self.cell_m
        return y

    def with_values(self, values: Floats) -> Grid:
        """Return another grid on the same cells."""
        if values.shape != self.values.shape:
            raise ValueError(f"shape {values.shape} differs from {self.values.shape}")
        return replace(self, values=values)

    def pixel(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Fractional (row, column) of points, counted between cell centres."""
        return (self.north - y) / self.cell_m - 0.5, (x - self.west) / self.cell_m - 0.5

    def sample(self, x: ArrayLike, y: ArrayLike) -> Floats:
        """Bilinear values at points; within half a cell of the edge the edge value holds; NaN outside.

        A point whose four surrounding cells aren't all known gives NaN.

        >>> g = Grid(np.array([[0.0, 1.0], [2.0, 3.0]]), west=0.0, north=2.0, cell_m=1.0, crs=None)
        >>> float(g.sample(1.0, 1.0))
        1.5
        """
        x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
        row, column = self.pixel(x, y)
        flat = [np.ravel(row), np.ravel(column)]
        out: Floats = scipy.ndimage.map_coordinates(self.values, flat, order=1, mode="nearest").reshape(row.shape)
        rows, columns = self.values.shape
        inside = (row >= -0.5) & (row <= rows - 0.5) & (column >= -0.5) & (column <= columns - 0.5)
        return np.where(inside, out, np.nan)
