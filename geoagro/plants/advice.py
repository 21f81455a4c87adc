"""What to know before planting: warnings from the recipe and from what stands beside what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from geoagro.plants.crops import need
from geoagro.values.recipe import Crop, Planting
from geoagro.values.rules.bed_kinds import lasts
from geoagro.values.site import Finding
from geoagro.values.words import CropName, Sentence


def recipe_warnings(plantings: Sequence[Planting], crops: Mapping[str, Crop]) -> list[Finding]:
    """Warn of trees in vegetable beds and of distances outside the handbooks' range."""
    found = []
    for planting in plantings:
        for code in planting.crops:
            found += _tree_in_bed(planting, code, crops[code])
            found += _distance(planting, code, crops[code])
    return found


def _tree_in_bed(planting: Planting, code: str, crop: Crop) -> list[Finding]:
    if lasts(planting.bed) or crop.habit != "tree":
        return []
    text = Sentence("{code} is a tree; its roots and shade will take the bed. Plant it with bed: tree.", code=code)
    return [Finding("warning", Sentence("planting {planting}", planting=CropName(planting.label)), text)]


def _distance(planting: Planting, code: str, crop: Crop) -> list[Finding]:
    if planting.beside is not None or crop.spacing_range_m is None:
        return []
    step = planting.spacing_m or need(crop, code, "spacing_m", "placing it in lines")
    distance = step * len(planting.codes) / planting.codes.count(code)
    low, high = crop.spacing_range_m
    sparse = distance > high + 1e-9 and not planting.sequence  # in a mixed row others fill the gap
    if distance >= low - 1e-9 and not sparse:
        return []
    text = Sentence(
        "{code} stands {distance:.2f} m apart in the line; handbooks give {low:g} to {high:g} m ({source}).",
        code=code,
        distance=distance,
        low=low,
        high=high,
        source=crop.sources.get("spacing_range_m", "no source given"),
    )
    return [Finding("warning", Sentence("planting {planting}", planting=CropName(planting.label)), text)]
