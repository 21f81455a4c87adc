"""Read the user's climate: a small CSV with one line per month."""

from __future__ import annotations

import csv
from pathlib import Path

from geoagro.errors import InputError
from geoagro.values.season import Climate

COLUMNS = ("month", "rain_mm", "t_mean_c", "t_min_c")
_LIKELY = {"rain_mm": (0.0, 3000.0), "t_mean_c": (-50.0, 50.0), "t_min_c": (-60.0, 45.0)}


def read_climate(path: Path) -> Climate:
    """Read twelve lines `month,rain_mm,t_mean_c,t_min_c`, months 1 to 12 in any order.

    Raises InputError for a missing column, month or figure, for one that can't be meant, and for a minimum above the
    mean.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path.name}: can't be read as text ({error}). Save it as CSV in UTF-8.") from error
    lacking = [name for name in COLUMNS if not rows or name not in rows[0]]
    if lacking:
        raise InputError(f"{path.name}: no column {', '.join(lacking)}. The first line must read {','.join(COLUMNS)}.")
    by_month = dict(_months(rows, path.name))
    missing = [str(month) for month in range(1, 13) if month not in by_month]
    if missing or len(rows) != 12:
        told = f"month {', '.join(missing)} is missing" if missing else f"{len(rows)} lines instead of 12"
        raise InputError(f"{path.name}: {told}. Give one line for each month, 1 to 12.")
    rain, mean, low = zip(*(by_month[month] for month in range(1, 13)), strict=True)
    return Climate(path.name, rain, mean, low)


def _months(rows: list[dict[str, str]], name: str) -> list[tuple[int, tuple[float, ...]]]:
    return [(_month(row, number, name), _figures(row, number, name)) for number, row in enumerate(rows, 2)]


def _month(row: dict[str, str], line: int, name: str) -> int:
    text = (row["month"] or "").strip()
    if not text.isdigit() or not 1 <= int(text) <= 12:
        raise InputError(f"{name}:{line}: month must be 1 to 12 (got '{text}').")
    return int(text)


def _figures(row: dict[str, str], line: int, name: str) -> tuple[float, ...]:
    figures = []
    for key, (low, high) in _LIKELY.items():
        text = (row[key] or "").strip()
        try:
            value = float(text)
        except ValueError:
            raise InputError(f"{name}:{line}: {key} must be a number with a point (got '{text}').") from None
        if not low <= value <= high:
            raise InputError(f"{name}:{line}: {key} {value:g} lies outside {low:g} to {high:g}; check the unit.")
        figures.append(value)
    if figures[2] > figures[1]:
        raise InputError(f"{name}:{line}: t_min_c {figures[2]:g} is above t_mean_c {figures[1]:g}; are they swapped?")
    return tuple(figures)
