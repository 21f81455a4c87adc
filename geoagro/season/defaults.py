"""Rates that the season plan starts from, each with its source; the design file overrides any of them.

Sources named here:

- Nigeria trial: six ways of cultivating maize in an inland valley of central Nigeria, record CGSpace3075: initial
  cultivation 29-70 h/ha (70 by hand hoe), weeding 431-763 h/ha without herbicide (431 after hand cultivation).
- Nyamangara et al. 2014, Agriculture, Ecosystems and Environment 187: hand-hoed plots weeded 2.7 times a season.
- FAO-INADES, Better Farming Series 16 (1977): one cassava stem gives 4-5 cuttings.
"""

from __future__ import annotations

from geoagro.values.season import Range
from geoagro.values.words import say

MEMORY = say("from memory, not looked up")
PRACTICE = say("common practice, no source")

Rate = tuple[float, str]
"""A value and where it comes from."""

MULCH_H_PER_M2: Rate = (0.015, MEMORY)
WEED_H_PER_M2: Rate = (
    431 / 2.7 / 1e4,
    "431 h/ha a season (Nigeria trial, record CGSpace3075) / 2.7 rounds (Nyamangara et al. 2014)",
)
NURSERY_H: Rate = (0.01, MEMORY)

PIT_CANOPY_M = 1.5
"""Suckers of crops that grow wider than this are set into pits (banana, not pineapple)."""

LOSSES: dict[str, Rate] = {
    "seed": (0.15, PRACTICE),
    "seedling": (0.10, PRACTICE),
    "grafted tree": (0.05, PRACTICE),
    "stem cutting": (0.10, PRACTICE),
    "slip": (0.10, PRACTICE),
    "sucker": (0.05, PRACTICE),
    "corm": (0.05, PRACTICE),
    "sett": (0.10, PRACTICE),
    "rhizome": (0.10, PRACTICE),
    "set": (0.05, PRACTICE),
}

PER_MOTHER: dict[str, tuple[int, str]] = {
    "stem cutting": (4, "FAO-INADES, Better Farming Series 16 (1977): 4-5 cuttings from a cassava stem"),
    "slip": (10, MEMORY),
    "sucker": (3, MEMORY),
}
"""Kinds of material that are cut or split from mother plants on the farm."""

NURSERY_WEEKS_HERB: Rate = (4.0, "tomato 25-30 days (extension handbooks); other vegetables: common practice")
NURSERY_WEEKS_TREE: Rate = (16.0, MEMORY)
NURSERY_LOSSES: Rate = (0.15, PRACTICE)
SLACK_WEEKS: Rate = (2.0, PRACTICE)

CLIMB: tuple[float, ...] = (0.25, 0.5, 0.75, 1.0)
"""Trees coming into bearing, from the first year of harvest on (common practice, no source)."""


DEATHS: tuple[tuple[float, ...], str] = ((0.05, 0.02), PRACTICE)
"""Share of the places whose tree, or shrub that bears for years, dies in the first and second year after planting."""

LIMITS: dict[str, str] = {
    "cassava": say(
        "Published limits: sweet kinds below 50 mg HCN per kg fresh root; ready-to-eat products at most 10 mg HCN per kg "
        "(FSANZ P1002, 2008; code of practice CAC/RCP 73-2013)."
    ),
    "taro": say(
        "Published figures: 60 minutes of boiling took 84 % of the soluble oxalate out of leaves and stalks "
        "(LWT 50, 2013, 259); baking concentrates it (Food Chemistry 101, 2007, 559)."
    ),
}
"""Published figures that go with the crops' cautions."""

WOOD_KG_PER_M3: tuple[Range, str] = (
    Range(low=400, likely=600, high=800),
    "most broadleaved species lie between, from memory; give your own",
)
