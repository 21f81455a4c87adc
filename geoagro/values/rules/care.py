"""How trees are looked after over the years: pruned, cut to the stump, replaced; what follows where nobody says."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import numpy as np

from geoagro.values.recipe import Crop
from geoagro.values.season import CropSeason

WEEKS_PER_YEAR = 365.25 / 7
_YOUNG_WEEKS = 26
"""A plant younger than this isn't pruned in the month named."""


def bears_for_years(crop: Crop, own: CropSeason) -> bool:
    """Say whether it is harvested year after year: by the user's bearing curve, else by its life in the recipe."""
    return bool(own.bearing_pct) if own.bearing_pct is not None else crop.bears_for_years


def serves(crop: Crop, own: CropSeason) -> bool:
    """Whether it is a tree cut again and again for mulch: its prunings aren't sold unless they have a price."""
    return crop.habit == "tree" and crop.harvest == "cut" and crop.bears_for_years and own.price is None


def prunings_a_year(crop: Crop, own: CropSeason) -> int:
    """Count the rounds of pruning a year: the user's, else 2 for trees that yield mulch, 1 for other trees and bearing shrubs.

    What is cut to the stump isn't pruned besides, unless asked for.
    """
    if own.prune_rounds is not None:
        return own.prune_rounds
    if own.prune_months:
        return len(set(own.prune_months))
    if own.coppice_years is not None:
        return 0
    most = own.yield_kg.high if own.yield_kg is not None else (crop.yield_kg or (0.0, 0.0, 0.0))[2]
    if crop.habit == "tree" and (serves(crop, own) or most == 0):
        return 2
    sized = crop.pruned_width_m is not None or crop.pruned_height_m is not None
    return int(crop.habit == "tree" or (crop.habit == "shrub" and bears_for_years(crop, own)) or sized)


def pruning_weeks(begin: int, end: int, crop: Crop, own: CropSeason, start: date | None = None) -> tuple[int, ...]:
    """Weeks of pruning of what stands from week `begin` to `end`.

    In the months named, where there is a date for week 0; else evenly over the year, the first one a step after planting.
    """
    rounds = prunings_a_year(crop, own)
    if not rounds:
        return ()
    if own.prune_months and own.prune_rounds is None and start is not None:
        return tuple(_weeks_in(own.prune_months, begin + _YOUNG_WEEKS, end, start))
    step = 52 // rounds
    return tuple(range(begin + step, end, step))


def _weeks_in(months: tuple[int, ...], begin: int, end: int, start: date) -> Iterator[int]:
    """Give the week of the 15th of each of these months between two weeks."""
    zero = np.datetime64(start, "D")
    month = (zero + np.timedelta64(7 * begin, "D")).astype("datetime64[M]")
    last = zero + np.timedelta64(7 * end, "D")
    while month.astype("datetime64[D]") <= last:
        week = int((month.astype("datetime64[D]") + np.timedelta64(14, "D") - zero).astype(np.int64)) // 7
        if int(month.astype(np.int64)) % 12 + 1 in months and begin <= week < end:
            yield week
        month = month + np.timedelta64(1, "M")


def coppice_weeks(begin: int, end: int, own: CropSeason) -> tuple[int, ...]:
    """Weeks in which it is cut to the stump."""
    if own.coppice_years is None:
        return ()
    count = int((end - begin - 1) / (own.coppice_years * WEEKS_PER_YEAR))
    return tuple(begin + round(k * own.coppice_years * WEEKS_PER_YEAR) for k in range(1, count + 1))
