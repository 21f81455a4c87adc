"""Crops, plantings and families that a design names outside its plantings: what isn't there is refused before anything is planned."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from difflib import get_close_matches

from geoagro.errors import DesignError
from geoagro.season.husbandry.free_ground import covers_asked
from geoagro.season.husbandry.rotation import USUAL_YEARS
from geoagro.values.design import Design
from geoagro.values.recipe import Crop, Planting
from geoagro.values.season import SeasonRule


def refuse_unknown_names(design: Design, crops: Mapping[str, Crop], library: Mapping[str, Crop]) -> None:
    """Raise one DesignError with a line for each name that nothing carries, its key first.

    Parameters
    ----------
    crops
        Those of the design: planted, or changed under `crops`.
    library
        All that are known; a cover crop may be any of them.
    """
    found = [line for planting in design.plantings for line in _measured(planting)]
    found += _useless(design, crops, library)
    if design.season is not None:
        found += _in_season(design.season, design.plantings, crops, library)
    if found:
        raise DesignError("\n".join(dict.fromkeys(found)))


def _measured(planting: Planting) -> Iterator[str]:
    for code in planting.measured_yield_kg:
        if code not in planting.crops:
            yield (
                f"planting '{planting.label}': measured_yield_kg names '{code}', which this planting doesn't hold "
                f"({', '.join(planting.crops)}).{_near(code, planting.crops)}"
            )


def _useless(design: Design, crops: Mapping[str, Crop], library: Mapping[str, Crop]) -> Iterator[str]:
    """Crops under `crops` that are neither known, planted, sown nor described: most likely a slip of the pen."""
    sown = covers_asked(design.season) if design.season is not None else ()
    used = {code for planting in design.plantings for code in planting.crops} | set(sown)
    for code in design.crops:
        if code not in library and code not in used and crops[code].harvest_weeks is None:
            yield (
                f"crops.{code}: is no crop of the library, isn't planted, and isn't described either; correct the code, or leave it "
                f"out.{_near(code, library)}"
            )


def _in_season(
    rule: SeasonRule, plantings: Collection[Planting], crops: Mapping[str, Crop], library: Mapping[str, Crop]
) -> Iterator[str]:
    planted = {code for planting in plantings for code in planting.crops}
    for code in rule.crops:
        if code not in crops and code not in covers_asked(rule):
            yield f"season.crops.{code}: is no crop of this design{_known(code, library)}.{_near(code, crops)}"
    for number, window in enumerate(rule.windows, 1):
        for code in window.crops:
            if code not in planted and code not in covers_asked(rule):
                yield f"season.windows[{number}].crops: '{code}' isn't planted here.{_near(code, planted)}"
    yield from _covers(rule, crops, library)
    labels = {planting.label for planting in plantings}
    for label in rule.vegetables.by_planting:
        if label not in labels:
            yield f"season.vegetables.by_planting: there is no planting '{label}'.{_near(label, labels)}"
    yield from _families(rule, crops, library)


def _covers(rule: SeasonRule, crops: Mapping[str, Crop], library: Mapping[str, Crop]) -> Iterator[str]:
    for code in covers_asked(rule):
        crop = crops[code] if code in crops else library.get(code)
        if crop is None:
            yield (
                f"season.free_beds.cover: '{code}' is neither in the crop library nor under `crops`."
                f"{_near(code, {*library, *crops})}"
            )
            continue
        lacking = [key for key in ("material", "habit", "harvest") if getattr(crop, key) is None]
        if lacking:
            yield f"season.free_beds.cover: '{code}' leaves out {', '.join(lacking)}; give them under crops.{code}, or `like`."


def _families(rule: SeasonRule, crops: Mapping[str, Crop], library: Mapping[str, Crop]) -> Iterator[str]:
    families = {crop.family for crop in crops.values() if crop.family} | set(USUAL_YEARS)
    if set(rule.rotation_years) <= families:
        return  # the library, which is slow to read whole, can add nothing
    families |= {crop.family for crop in library.values() if crop.family}
    for family in rule.rotation_years:
        if family not in families:
            yield f"season.rotation_years: no crop known here is of family '{family}'.{_near(family, families)}"


def _known(code: str, library: Mapping[str, Crop]) -> str:
    return ", though the library has it: plant it, or leave it out" if code in library else " or of the library"


def _near(name: str, names: Collection[str]) -> str:
    near = get_close_matches(name, sorted(names), n=3, cutoff=0.6)
    return f" Did you mean {', '.join(near)}?" if near else ""
