"""What the set words of crops are called: strata and planting material, each by its meaning, as other things share the words."""

from __future__ import annotations

from geoagro.values.words import Sentence, meant

STRATA: dict[str, Sentence] = {
    "emergent": meant("stratum", "emergent"),
    "high": meant("stratum", "high"),
    "medium": meant("stratum", "medium"),
    "low": meant("stratum", "low"),
    "ground": meant("stratum", "ground"),
}
"""By code, the highest first."""
MATERIALS: dict[str, Sentence] = {
    "seed": meant("planting material", "seed"),
    "seedling": meant("planting material", "seedling"),
    "grafted tree": meant("planting material", "grafted tree"),
    "stem cutting": meant("planting material", "stem cutting"),
    "slip": meant("planting material", "slip"),
    "corm": meant("planting material", "corm"),
    "rhizome": meant("planting material", "rhizome"),
    "tuber": meant("planting material", "tuber"),
    "sett": meant("planting material", "sett"),
    "set": meant("planting material", "set"),
    "sucker": meant("planting material", "sucker"),
    "clove": meant("planting material", "clove"),
    "crown": meant("planting material", "crown"),
    "bulb": meant("planting material", "bulb"),
    "division": meant("planting material", "division"),
}
"""By code; other material is a word of the user's own."""


def stratum_words(code: str) -> str:
    """Say a stratum; what is none stays as it is.

    >>> stratum_words("high"), stratum_words("")
    ('high', '')
    """
    return STRATA.get(code, code)
