"""What a practitioner would say before planting: warnings from the recipe and from what stands beside what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from geoagro.arrays import Ints
from geoagro.plants.crops import need
from geoagro.plants.kinds import Stand
from geoagro.plants.root_shares import Link, link_zones
from geoagro.values.recipe import Crop, Planting
from geoagro.values.site import Finding

_UPROOTED = 0.10
"""Share of a kind's plants with a neighbour in their digging zone, from which it is said."""


def recipe_warnings(plantings: Sequence[Planting], crops: Mapping[str, Crop]) -> list[Finding]:
    """Warn of trees in vegetable beds and of distances outside the handbooks' range."""
    found = []
    for planting in plantings:
        for code in planting.crops:
            found += _tree_in_bed(planting, code, crops[code])
            found += _distance(planting, code, crops[code])
    return found


def _tree_in_bed(planting: Planting, code: str, crop: Crop) -> list[Finding]:
    if planting.bed == "tree" or crop.habit != "tree":
        return []
    text = f"{code} is a tree; its roots and shade will take the bed. Plant it with bed: tree."
    return [Finding("warning", f"planting {planting.label}", text)]


def _distance(planting: Planting, code: str, crop: Crop) -> list[Finding]:
    if planting.beside is not None or crop.spacing_range_m is None:
        return []
    step = planting.spacing_m or need(crop, code, "spacing_m", "placing it in lines")
    distance = step * len(planting.codes) / planting.codes.count(code)
    low, high = crop.spacing_range_m
    sparse = distance > high + 1e-9 and not planting.sequence  # in a mixed row others fill the gap
    if distance >= low - 1e-9 and not sparse:
        return []
    text = (
        f"{code} stands {distance:.2f} m apart in the line; handbooks give {low:g} to {high:g} m "
        f"({crop.sources.get('spacing_range_m', 'no source given')})."
    )
    return [Finding("warning", f"planting {planting.label}", text)]


def uprooting(stand: Stand, subject: Ints, links: Sequence[Link]) -> list[Finding]:
    """Warn where digging one kind up disturbs another one that can't be harvested yet.

    A plant is disturbed if it stands inside the root zone of the one that is dug up.
    """
    found = []
    for link in links:
        dug, other = stand.kinds[link.a], stand.kinds[link.b]
        still_growing = other.life.plant < dug.life.harvest_to and other.life.harvest_from > dug.life.harvest_to
        if dug.harvest != "uproot" or not still_growing or dug.crop == other.crop:
            continue
        zone, _ = link_zones(stand, subject, link)
        hit = np.unique(link.i[zone.holds(stand.x[link.j], stand.y[link.j])])
        share = len(hit) / np.count_nonzero(stand.kind[subject] == link.a)
        if share >= _UPROOTED:
            text = (
                f"Digging up {dug.crop} (weeks {dug.life.harvest_from} to {dug.life.harvest_to}) disturbs {other.crop} beside "
                f"{100 * share:.0f} % of its plants; {other.crop} isn't ready before week {other.life.harvest_from}. "
                f"Dig with a fork on the far side, or move them apart."
            )
            found.append(Finding("warning", f"planting {dug.planting}", text))
    return found
