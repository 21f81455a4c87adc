"""Rows of a table, read cell by cell as what they hold: a text, a number, a day or a geometry."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats, Ints, Shapes


class Record:
    """One row of a table; a cell is asked for by its column and by what it holds.

    Raises KeyError for a column that isn't there and TypeError for a cell that holds something else.
    """

    __slots__ = ("_cells",)

    def __init__(self, cells: Mapping[str, object]) -> None:
        self._cells = cells

    def text(self, column: str) -> str:
        """Give the text of a cell; empty where the cell is."""
        cell = self._cells[column]
        return "" if _is_empty(cell) else str(cell)

    def number(self, column: str) -> float:
        """Give the number in a cell; NaN where the cell is empty."""
        cell = self._cells[column]
        if _is_empty(cell):
            return float("nan")
        if not isinstance(cell, int | float):
            raise TypeError(f"{column} holds {type(cell).__name__}, no number.")
        return float(cell)

    def whole(self, column: str) -> int:
        """Give the whole number in a cell."""
        cell = self._cells[column]
        if not isinstance(cell, int):
            raise TypeError(f"{column} holds {type(cell).__name__}, no whole number.")
        return int(cell)

    def is_true(self, column: str) -> bool:
        """Tell whether a cell that holds yes or no says yes."""
        cell = self._cells[column]
        if not isinstance(cell, bool):
            raise TypeError(f"{column} holds {type(cell).__name__}, not yes or no.")
        return cell

    def day(self, column: str) -> pd.Timestamp | None:
        """Give the day in a cell; None where the cell is empty."""
        cell = self._cells[column]
        return None if _is_empty(cell) else pd.Timestamp(cell)  # type: ignore[arg-type]  # it says itself what isn't one

    def shape(self, column: str = "geometry") -> BaseGeometry:
        """Give the geometry in a cell."""
        cell = self._cells[column]
        if not isinstance(cell, BaseGeometry):
            raise TypeError(f"{column} holds {type(cell).__name__}, no geometry.")
        return cell


def records(table: pd.DataFrame) -> Iterator[Record]:
    """Give the rows of a table one by one.

    >>> [(r.text("crop"), r.number("kg")) for r in records(pd.DataFrame({"crop": ["oca", None], "kg": [2, 3.5]}))]
    [('oca', 2.0), ('', 3.5)]
    """
    names = [str(name) for name in table.columns]
    for cells in zip(*(table[name].tolist() for name in table.columns), strict=True):
        yield Record(dict(zip(names, cells, strict=True)))


def _is_empty(cell: object) -> bool:
    return cell is None or cell is pd.NaT or cell is pd.NA or (isinstance(cell, float) and cell != cell)  # noqa: PLR0124


def ints(table: pd.DataFrame, column: str) -> Ints:
    """Whole numbers of a column."""
    return np.asarray(table[column].to_numpy(), dtype=np.int64)


def floats(table: pd.DataFrame, column: str) -> Floats:
    """Numbers of a column; NaN where a cell is empty."""
    return np.asarray(table[column].to_numpy(), dtype=np.float64)


def shapes(table: gpd.GeoDataFrame) -> Shapes:
    """Geometries of a layer."""
    return np.asarray(table.geometry.to_numpy(), dtype=object)
