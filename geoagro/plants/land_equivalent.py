"""Land equivalent ratio: how much land the crops would need if each were grown alone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from geoagro.errors import DesignError
from geoagro.plants.records.recipe_analysis import LAND_EQUIVALENT
from geoagro.values.recipe import Crop


def land_equivalent_ratio(mixed: Mapping[str, float], sole: Mapping[str, float]) -> float:
    """Sum of yield in the mixture over yield alone, in the same unit of area.

    Source: Mead and Willey (1980), Experimental Agriculture, the concept of a land equivalent ratio.

    >>> land_equivalent_ratio({"grain": 4000, "fruit": 9000}, {"grain": 5000, "fruit": 15000})
    1.4
    """
    for code in mixed:
        if not sole.get(code, 0) > 0:
            raise DesignError(f"The land equivalent ratio needs the yield of {code} grown alone, above 0.")
    return sum(mixed[code] / sole[code] for code in mixed)


def land_equivalent_table(counts: Mapping[str, int], crops: Mapping[str, Crop], area_m2: float) -> Any:
    """Layer LAND_EQUIVALENT for the crops with a `sole_yield_t_per_ha` of the user's; empty if there is none.

    Yields in the mixture are the likely yield per place times the places, over the area of beds and paths. One
    harvest of each crop counts; the ratio says nothing where crops take turns on the same ground.
    """
    mixed, sole = {}, {}
    for code, count in sorted(counts.items()):
        crop = crops[code]
        if crop.sole_yield_t_per_ha is None:
            continue
        if crop.yield_kg is None:
            raise DesignError(
                f"crops.{code}.yield_kg is missing; the land equivalent ratio needs it beside the sole yield."
            )
        mixed[code] = count * crop.yield_kg[1] / 1000 / (area_m2 / 1e4)
        sole[code] = crop.sole_yield_t_per_ha
    codes = [*mixed, "all"] if mixed else []
    total = land_equivalent_ratio(mixed, sole)
    columns = {
        "crop": codes,
        "yield_t_per_ha": [mixed.get(code, float("nan")) for code in codes],
        "sole_t_per_ha": [sole.get(code, float("nan")) for code in codes],
        "ratio": [mixed[code] / sole[code] if code in mixed else total for code in codes],
    }
    return LAND_EQUIVALENT.frame(columns)
