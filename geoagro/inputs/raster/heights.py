"""Heights from a raster: in metres, with undeclared no-data found out."""

from __future__ import annotations

import numpy as np
from pyproj import CRS

from geoagro.errors import InputError
from geoagro.inputs.raster.file import JUMP_FROM_ZERO, RasterWindow
from geoagro.values.site import Finding
from geoagro.values.words import Sentence

US_SURVEY_FOOT = 1200.0 / 3937.0

UNITS: dict[str, float] = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1.0),
    **dict.fromkeys(("ft", "foot", "feet", "international foot"), 0.3048),
    **dict.fromkeys(
        ("us-ft", "ftus", "us survey foot", "us survey feet", "us_survey_foot", "foot_us", "us ft", "survey foot"),
        US_SURVEY_FOOT,
    ),
    "cm": 0.01,
    "mm": 0.001,
    "dm": 0.1,
    "km": 1000.0,
}

LOWEST_M, HIGHEST_M = -450.0, 8850.0
"""Land lies between the shore of the Dead Sea and the top of Mount Everest; rounded outward. From memory."""


def heights_in_metres(window: RasterWindow, unit: str | None, *, key: str) -> RasterWindow:
    """Bring heights to metres, take out undeclared zeros, and refuse what can't be heights of land."""
    factor, finding = metres_per_unit(window, unit, key=key)
    window = window.with_values(window.values * factor, *finding)
    window = _without_zero_plateau(window)
    known = window.values[np.isfinite(window.values)]
    if len(known) == 0:
        raise InputError(f"{window.where}: holds no data over the field. Give another raster.")
    if known.min() < LOWEST_M or known.max() > HIGHEST_M:
        raise InputError(
            f"{window.where}: heights from {known.min():g} to {known.max():g} m aren't land. Set {key}.unit or "
            f"{key}.band, or {key}.nodata if one of them stands for no data."
        )
    return window


def _without_zero_plateau(window: RasterWindow) -> RasterWindow:
    """Take exact zeros as no data if no other height is within 10 m, and one cell, of zero.

    Ground that truly runs out to zero has heights between; a jump of more than the cell's width nowhere
    bridged is the edge of the data.
    """
    values = window.values
    zero = values == 0.0
    others = values[np.isfinite(values) & ~zero]
    if not zero.any() or len(others) == 0:
        return window
    if np.abs(others).min() <= max(JUMP_FROM_ZERO, _cell_in_file(window)):
        return window
    text = Sentence(
        "{count} {count:cell holds|cells hold} 0, far below all others; taken as no data though the file "
        "doesn't declare it",
        count=int(zero.sum()),
    )
    return window.with_values(np.where(zero, np.nan, values), Finding("repair", window.where, text))


def _cell_in_file(window: RasterWindow) -> float:
    side = float(np.sqrt(abs(window.transform.determinant)))
    return side * 111_320.0 if window.crs.is_geographic else side


def metres_per_unit(window: RasterWindow, unit: str | None, *, key: str) -> tuple[float, tuple[Finding, ...]]:
    """Metres in one unit of height: as the design says, else the band, else the vertical CRS, else metres.

    Raises InputError for an unknown unit, and where positions are in feet but the heights' unit is stated
    nowhere, since guessing would put slopes wrong by a factor of three.
    """
    if unit is not None:
        if unit.lower() not in UNITS:
            raise InputError(f"{key}.unit: must be m, ft or us-ft (got '{unit}').")
        factor = UNITS[unit.lower()]
        if window.unit and UNITS.get(window.unit, factor) != factor:
            text = Sentence(
                "the file says heights are in {unit}; the design's unit, {own}, is used", unit=window.unit, own=unit
            )
            return factor, (Finding("warning", window.where, text),)
        return factor, ()
    if window.unit:
        if window.unit not in UNITS:
            raise InputError(f"{window.where}: heights are in '{window.unit}', which isn't known; set {key}.unit.")
        return UNITS[window.unit], _converted(window, window.unit, "its band")
    if window.vertical is not None:
        axis = window.vertical.axis_info[0]
        return float(axis.unit_conversion_factor), _converted(window, axis.unit_name, "its vertical CRS")
    return 1.0, _assumed(window, key)


def _converted(window: RasterWindow, unit: str, by: str) -> tuple[Finding, ...]:
    if UNITS.get(unit.lower()) == 1.0:
        return ()
    return (
        Finding(
            "note", window.where, Sentence("heights converted from {unit} (stated by {by}) to metres", unit=unit, by=by)
        ),
    )


def _assumed(window: RasterWindow, key: str) -> tuple[Finding, ...]:
    if _in_feet(window.crs):
        raise InputError(
            f"{window.where}: positions are in {window.crs.axis_info[0].unit_name}, and the unit of heights is stated "
            f"nowhere. Set {key}.unit to m, ft or us-ft."
        )
    text = Sentence("no unit stated; heights taken as metres (set {key}.unit if they aren't)", key=key)
    return (Finding("note", window.where, text),)


def _in_feet(crs: CRS) -> bool:
    return crs.is_projected and abs(float(crs.axis_info[0].unit_conversion_factor) - 1.0) > 1e-9
