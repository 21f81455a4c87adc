"""Names of columns for formats that hold ten letters."""

from __future__ import annotations

from collections.abc import Sequence

LONGEST = 10


def short_names(names: Sequence[str], longest: int = LONGEST) -> dict[str, str]:
    """Shorten names so that they fit, stay told apart (small letters or not) and keep their unit.

    The longest part between underscores loses its last letter first; the last part, the unit, is kept as long as it can be.

    >>> short_names(["plants", "geodesic_area_m2", "ground_area_m2", "grade_p95_pct"])
    {'plants': 'plants', 'geodesic_area_m2': 'geo_are_m2', 'ground_area_m2': 'gro_are_m2', 'grade_p95_pct': 'gr_p95_pct'}
    """
    found: dict[str, str] = {}
    taken: set[str] = set()
    for name in names:
        short, number = _fitted(name, longest), 1
        while short.lower() in taken:
            number += 1
            short = f"{_fitted(name, longest)[: longest - len(str(number))]}{number}"
        taken.add(short.lower())
        found[name] = short
    return found


def _fitted(name: str, longest: int) -> str:
    parts = [part for part in name.split("_") if part]
    while len("_".join(parts)) > longest:
        candidates = range(len(parts) - 1) if any(len(part) > 1 for part in parts[:-1]) else range(len(parts))
        place = max(candidates, key=lambda k: (len(parts[k]), -k))
        if len(parts[place]) == 1:
            return "_".join(parts)[:longest]
        parts[place] = parts[place][:-1]
    return "_".join(parts)
