"""What the columns of surveys are called, and what stands in them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import shapely

from geoagro.errors import InputError
from geoagro.inputs.survey.status import status_word

NAMES = ("mark", "name", "point", "stake", "plant", "label", "id")
POSITIONS = ("position",)
CROPS = ("crop", "species", "tree")
PHOTOS = ("photo", "picture", "image")
BEARINGS = ("bearing_deg", "bearing", "direction_deg")
NOTES = ("note", "notes", "remark")
STEMS = ("dbh_cm", "diameter_cm")
TALL = ("tree_height_m",)
_STATUSES = ("status", "state", "condition", "desc", "description", "cmt", "comment")
_STATUS_ONLY = ("status", "state", "condition")
_HEIGHTS = ("z", "height", "elevation", "ele", "z_m")
_DATES = ("date", "time", "surveyed")


def texts(table: pd.DataFrame, wanted: tuple[str, ...]) -> list[str]:
    """Values of the first of the wanted columns that the table has and that isn't empty throughout."""
    for name in wanted:
        if name in table and table[name].notna().any():
            return [_text(value) for value in table[name]]
    return [""] * len(table)


def _text(value: object) -> str:
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()


def status(where: str, table: pd.DataFrame) -> list[str]:
    """Read a status from its own column, or as a word in a description."""
    said = texts(table, _STATUSES)
    own = any(name in table and table[name].notna().any() for name in _STATUS_ONLY)
    out = [status_word(text) for text in said]
    if own:
        unknown = sorted({text for text, word in zip(said, out, strict=True) if text and not word})
        if unknown:
            raise InputError(
                f"{where}: status '{unknown[0]}' isn't known{f' (and {len(unknown) - 1} more)' if unknown[1:] else ''}. "
                "Write planted, replaced, dead, missing or not looked at, or leave it empty."
            )
    return out


def heights(geometries: Any, table: Any) -> Any:
    """Heights of the points (n,) in metres: their own, else those of the column of heights; NaN where neither tells."""
    if shapely.has_z(geometries).all():
        return shapely.get_z(geometries)
    return measured(table, _HEIGHTS)


def measured(table: Any, wanted: tuple[str, ...]) -> Any:
    """Numbers of the first of the wanted columns that the table has; NaN where none or not a number."""
    for name in wanted:
        if name in table:
            return pd.to_numeric(table[name], errors="coerce").to_numpy(dtype=float)
    return np.full(len(table), np.nan)


def days(table: Any) -> Any:
    """Days and times (UTC) in the first column of dates that holds any; none where no column does."""
    for name in _DATES:
        if name not in table:
            continue
        found = pd.to_datetime(table[name], errors="coerce", utc=True).dropna()
        if len(found):
            return found
    return pd.to_datetime(pd.Series([], dtype=object), utc=True)
