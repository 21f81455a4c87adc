"""What work takes by task, crop and tool: low, likely and high, each with its source; the design file overrides any.

Sources named here:

- WEC/FAO 1999, a manual of animal and hand power: ridging by hand takes 43.8 man-days a hectare, planting cassava
  28.3 (of 8 hours).
- IITA 1996: cassava of 10 t/ha takes 212 man-hours to harvest, in FAO, INPhO compendium, chapter XII, section 3.
- Nigeria trial: six ways of cultivating maize in an inland valley of central Nigeria, record CGSpace3075.
- FAO, family farming: 110 h a tonne to harvest maize by hand, shelling excluded.
- Pharma Journal 2020: stripping groundnut by hand 10.5 kg an hour.
- Lopez Gomez and Van Loon 2018, Rev. Mex. Cienc. Agric., doi 10.29312/remexca.v0i21.1524.
- Kaakkurivaara 2021, Silva Fennica 55(4) 10580.
- ILO-UNDP, Planting Trees (1993): 30-80 pits a day, the hole only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from geoagro.values.recipe import Crop
from geoagro.values.words import Sentence, say

MEMORY = say("from memory, not looked up")
Tool = Literal["hand", "machine"]


@dataclass(frozen=True)
class WorkRate:
    """Hours of one person per unit, low, likely and high, and where they come from."""

    low: float
    likely: float
    high: float
    source: str

    @property
    def told(self) -> tuple[float, str]:
        """The likely value, and the source with the range."""
        return self.likely, Sentence(
            "{source} (range {low:.3g}-{high:.3g})", source=Sentence.of(self.source), low=self.low, high=self.high
        )

    def times(self, factor: float, source: str) -> WorkRate:
        """Multiply all three."""
        return WorkRate(self.low * factor, self.likely * factor, self.high * factor, source)


def _memory(likely: float, spread: float = 2.0) -> WorkRate:
    return WorkRate(likely / spread, likely, likely * spread, MEMORY)


PREPARE_H_PER_M2: dict[Tool, WorkRate] = {
    "hand": WorkRate(
        0.007, 0.035, 0.045, "WEC/FAO 1999: ridging 43.8 man-days; low: hoeing only, 70 h/ha (CGSpace3075)"
    ),
    "machine": WorkRate(0.001, 0.003, 0.006, say("two-wheel tractor, from memory, not looked up")),
}
"""Loosening and shaping a bed."""

CUT_H_PER_M2: dict[Tool, WorkRate] = {
    "hand": _memory(0.005),
    "machine": WorkRate(0.0005, 0.001, 0.002, say("brush cutter or mower, from memory, not looked up")),
}
"""Cutting what grows on free ground and leaving it there: 50 h a hectare by hand, 10 with a machine."""

SOW_H_PER_M2 = _memory(0.004)
"""Sowing a cover crop broadcast and raking it in: 40 h a hectare."""

PIT_H = WorkRate(0.1, 0.2, 0.4, "ILO-UNDP 1993: 30-80 pits a day, the hole only; setting the tree from memory")

PLANT_H: dict[str, WorkRate] = {
    "seed": WorkRate(0.00034, 0.0005, 0.00094, "Lopez Gomez and Van Loon 2018: 0.020-0.055 ha/h at 53,333 places/ha"),
    "seedling": WorkRate(0.0046, 0.0058, 0.008, "Kaakkurivaara 2021: 16.6-21 s with a planting tube or stick, no pit"),
    "grafted tree": PIT_H,
    "stem cutting": WorkRate(0.012, 0.0226, 0.03, "WEC/FAO 1999: cassava 28.3 man-days a hectare of 10,000 places"),
    "slip": _memory(0.006),
    "sucker": _memory(0.01),
    "corm": _memory(0.008),
    "sett": _memory(0.012),
    "rhizome": WorkRate(0.003, 0.0048, 0.006, "ginger 150 workdays a hectare at 20 x 20 cm"),
    "set": _memory(0.003),
}
"""Per place, by what is planted."""

_BY_CROP: dict[str, WorkRate] = {
    "cassava": WorkRate(0.015, 0.0212, 0.03, "IITA 1996 in FAO INPhO: 212 man-hours for 10 t"),
    "maize": WorkRate(0.06, 0.11, 0.15, "FAO family farming: 110 h a tonne by hand, shelling excluded"),
    "sorghum": WorkRate(0.06, 0.11, 0.15, "as maize"),
    "groundnut": WorkRate(0.07, 0.11, 0.15, "Pharma Journal 2020: stripping alone 10.5 kg/h; lifting from memory"),
    "coffee": WorkRate(1 / 16, 0.1, 1 / 6, "published picking of 50-120 kg of cherries a day"),
    "cacao": _memory(0.15),
    "cowpea": _memory(0.12),
    "bean": _memory(0.12),
    "pigeon_pea": _memory(0.12),
    "pea": _memory(0.12),
    "soybean": _memory(0.1),
    "black_pepper": _memory(0.25),
    "raspberry": _memory(0.3),
    "strawberry": _memory(0.15),
    "currant": _memory(0.2),
    "elder": _memory(0.05),
    "grape": _memory(0.02),
    "okra": _memory(0.08),
    "apple": _memory(0.01),
    "pear": _memory(0.01),
}
_BY_WAY: dict[str, WorkRate] = {
    "uproot": WorkRate(0.015, 0.0212, 0.03, "as cassava: IITA 1996 in FAO INPhO"),
    "cut": _memory(0.01),
    "pick": _memory(0.03),
}

WALK_KM_H = 3.0
LOAD_KG = 23.0
"""Weight of one carry: the load constant of NIOSH; the most that a fit adult should lift in the best posture."""

PRUNE_H_PER_M2 = WorkRate(
    0.01, 0.02, 0.04, f"per m² of the tree's side view; an apple of 4 x 4 m takes 20 minutes, {MEMORY}"
)
FELL_H_PER_M2 = {
    "hand": WorkRate(
        0.002, 0.004, 0.008, f"per m² of the height squared; 1.6 h for a tree of 20 m by saw and axe, {MEMORY}"
    ),
    "machine": WorkRate(
        0.0006, 0.0012, 0.0025, f"per m² of the height squared; half an hour for 20 m by chainsaw, {MEMORY}"
    ),
}
FENCE_H_PER_M = WorkRate(0.05, 0.15, 0.4, f"posts and wire by hand, {MEMORY}")
WATER_H_PER_PLACE = WorkRate(0.005, 0.01, 0.03, f"5-10 litres by can from nearby water, {MEMORY}")


def harvest_rate(code: str, way: str) -> WorkRate:
    """Hours per kilogram: the crop's own where known, else by the way it is harvested."""
    return _BY_CROP.get(code, _BY_WAY[way])


def prune_rate(crop: Crop) -> WorkRate:
    """Hours for one plant of full size and round: it grows with height times width of the crown.

    >>> round(prune_rate(Crop(height_m=4, canopy_width_m=4)).likely, 2)
    0.32
    """
    side = (crop.pruned_height_m or crop.height_m or 3.0) * (crop.pruned_width_m or crop.canopy_width_m or 3.0)
    rate = PRUNE_H_PER_M2
    return rate.times(side, f"{rate.source}; here {side:.3g} m²")


def fell_rate(crop: Crop, tool: Tool) -> WorkRate:
    """Hours to fell, limb and cut up one tree: they grow with the square of its height (length times girth).

    >>> fell_rate(Crop(height_m=20), "hand").likely > 10 * fell_rate(Crop(height_m=5), "hand").likely
    True
    """
    height = crop.height_m or 10.0
    rate = FELL_H_PER_M2[tool]
    return rate.times(height**2, f"{rate.source}; here {height:g} m")


def carry_h_per_kg(metres: float) -> float:
    """Hours to carry a kilogram to the edge of the field and walk back.

    >>> round(carry_h_per_kg(100), 4)
    0.0029
    """
    return 2 * metres / 1000 / WALK_KM_H / LOAD_KG
