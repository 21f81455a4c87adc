"""Indicators, each with its definition, and only where it rests on what was planted, listed or measured.

Diversity is the Hill number of order 1, exp(H') with Shannon's H' (M. O. Hill 1973, Ecology 54; L. Jost 2006, Oikos 113).
Biomass comes from surveyed diameters alone, by two published equations side by side: J. Chave et al. 2014 (Global Change
Biology 20, pantropical, equation 4) and S. Kuyah et al. 2012 (Agriculture, Ecosystems and Environment 158, trees on farms in
western Kenya). Nothing is scaled up from measured trees to the field, and nothing is said of carbon.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.reports.records.claim import INDICATORS
from geoagro.values.report import LaidOut, ReportRule
from geoagro.values.results.evidence import binomial
from geoagro.values.words import say

WOODY = ("tree", "shrub")
LEAST_DBH_CM = 5.0
"""Thinner stems lie below the trees that the pantropical equation was fitted to (from memory)."""

SPECIES = say("Species of trees and shrubs, by scientific name (by crop where it has none), among the planting points.")
DIVERSITY = say(
    "exp(H') with H' = -sum of p ln p over the shares p of each species among planting points of trees and shrubs: as many "
    "equally common species would be as diverse. Of the plan, not of what lives in the field."
)
NATIVE = say("Share of trees whose species is on the list that the design names.")
SURVIVAL = say("Alive of those looked at in the last survey, with its 95 % interval.")
CHAVE = say("Biomass above ground of the measured trees alone: 0.0673 (density x D² x H)^0.976, kg, g/cm³, cm, m.")
KUYAH = say("Biomass above ground of the same trees: 0.091 D^2.472, kg and cm.")

Line = tuple[str, float, float, float, str, int, str, str]
NONE = math.nan


def indicators(laid: LaidOut, rule: ReportRule, trees: Any, survival: pd.DataFrame) -> pd.DataFrame:
    """Table INDICATORS: one line for each that can be told honestly."""
    lines = [*_planned(laid, np.asarray(trees, dtype=bool)), *_survival(survival), *_biomass(laid, rule)]
    return INDICATORS.frame({name: [line[k] for line in lines] for k, name in enumerate(INDICATORS.columns)})


def diversity(counts: Floats) -> float:
    """Hill number of order 1 of counts by species; 0 without plants.

    >>> round(diversity(np.array([10.0, 10.0])), 6)
    2.0
    """
    known = counts[counts > 0]
    if len(known) == 0:
        return 0.0
    share = known / known.sum()
    return float(np.exp(-(share * np.log(share)).sum()))


def chave_kg(dbh_cm: Floats, height_m: Floats, density: Floats) -> Floats:
    """Biomass above ground of trees by Chave et al. 2014; density of wood in g/cm3.

    >>> chave_kg(np.array([20.0]), np.array([15.0]), np.array([0.6])).round(2).tolist()
    [199.05]
    """
    return np.asarray(0.0673 * (density * dbh_cm**2 * height_m) ** 0.976, dtype=np.float64)


def kuyah_kg(dbh_cm: Floats) -> Floats:
    """Biomass above ground of trees by Kuyah et al. 2012.

    >>> kuyah_kg(np.array([20.0])).round(2).tolist()
    [149.69]
    """
    return np.asarray(0.091 * dbh_cm**2.472, dtype=np.float64)


def _planned(laid: LaidOut, trees: Any) -> Iterator[Line]:
    crops = laid.plants["crop"]
    names = {code: binomial(fact.scientific or "") for code, fact in laid.crops.items()}
    woody = crops.map({code: fact.habit in WOODY for code, fact in laid.crops.items()}).astype(bool)
    counts = crops[woody].map({code: name or code for code, name in names.items()}).value_counts()
    counts = counts[counts > 0]
    if len(counts):
        number = int(counts.sum())
        yield "woody_species", float(len(counts)), NONE, NONE, "", number, SPECIES, ""
        spread = round(diversity(np.asarray(counts, dtype=np.float64)), 3)
        yield "woody_diversity", spread, NONE, NONE, "", number, DIVERSITY, "Hill 1973; Jost 2006"
    listed, kinds = laid.evidence.native, crops[trees].map(names)
    if listed is not None and len(kinds) and (kinds != "").all():
        share = round(100 * float(kinds.isin(listed).mean()), 1)
        yield "native_trees", share, NONE, NONE, "%", len(kinds), NATIVE, ""


def _survival(survival: pd.DataFrame) -> Iterator[Line]:
    whole = survival[survival["crop"] == "all"]
    if len(whole) == 0:
        return
    last = whole.iloc[-1]
    low, high = float(last["low_pct"]), float(last["high_pct"])
    yield "survival", float(last["survival_pct"]), low, high, "%", int(last["surveyed"]), SURVIVAL, str(last["survey"])


@dataclass(frozen=True, eq=False)
class Stems:
    """Stems measured in one survey that both equations can be asked about."""

    dbh_cm: Floats
    height_m: Floats
    density: Floats
    survey: str


def _biomass(laid: LaidOut, rule: ReportRule) -> Iterator[Line]:
    stems = _stems(laid, rule.wood_density)
    if stems is None:
        return
    one = float(chave_kg(stems.dbh_cm, stems.height_m, stems.density).sum())
    other = float(kuyah_kg(stems.dbh_cm).sum())
    low, high, number = round(min(one, other)), round(max(one, other)), len(stems.dbh_cm)
    yield "biomass_chave", round(one), low, high, "kg", number, CHAVE, "Chave et al. 2014"
    yield "biomass_kuyah", round(other), low, high, "kg", number, KUYAH, "Kuyah et al. 2012"


def _stems(laid: LaidOut, density: Mapping[str, float]) -> Stems | None:
    """Take the stems of the last survey that has any: thick enough, of known height, crop and density of wood."""
    measured = [survey for survey in laid.surveys if survey.stems is not None and len(survey.stems)]
    if not measured:
        return None
    table = measured[-1].stems
    assert table is not None
    named = laid.plants.loc[
        laid.plants["plant"].isin(pd.to_numeric(table["name"], errors="coerce").dropna()), ["plant", "crop"]
    ]
    by_number = dict(zip(named["plant"].astype(str), named["crop"], strict=True))
    crop = table["crop"].where(table["crop"] != "", table["name"].map(by_number))
    wood = np.asarray(crop.map(dict(density)), dtype=np.float64)
    dbh, height = (np.asarray(table[name], dtype=np.float64) for name in ("dbh_cm", "tree_height_m"))
    fit = (dbh >= LEAST_DBH_CM) & (height > 0) & (wood > 0)
    return Stems(dbh[fit], height[fit], wood[fit], measured[-1].day) if fit.any() else None
