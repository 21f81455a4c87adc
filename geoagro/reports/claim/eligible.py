"""Eligible ground by the programme's rule as the user gave it: every line says which key decided."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geoagro.arrays import Bools, Floats
from geoagro.errors import LayoutError
from geoagro.reports.canopy import canopy_cover
from geoagro.reports.claim.by_year import standing_trees
from geoagro.reports.claim.parcels import ParcelGround, counts
from geoagro.reports.records.claim import CONDITIONS, ELIGIBLE, PARCELS
from geoagro.reports.tables import per_hectare
from geoagro.values.plants import places_of
from geoagro.values.report import LaidOut
from geoagro.values.results.evidence import binomial
from geoagro.values.rules.claim import STRIPS_OF_GROUND, EligibleRule

YEARS_WEEKS = 52
_GROUND, _EMPTY = "ground", "planted_only"


@dataclass(frozen=True)
class Condition:
    """One limit at one parcel; `found` is NaN where it can't be told, and the limit is then not met."""

    parcel: str
    rule: str
    asked: float
    found: float
    unit: str

    @property
    def met(self) -> bool:
        """Whether the parcel keeps it."""
        below = self.rule.startswith("max_")
        return self.found <= self.asked if below else self.found >= self.asked


@dataclass(frozen=True, eq=False)
class Judged:
    """Tables PARCELS, ELIGIBLE and CONDITIONS, and the two sums (NaN without a rule)."""

    parcels: pd.DataFrame
    eligible: pd.DataFrame
    conditions: pd.DataFrame
    eligible_m2: float
    not_eligible_m2: float


def judge(laid: LaidOut, ground: ParcelGround, rule: EligibleRule | None, trees: Any) -> Judged:
    """Judge every parcel by the rule; without one, give the parcels alone.

    `trees` tells for each plant whether it counts as a tree where the rule names none.
    """
    chosen = np.asarray(trees, dtype=bool) if rule is None or not rule.trees else _named(laid, rule)
    conditions = [] if rule is None else list(_conditions(laid, ground, rule, chosen))
    lines = [] if rule is None else list(_lines(ground, rule, conditions))
    eligible = ELIGIBLE.frame({name: [line[k] for line in lines] for k, name in enumerate(ELIGIBLE.columns)})
    told = [(c.parcel, c.rule, c.asked, c.found, c.unit, "yes" if c.met else "no") for c in conditions]
    limits = CONDITIONS.frame({name: [line[k] for line in told] for k, name in enumerate(CONDITIONS.columns)})
    column = "geodesic_area_m2" if rule is not None and rule.measured == "ellipsoid" else "area_m2"
    parcels = _parcels(ground, eligible, conditions, chosen, column if rule is not None else None)
    sums = [round(float(parcels[name].sum(skipna=False)), 1) for name in ("eligible_m2", "not_eligible_m2")]
    return Judged(parcels, eligible, limits, *(sums if rule is not None else (math.nan, math.nan)))


def _named(laid: LaidOut, rule: EligibleRule) -> Bools:
    unknown = sorted(set(rule.trees) - set(laid.crops))
    if unknown:
        raise LayoutError(
            f"report.eligible.trees: crop '{unknown[0]}' is not in the layout. Name crops of its plantings."
        )
    chosen: Bools = laid.plants["crop"].isin(rule.trees).to_numpy()
    return chosen


def _conditions(laid: LaidOut, ground: ParcelGround, rule: EligibleRule, trees: Bools) -> Iterator[Condition]:
    """Give every limit that the rule states, parcel by parcel."""
    areas = ground.map_m2.sum(axis=0)
    found = {
        "trees_per_ha": (per_hectare_each(counts(ground.of_plant, trees, len(ground.names)), areas), "1/ha"),
        "canopy_pct": (_canopy_pct(laid, ground, rule, trees, areas), "%"),
        "native_pct": (_native_pct(laid, ground, trees), "%"),
        "tree_species": (_species(laid, ground, trees), "species"),
        "parcel_m2": (np.round(areas, 1), "m2"),
        "counted_m2": (_counting(ground, rule), "m2"),
    }
    for k, parcel in enumerate(ground.names):
        for what, (values, unit) in found.items():
            for end in ("min", "max"):
                asked = getattr(rule, f"{end}_{what}", None)
                if asked is not None:
                    yield Condition(parcel, f"{end}_{what}", float(asked), float(values[k]), unit)


def per_hectare_each(plants: Any, areas_m2: Floats) -> Floats:
    """Plants per hectare of each area, to 0.1; NaN on no ground."""
    return np.array([float(per_hectare(n, a)) for n, a in zip(plants, areas_m2, strict=True)])


def _canopy_pct(laid: LaidOut, ground: ParcelGround, rule: EligibleRule, trees: Bools, areas: Floats) -> Floats:
    if rule.canopy_year is None:
        return np.full(len(areas), np.nan)
    chosen, widths = standing_trees(laid, trees, rule.canopy_year * YEARS_WEEKS)
    points = places_of(laid.plants, chosen)
    covered = [canopy_cover(points, widths, shape) for shape in ground.shapes]
    return np.round(np.array(covered) / areas * 100, 2)


def _native_pct(laid: LaidOut, ground: ParcelGround, trees: Bools) -> Floats:
    """Share of trees whose kind is on the list; NaN without a list, or where a tree's scientific name is unknown."""
    listed = laid.evidence.native
    kinds = {code: binomial(crop.scientific or "") for code, crop in laid.crops.items()}
    plants = laid.plants["crop"].map(kinds)
    if listed is None or (plants[trees] == "").any():
        return np.full(len(ground.names), np.nan)
    of_all = counts(ground.of_plant, trees, len(ground.names))
    native = counts(ground.of_plant, trees & plants.isin(listed).to_numpy(), len(ground.names))
    share: Floats = np.divide(100.0 * native, of_all, out=np.full(len(of_all), np.nan), where=of_all > 0)
    return share.round(2)


def _species(laid: LaidOut, ground: ParcelGround, trees: Bools) -> Floats:
    """Count kinds of trees by scientific name, or by crop where it has none."""
    kinds = {code: binomial(crop.scientific or "") or code for code, crop in laid.crops.items()}
    names = laid.plants["crop"].map(kinds).to_numpy()
    return np.array([len(set(names[trees & (ground.of_plant == k)])) for k in range(len(ground.names))], dtype=float)


def _counts(item: str, ground: ParcelGround, rule: EligibleRule) -> bool:
    """Tell whether a kind of ground counts, by its own name or by that of the group that it is a part of."""
    return item in rule.ground or (item not in STRIPS_OF_GROUND and ground.part_of.get(item) in rule.ground)


def _counting(ground: ParcelGround, rule: EligibleRule) -> Floats:
    """Ground of each parcel that counts before any limit, on the map."""
    total = np.zeros(len(ground.names))
    for k, item in enumerate(ground.items):
        if _counts(item, ground, rule):
            total += ground.map_m2[k] - (ground.empty_m2[item] if rule.planted_only else 0.0)
    return np.round(total, 1)


def _lines(ground: ParcelGround, rule: EligibleRule, conditions: list[Condition]) -> Iterator[tuple[Any, ...]]:
    """Lines of table ELIGIBLE: each kind of ground of each parcel once, empty beds apart where the rule asks."""
    for k, parcel in enumerate(ground.names):
        broken = ", ".join(c.rule for c in conditions if c.parcel == parcel and not c.met)
        for i, item in enumerate(ground.items):
            counted = _counts(item, ground, rule)
            bare = float(ground.empty_m2[item][k]) if counted and rule.planted_only else 0.0
            on_map, geodesic = float(ground.map_m2[i, k]), float(ground.geodesic_m2[i, k])
            bare_geodesic = round(geodesic * bare / on_map, 1) if on_map else 0.0
            yes = "yes" if counted and not broken else "no"
            if abs(on_map - bare) > 0.0:
                left, key = round(on_map - bare, 1), broken if counted and broken else _GROUND
                yield parcel, item, left, round(geodesic - bare_geodesic, 1), yes, key
            if bare > 0.0:
                yield parcel, item, bare, bare_geodesic, "no", _EMPTY


def _parcels(
    ground: ParcelGround,
    eligible: pd.DataFrame,
    conditions: list[Condition],
    trees: Bools,
    column: str | None,
) -> pd.DataFrame:
    """Table PARCELS; `column` is the area that sums are claimed in, None without a rule."""
    areas, number = np.round(ground.map_m2.sum(axis=0), 1), counts(ground.of_plant, trees, len(ground.names))
    strips = [k for k, item in enumerate(ground.items) if item in STRIPS_OF_GROUND[:2]]
    planted = sum((ground.map_m2[k] - ground.empty_m2[ground.items[k]] for k in strips), np.zeros(len(areas)))
    sums = {}
    for name, answer in (("eligible_m2", "yes"), ("not_eligible_m2", "no")):
        chosen = eligible[eligible["eligible"] == answer]
        sums[name] = (
            np.full(len(areas), np.nan)
            if column is None
            else [round(float(chosen.loc[chosen["parcel"] == parcel, column].sum()), 1) for parcel in ground.names]
        )
    return PARCELS.frame(
        {
            "parcel": ground.names,
            "area_m2": areas,
            "geodesic_area_m2": np.round(ground.geodesic_m2.sum(axis=0), 1),
            **sums,
            "planted_m2": np.round(planted, 1),
            "trees": number,
            "trees_per_ha": per_hectare_each(number, areas),
            "broken": [", ".join(c.rule for c in conditions if c.parcel == p and not c.met) for p in ground.names],
        }
    )
