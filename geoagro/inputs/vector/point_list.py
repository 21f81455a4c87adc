"""Points from a text table: the corners of a field, or trees, wells and the like."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj import CRS

from geoagro.errors import CrsError, InputError
from geoagro.inputs.vector.features import Features
from geoagro.inputs.vector.text_table import number, read_text, table_of

_EAST = ("x", "easting", "east", "e", "lon", "long", "longitude", "lng")
_NORTH = ("y", "northing", "north", "n", "lat", "latitude")
_DEGREES = ("lon", "long", "longitude", "lng", "lat", "latitude")


def read_point_list(path: Path, *, where: str, crs: CRS) -> Features:
    """Read points from a table whose first line names the columns.

    Columns are separated by comma, semicolon or tab; with semicolons or tabs a decimal comma is read too. One
    column is named x, easting, lon, ... and one y, northing, lat, ... (in any case, a unit in brackets or
    behind an underscore is ignored). A column `part` tells corners of several polygons apart.

    Raises InputError naming the line where a coordinate isn't a number, CrsError where columns of degrees
    meet a projected CRS.
    """
    table = table_of(read_text(path, where=where), where=where)
    names = {name: _bare(name) for name in table.columns}
    east, north = _column(names, _EAST, where), _column(names, _NORTH, where)
    if names[east] in _DEGREES and crs.is_projected:
        raise CrsError(f"{where}: column '{east}' holds degrees, but {crs.name} is projected. Put `crs` right.")
    x, y = _numbers(table[east], where), _numbers(table[north], where)
    return Features(where, shapely.points(x, y), table.reset_index(drop=True), crs, "listed")


def has_coordinates(first_line: str) -> bool:
    """Tell whether the line that names the columns names any coordinate.

    >>> has_coordinates("plant;status"), has_coordinates("name, Easting [m], north_m")
    (False, True)
    """
    parted = first_line.split(max(";\t,", key=first_line.count))
    return any(_bare(name.strip().strip('"')) in {*_EAST, *_NORTH} for name in parted)


def _bare(name: str) -> str:
    """Column name without its unit.

    >>> _bare("Easting [m]"), _bare("x_m"), _bare("LON")
    ('easting', 'x', 'lon')
    """
    return re.sub(r"(\s*[\[(].*|_m|_deg|_dd)$", "", str(name).strip().lower())


def _column(names: dict[str, str], wanted: tuple[str, ...], where: str) -> str:
    found = [name for name, bare in names.items() if bare in wanted]
    if len(found) == 1:
        return found[0]
    raise InputError(
        f"{where}: needs one column named {', '.join(wanted[:2])} or {wanted[-1]} "
        f"(found {', '.join(found) or 'none'} among {', '.join(names)})."
    )


def _numbers(column: Any, where: str) -> Any:
    """Coordinates of a column; 500000,25 is written in much of the world."""
    comma = not column.str.contains(".", regex=False, na=False).any()
    values = np.array([number(text, comma=comma) for text in column])
    if np.isnan(values).any():
        first = int(np.isnan(values).argmax())
        text = column.iloc[first]
        told = f"not a number ('{text[:40]}')" if text else "missing"
        raise InputError(
            f"{where}: line {column.index[first]}: {column.name} is {told}. Put the line right, or take it out."
        )
    return values
