"""Points from a text table: the corners of a field, or trees, wells and the like."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from geoagro.errors import CrsError, InputError
from geoagro.inputs.vector.features import Features

_EAST = ("x", "easting", "east", "e", "lon", "long", "longitude", "lng")
_NORTH = ("y", "northing", "north", "n", "lat", "latitude")
_DEGREES = ("lon", "long", "longitude", "lng", "lat", "latitude")


def read_point_list(path: Path, *, where: str, crs: CRS) -> Features:
    """Read points from a table whose first line names the columns.

    Columns are parted by comma, semicolon or tab; with semicolons or tabs a decimal comma is read too. One
    column is named x, easting, lon, ... and one y, northing, lat, ... (in any case, a unit in brackets or
    behind an underscore is ignored). A column `part` tells corners of several polygons apart.

    Raises InputError naming the line where a coordinate isn't a number, CrsError where columns of degrees
    meet a projected CRS.
    """
    table = _table(path, where)
    names = {name: _bare(name) for name in table.columns}
    east, north = _column(names, _EAST, where), _column(names, _NORTH, where)
    if names[east] in _DEGREES and crs.is_projected:
        raise CrsError(f"{where}: column '{east}' holds degrees, but {crs.name} is projected. Put `crs` right.")
    x, y = _numbers(table[east], where), _numbers(table[north], where)
    return Features(where, shapely.points(x, y), table, crs, "listed")


def _table(path: Path, where: str) -> Any:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{where}: isn't text in UTF-8; save it as UTF-8.") from error
    first = text.lstrip().splitlines()[0] if text.strip() else ""
    separator = max(";\t,", key=first.count)
    if separator not in first:
        raise InputError(f"{where}: the first line must name columns parted by , or ; (found '{first[:60]}').")
    try:
        table = pd.read_csv(
            io.StringIO(text), sep=separator, dtype=str, skipinitialspace=True, quoting=csv.QUOTE_MINIMAL, comment="#"
        )
    except (pd.errors.ParserError, pd.errors.EmptyDataError) as error:
        raise InputError(f"{where}: isn't a table ({str(error).strip()}).") from error
    table = table.dropna(how="all")
    if len(table) == 0:
        raise InputError(f"{where}: holds no points below its first line.")
    return table.reset_index(drop=True)


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
    text = column.str.strip()
    if not text.str.contains(".", regex=False).any():
        text = text.str.replace(",", ".", regex=False)  # 500000,25 as written in much of the world
    values = pd.to_numeric(text, errors="coerce")
    wrong = values.isna() | ~np.isfinite(values)
    if wrong.any():
        line = int(wrong.to_numpy().argmax())
        raise InputError(f"{where}: line {line + 2}: {column.name} is not a number ('{column[line]}').")
    return values.to_numpy(dtype=float)
