"""What follows by rule where neither the library nor the design says anything of a crop."""

from __future__ import annotations

from typing import Any

from geoagro.values.recipe import Crop
from geoagro.values.words import Sentence, say

RULE = "by rule: "
"""Begins the source of every value that a rule gave."""

ROOTS_PER_CROWN = 1.2
"""Radius that holds most of the roots, per radius of the crown.

Between 54 and 59 % of the roots of two tree species lay beyond the drip line (Gilman 1988, HortScience 23:351), and
the whole root system of woody plants is twice as wide as the crown on average (Tumber-Davila et al. 2022, New
Phytologist 235:1032), so half of the roots lie a little beyond the drip line. For herbs taken alike (from memory)."""

TREE_CROWN_BASE_PCT = 20.0
"""Height at which a tree's leaves begin, percent of its height, if nothing is known (from memory)."""


def completed(crop: Crop) -> Crop:
    """Fill in by rule what the crop leaves open; what it gives stays. Values by an earlier rule are worked out anew."""
    values = {k: v for k, v in crop.model_dump().items() if v is not None}
    sources = dict(crop.sources)
    for key in [key for key, source in sources.items() if source.startswith(RULE)]:
        values.pop(key, None)
        del sources[key]
    for key, (value, words) in _by_rule(crop).items():
        if key not in values:
            values[key], sources[key] = value, "".join(words)
    return Crop.model_validate(values | {"sources": sources})


def _by_rule(crop: Crop) -> dict[str, tuple[Any, str]]:
    rules: dict[str, tuple[Any, str]] = {
        "root_opening_deg": (360.0, say("by rule: set upright, roots all round")),
        "plants_per_place": (1, say("by rule: one plant at each place")),
        "crown_base_pct": (
            TREE_CROWN_BASE_PCT,
            say("by rule: a tree's leaves begin at a fifth of its height (from memory)"),
        )
        if crop.habit == "tree"
        else (0.0, say("by rule: leaves from the ground up")),
    }
    if crop.canopy_width_m is not None:
        reach = round(ROOTS_PER_CROWN * crop.canopy_width_m / 2, 3)
        rules["root_reach_m"] = (
            reach,
            Sentence(
                "by rule: {ratio:g} x the radius of the crown (Gilman 1988; Tumber-Davila et al. 2022)",
                ratio=ROOTS_PER_CROWN,
            ),
        )
    return rules
