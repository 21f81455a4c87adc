"""Wood of trees that are thinned, felled or cut to the stump: mass and volume as ranges, and what they bring if they are sold.

Nobody knows stems that haven't grown yet. What the plan holds of a tree is its height and its crown; three published rules make
mass of them, and their spread is the range.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.season.clock import Clock
from geoagro.season.crops import OWN, SeasonCrop
from geoagro.season.husbandry.tree_care import size_at
from geoagro.season.records.wood import WOOD
from geoagro.values.season import Range
from geoagro.values.words import CropName, Sentence, crop_names, in_a_row, say

ENDS = ("low", "likely", "high")
_CONIFERS = frozenset({"Pinaceae", "Cupressaceae", "Taxaceae", "Araucariaceae", "Podocarpaceae"})


def stem_diameter_cm(height_m: Floats, crown_m: Floats) -> Floats:
    """Diameter at breast height that goes with height and crown diameter.

    Jucker et al. 2017, Global Change Biology 23: 177, all biomes (from memory).

    >>> stem_diameter_cm(np.array([20.0]), np.array([5.0])).round(1).tolist()
    [23.1]
    """
    return np.asarray(0.557 * (height_m * crown_m) ** 0.809 * np.exp(0.056**2 / 2), dtype=np.float64)


def mass_by_crown(height_m: Floats, crown_m: Floats, *, conifer: bool = False) -> Floats:
    """Dry mass above the ground, kg, from height and crown diameter (Jucker et al. 2017, Global Change Biology 23: 177)."""
    factor, power = (0.016 + 0.093, 2.013 - 0.223) if conifer else (0.016, 2.013)
    return np.asarray(factor * (height_m * crown_m) ** power * np.exp(0.204**2 / 2), dtype=np.float64)


def mass_by_stem(diameter_cm: Floats, height_m: Floats, density: float) -> Floats:
    """Dry mass above the ground, kg (Chave et al. 2014, Global Change Biology 20: 3177); density in t/m3.

    >>> round(float(mass_by_stem(np.array(20.0), np.array(15.0), 0.6)), 2)
    199.05
    """
    return np.asarray(0.0673 * (density * diameter_cm**2 * height_m) ** 0.976, dtype=np.float64)


def mass_on_farms(diameter_cm: Floats) -> Floats:
    """Dry mass above the ground, kg, of trees on farms.

    Kuyah et al. 2012, Agriculture, Ecosystems and Environment 158: 216 (from memory).

    >>> round(float(mass_on_farms(np.array(20.0))), 2)
    149.69
    """
    return np.asarray(0.091 * diameter_cm**2.472, dtype=np.float64)


def mass_range(
    height_m: Floats, crown_m: Floats, density_kg_m3: Range, *, conifer: bool = False
) -> tuple[Floats, Floats, Floats]:
    """Least, middle and most of the three rules: dry kg a tree, low, likely and high."""
    stem = stem_diameter_cm(height_m, crown_m)
    rules = [mass_by_crown(height_m, crown_m, conifer=conifer), mass_on_farms(stem)]
    likely = np.median([*rules, mass_by_stem(stem, height_m, density_kg_m3.likely / 1000)], axis=0)
    ends = [mass_by_stem(stem, height_m, end / 1000) for end in (density_kg_m3.low, density_kg_m3.high)]
    return np.min([*rules, *ends], axis=0), likely, np.max([*rules, *ends], axis=0)


def wood_table(dated: pd.DataFrame, crops: dict[str, SeasonCrop]) -> pd.DataFrame:
    """Table WOOD from tasks with their first day by the levelled plan as a date in `month`; what isn't reached is left out."""
    felled = dated[(dated["task"] == "fell") & dated["month"].notna()]
    felled = felled.assign(since=_since(felled, crops))
    parts = []
    for (month, code), part in felled.groupby(["month", "crop"], sort=True):
        crop = crops[str(code)]
        if _is_wood(crop):
            parts.append(_line(part, crop) | {"month": month})
    frame = pd.DataFrame(parts, columns=list(WOOD.columns))
    return WOOD.frame({name: frame[name] for name in WOOD.columns})


def _is_wood(crop: SeasonCrop) -> bool:
    """Whether nothing else counts it: not the mulch of trees cut for it, nor the yield of trees cut to the stump."""
    reaped = crop.coppice_years is not None and crop.felled_at_harvest
    return crop.coppice_kg is None and not reaped and crop.height_m > 0 and crop.crown_m > 0


def _since(felled: pd.DataFrame, crops: dict[str, SeasonCrop]) -> Floats:
    """Days that have grown since planting, or since the last cut to the stump."""
    every = (
        felled["crop"]
        .map({code: 365.25 * (crop.coppice_years or 1000) for code, crop in crops.items()})
        .to_numpy(dtype=float)
    )
    age = felled["offset"].to_numpy(dtype=float)
    left = age % every
    return np.asarray(np.where((left < 30) & (age > every / 2), every, left), dtype=np.float64)


def _line(part: pd.DataFrame, crop: SeasonCrop) -> dict[str, object]:
    size = size_at(part["since"], part, {crop.code: crop})
    trees = part["places"].to_numpy(dtype=float)
    height, crown = crop.height_m * size, crop.crown_m * size
    each = mass_range(height, crown, crop.wood_kg_per_m3, conifer=crop.family in _CONIFERS)
    kg = {end: float(trees @ mass) for end, mass in zip(ENDS, each, strict=True)}
    volume = {end: value / crop.wood_kg_per_m3.likely for end, value in kg.items()}
    price = crop.wood_price
    income = {end: 0.0 if price is None else volume[end] * getattr(price, end) for end in ENDS}
    mean = {"height_m": height, "crown_m": crown, "diameter_cm": stem_diameter_cm(height, crown)}
    return {
        "crop": crop.code,
        "trees": int(trees.sum()),
        **{name: float(np.average(values, weights=np.maximum(trees, 1e-9))) for name, values in mean.items()},
        **{f"dry_kg_{end}": kg[end] for end in ENDS},
        **{f"m3_{end}": volume[end] for end in ENDS},
        "use": "own use" if price is None else "sold",
        **{f"income_{end}": income[end] for end in ENDS},
    }


def sold_wood(table: pd.DataFrame, crops: dict[str, SeasonCrop]) -> dict[str, SeasonCrop]:
    """Crops as which wood with a price is sold, by a code of their own; their yield is a multiple of the likely mass.

    Their price is that of a kilogram of dry wood.
    """
    found = {}
    for code, part in table[table["use"] == "sold"].groupby("crop", sort=True):
        crop = crops[str(code)]
        assert crop.wood_price is not None
        low, likely, high = (float(part[f"dry_kg_{end}"].sum()) for end in ENDS)
        price = Range(**{end: getattr(crop.wood_price, end) / crop.wood_kg_per_m3.likely for end in ENDS})
        found[f"{code} wood"] = replace(
            crop,
            code=f"{code} wood",
            name=Sentence("{crop}, wood", crop=CropName(crop.name)),
            yield_kg=Range(low=low / likely, likely=1.0, high=high / likely),
            price=price,
            sold=1.0,
            weekly_kg=None,
            keeps_days=None,
            taken_kg_per_t=None,
            sources=(("price", "", "", OWN),),
        )
    return found


def wood_places(table: pd.DataFrame, codes: Sequence[str], clock: Clock) -> Floats:
    """Dry kg of wood that is sold, by code of `sold_wood` and month of the plan, likely."""
    result = np.zeros((len(codes), len(clock.months)))
    sold = table[table["use"] == "sold"]
    month = {pd.Timestamp(month): k for k, month in enumerate(clock.months)}
    for code, when, kg in zip(sold["crop"], sold["month"], sold["dry_kg_likely"], strict=True):
        result[codes.index(f"{code} wood"), month[pd.Timestamp(when)]] += kg
    return result


def wood_findings(table: pd.DataFrame) -> Iterator[tuple[str, str, str]]:
    """One note of how much wood there is, on what that rests, and what becomes of it."""
    if not len(table):
        return
    low, likely, high = (float(table[f"m3_{end}"].sum()) for end in ENDS)
    told = tuple(
        Sentence("{crop} {x:.1f}", crop=CropName(str(code).replace("_", " ")), x=part["m3_likely"].sum())
        for code, part in table.groupby("crop", sort=True)
    )
    kept = crop_names(sorted(set(table.loc[table["use"] == "own use", "crop"])))
    use = Sentence("Wood of {crops} stays on the farm: no `wood_price` is given.", crops=kept) if kept else ""
    text = Sentence(
        "Felled and thinned trees hold {low:.1f} to {high:.1f} m³ of stem and branches, likely {likely:.1f} ({list}), reckoned from "
        "height and crown by three published rules; crowded trees hold less, and only measured stems tell.",
        low=low, high=high, likely=likely, list=told,
    )  # fmt: skip
    yield "note", say("wood"), in_a_row(text, use)
