"""One crop instead of another: the places stay, what stands on them changes."""

from __future__ import annotations

from dataclasses import replace
from difflib import get_close_matches

import numpy as np

from geoagro.arrays import Bools
from geoagro.errors import DesignError
from geoagro.plants.blocks.tallies import Taken, Tally
from geoagro.plants.directions import azimuths
from geoagro.plants.plan import Plan
from geoagro.plants.spots import Spots, facing_of, join_spots
from geoagro.values.recipe import Planting


def take_over(plan: Plan, found: dict[int, Spots], tallies: list[Tally]) -> None:
    """Give the places of one crop to the plantings that stand instead of it, in the design's order.

    What stands beside those places stays. Changes `found` in place. Raises DesignError where no planting of the same
    kind of bed has the crop that is to be replaced.
    """
    for index, planting in enumerate(plan.plantings):
        if planting.instead_of is None:
            continue
        taken = [_taken(plan, index, k, found) for k in _holders(plan, index)]
        spots = join_spots([found[index], *taken])
        spots = replace(spots, code=np.zeros(len(spots), dtype=np.int64))
        spots = spots.where(np.lexsort([spots.station_m, spots.line, spots.bed]))
        if planting.spacing_m is not None:
            spots = spots.where(_thinned(spots, planting.spacing_m))
        tallies.append(_tally(plan, planting, spots))
        facing = np.full(len(spots), facing_of(planting.direction))
        found[index] = spots.turned(azimuths(planting, planting.direction, spots, plan), facing)


def _holders(plan: Plan, index: int) -> list[int]:
    planting = plan.plantings[index]
    same = [k for k, p in enumerate(plan.plantings) if p.bed == planting.bed and k != index]
    holders = [k for k in same if planting.instead_of in plan.plantings[k].crops]
    if not holders:
        crops = sorted({code for k in same for code in plan.plantings[k].crops})
        near = get_close_matches(str(planting.instead_of), crops)
        hint = f" Did you mean {near[0]}?" if near else ""
        raise DesignError(
            f"planting '{planting.label}': instead_of '{planting.instead_of}': no planting with bed: {planting.bed} has "
            f"this crop (there are {', '.join(crops) or 'none'}).{hint}"
        )
    return holders


def _taken(plan: Plan, index: int, holder: int, found: dict[int, Spots]) -> Spots:
    spots, reach = found[holder], plan.reach.get(index)
    code = plan.plantings[holder].crops.index(str(plan.plantings[index].instead_of))
    mask = spots.code == code
    if reach is not None:
        mask = mask & reach.holds(plan.strips.bed, spots.bed, spots.xy)
    found[holder] = spots.where(~mask)
    return spots.where(mask)


def _steps(spots: Spots) -> tuple[Bools, np.ndarray[tuple[int], np.dtype[np.float64]]]:
    """Whether each plant has the one before it in its line, and how far off that is."""
    same = (np.diff(spots.bed, prepend=-1) == 0) & (np.diff(spots.line, prepend=-1) == 0)
    return same, np.diff(spots.station_m, prepend=0.0)


def _thinned(spots: Spots, spacing_m: float) -> Bools:
    """Every n-th place of each line, n being the least that keeps the spacing at the line's usual step."""
    if not len(spots):
        return np.zeros(0, dtype=bool)
    same, step = _steps(spots)
    line = np.cumsum(~same) - 1
    place = np.arange(len(spots)) - np.flatnonzero(~same)[line]
    least = np.full(int(line[-1]) + 1, np.inf)
    np.minimum.at(least, line[same], step[same])
    every = np.where(np.isfinite(least), np.ceil(spacing_m / np.maximum(least, 1e-6) - 1e-6), 1)
    keep: Bools = place % every[line].astype(np.int64) == 0
    return keep


def _tally(plan: Plan, planting: Planting, spots: Spots) -> Taken:
    """Count the places taken; where no spacing was given, how near the crop stands in its lines."""
    code = planting.crops[0]
    crop = plan.crops[code]
    asked_m = crop.spacing_range_m[0] if crop.spacing_range_m else crop.spacing_m
    same, step = _steps(spots)
    least = float(step[same].min()) if planting.spacing_m is None and same.any() else np.inf
    places = int(plan.counted(spots.bed).sum())
    return Taken(planting.label, code, str(planting.instead_of), places, asked_m, least)
