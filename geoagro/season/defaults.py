"""Rates that the season plan starts from, each with its source; the design file overrides any of them.

Sources named here:

- IITA 1996: cassava of 10 t/ha takes 212 man-hours to harvest, in FAO, INPhO compendium, chapter XII, section 3.
- Nigeria trial: six ways of cultivating maize in an inland valley of central Nigeria, record CGSpace3075: initial
  cultivation 29-70 h/ha (70 by hand hoe), weeding 431-763 h/ha without herbicide (431 after hand cultivation).
- Nyamangara et al. 2014, Agriculture, Ecosystems and Environment 187: hand-hoed plots weeded 2.7 times a season.
- Lopez Gomez and Van Loon 2018, Rev. Mex. Cienc. Agric., doi 10.29312/remexca.v0i21.1524: hand tools sow maize at
  0.020-0.055 ha/h.
- Kaakkurivaara 2021, Silva Fennica 55(4) 10580: 16.6-21 s per seedling with a planting tube or stick.
- FAO-INADES, Better Farming Series 16 (1977): one cassava stem gives 4-5 cuttings.
"""

from __future__ import annotations

MEMORY = "from memory, not looked up"
PRACTICE = "common practice, no source"

Rate = tuple[float, str]
"""A value and where it comes from."""

PREPARE_H_PER_M2: Rate = (70 / 1e4, "Nigeria trial, record CGSpace3075: hand hoe 70 h/ha")
MULCH_H_PER_M2: Rate = (0.015, MEMORY)
WEED_H_PER_M2: Rate = (
    431 / 2.7 / 1e4,
    "431 h/ha a season (Nigeria trial, record CGSpace3075) / 2.7 rounds (Nyamangara et al. 2014)",
)
NURSERY_H: Rate = (0.01, MEMORY)

PIT_H: Rate = (0.2, MEMORY)
"""Digging a pit and setting a tree or a banana sucker."""

PIT_CANOPY_M = 1.5
"""Suckers of crops that grow wider than this are set into pits (banana, not pineapple)."""

PLANT_H: dict[str, Rate] = {
    "seed": (1 / 0.0375 / 53_333, "Lopez Gomez and Van Loon 2018: middle of 0.020-0.055 ha/h, at 53,333 places/ha"),
    "seedling": (21 / 3600, "Kaakkurivaara 2021: 21 s with a planting stick, no pit"),
    "grafted tree": PIT_H,
    "stem cutting": (0.007, MEMORY),
    "slip": (0.006, MEMORY),
    "sucker": (0.01, MEMORY),
    "corm": (0.008, MEMORY),
    "sett": (0.012, MEMORY),
    "rhizome": (0.006, MEMORY),
    "set": (0.003, MEMORY),
}

HARVEST_H_PER_KG: dict[str, Rate] = {
    "uproot": (212 / 10_000, "IITA 1996 in FAO INPhO: 212 man-hours for 10 t of cassava"),
    "cut": (0.01, MEMORY),
    "pick": (0.03, MEMORY),
}

PRUNE_H: dict[str, Rate] = {
    "tree": (0.05, MEMORY),
    "shrub": (0.03, MEMORY),
    "herb": (0.02, MEMORY),
    "grass": (0.02, MEMORY),
    "vine": (0.03, MEMORY),
}

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


PRUNE_ROUNDS_SERVICE: tuple[int, str] = (2, MEMORY)
"""Trees that yield mulch and no harvest."""

PRUNE_ROUNDS_FRUIT: tuple[int, str] = (1, MEMORY)

LIMITS: dict[str, str] = {
    "cassava": (
        "Published limits: sweet kinds below 50 mg HCN per kg fresh root; ready-to-eat products at most 10 mg HCN per kg "
        "(FSANZ P1002, 2008; code of practice CAC/RCP 73-2013)."
    ),
    "taro": (
        "Published figures: 60 minutes of boiling took 84 % of the soluble oxalate out of leaves and stalks "
        "(LWT 50, 2013, 259); baking concentrates it (Food Chemistry 101, 2007, 559)."
    ),
}
"""Published figures that go with the crops' cautions."""
