"""Read the user's climate: a small CSV with one line per month."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from geoagro.errors import InputError
from geoagro.inputs.vector.text_table import number, read_text, table_of
from geoagro.values.season import Climate

COLUMNS = ("month", "rain_mm", "t_mean_c", "t_min_c")
_LIKELY = {"rain_mm": (0.0, 3000.0), "t_mean_c": (-50.0, 50.0), "t_min_c": (-60.0, 45.0)}


def read_climate(path: Path) -> Climate:
    """Read twelve lines `month,rain_mm,t_mean_c,t_min_c`, months 1 to 12 in any order.

    Columns are separated by comma, semicolon or tab; with the last two a decimal comma is read too.

    Raises InputError for a missing column, month or figure, for one that can't be meant, and for a minimum above the
    mean.
    """
    where = f"season.climate.file ({path.name})"
    table = table_of(read_text(path, where=where), where=where)
    table.columns = [str(name).lower() for name in table.columns]
    lacking = [name for name in COLUMNS if name not in table]
    if lacking:
        raise InputError(f"{where}: no column {', '.join(lacking)}. The first line must read {','.join(COLUMNS)}.")
    by_month = {_month(text, f"{where}: line {line}"): line for line, text in table["month"].items()}
    missing = [str(month) for month in range(1, 13) if month not in by_month]
    if missing or len(table) != 12:
        told = f"month {', '.join(missing)} is missing" if missing else f"{len(table)} lines instead of 12"
        raise InputError(f"{where}: {told}. Give one line for each month, 1 to 12.")
    figures = {name: _figures(table[name], where) for name in _LIKELY}
    _refuse_minimum_above_mean(figures, where)
    rain, mean, low = (tuple(figures[name][by_month[month]] for month in range(1, 13)) for name in _LIKELY)
    return Climate(path.name, rain, mean, low)


def _month(text: str | None, place: str) -> int:
    found = number(text)
    if found not in range(1, 13):
        raise InputError(f"{place}: month must be 1 to 12 (got '{text or ''}').")
    return int(found)


def _figures(column: Any, where: str) -> dict[int, float]:
    """Figures of a column by the line that they stand in."""
    low, high = _LIKELY[column.name]
    comma = not column.str.contains(".", regex=False, na=False).any()
    figures = {line: number(text, comma=comma) for line, text in column.items()}
    for line, value in figures.items():
        if math.isnan(value):
            text = column[line] or ""
            raise InputError(f"{where}: line {line}: {column.name} must be a number (got '{text[:40]}').")
        if not low <= value <= high:
            raise InputError(
                f"{where}: line {line}: {column.name} {value:g} lies outside {low:g} to {high:g}; check the unit."
            )
    return figures


def _refuse_minimum_above_mean(figures: dict[str, dict[int, float]], where: str) -> None:
    for line, low in figures["t_min_c"].items():
        if low > (mean := figures["t_mean_c"][line]):
            raise InputError(f"{where}: line {line}: t_min_c {low:g} is above t_mean_c {mean:g}; are they swapped?")
