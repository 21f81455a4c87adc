"""What a crop's sizes can be at most, and the slip that a figure beyond it is likely to be."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

_SMALL = ("herb", "grass", "vine")

FARTHEST_APART_M = 40.0
"""Farthest that plants of one line stand from each other: grown emergent trees (common practice, no source)."""

_LENGTHS: dict[str, tuple[float, float]] = {
    "spacing_m": (8.0, FARTHEST_APART_M),
    "canopy_width_m": (8.0, 40.0),
    "height_m": (20.0, 100.0),
    "root_reach_m": (8.0, 40.0),
    "lifting_reach_m": (4.0, 10.0),
    "stem_length_m": (10.0, 20.0),
    "piece_length_m": (3.0, 5.0),
}
"""Most for herbs, grasses and vines, and for shrubs and trees. Farthest tree roots on record run 30 to 50 m, tallest
trees stand near 100 m (from memory); the limits are there to catch slips, not to judge."""

_NUMBERS: dict[str, tuple[float, str]] = {
    "usual_per_m2": (2000.0, "places on a square metre; for places on a hectare divide by 10,000"),
    "full_size_weeks": (5200.0, "weeks; for days divide by 7"),
    "material_g": (20_000.0, "grams"),
    "nursery_weeks": (520.0, "weeks; for days divide by 7"),
    "kc_mid": (2.0, "a coefficient near 1"),
}

_PAIRS: dict[str, tuple[float, str]] = {
    "spacing_range_m": (FARTHEST_APART_M, "metres; write 0.45 or '45 cm'"),
    "root_depth_m": (30.0, "metres; write 0.45 or '45 cm'"),
    "harvest_weeks": (10_400.0, "weeks; for days divide by 7"),
    "yield_kg": (20_000.0, "kilograms of one place; for tonnes on a hectare divide by 10 x usual_per_m2"),
    "keeps_days": (3650.0, "days"),
}


def length_slip(key: str, metres: float, most: float) -> str | None:
    """Say why a length can't be meant as it stands, and what it was likely meant to be; None where it can be.

    >>> length_slip("spacing_m", 45, 40)
    "spacing_m is 45 m, more than the 40 m that a plant can need; if 45 cm is meant, write 0.45 or '45 cm'"
    """
    if metres <= most:
        return None
    told = f"{key} is {metres:g} m, more than the {most:g} m that a plant can need"
    for unit, metre in (("cm", 0.01), ("mm", 0.001)):
        if metres * metre <= most:
            return f"{told}; if {metres:g} {unit} is meant, write {metres * metre:g} or '{metres:g} {unit}'"
    return told


def slips(values: dict[str, Any], habit: str | None) -> Iterator[str]:
    """Every value of a crop that can't be meant as it stands, each with the likely slip."""
    for key, (small, large) in _LENGTHS.items():
        if (metres := values.get(key)) is not None:
            slip = length_slip(key, metres, small if habit in _SMALL else large)
            if slip is not None:
                yield slip + (f" (it is a {habit})" if habit in _SMALL and metres <= large else "")
    for key, (most, unit) in _NUMBERS.items():
        if (value := values.get(key)) is not None and value > most:
            yield f"{key} is {value:g}, more than {most:g}; it counts {unit}"
    for key, (most, unit) in _PAIRS.items():
        if (pair := values.get(key)) is not None and max(pair) > most:
            yield f"{key} reaches {max(pair):g}, more than {most:g}; it counts {unit}"
