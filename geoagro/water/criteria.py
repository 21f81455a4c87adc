"""Published criteria for rows on contour, held against this layout: who asks, how much, and what isn't known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd

from geoagro.arrays import Bools, Floats
from geoagro.values.results.water import WATER_CRITERIA
from geoagro.values.rules.water import WaterRule
from geoagro.values.words import Sentence, say
from geoagro.water.flow import Flags
from geoagro.water.machines import EDGES_PCT
from geoagro.water.row_profiles import Profile
from geoagro.water.soil_loss import longest_slope_m

Verdict = Literal["passes", "fails", "does not apply", "no verdict"]
_ALL = 0.995
"""Share of all row length from which a limit counts as held: stations at row ends wobble."""
_CHORD_M = 10.0
_COVERED = ("orchard_grass", "orchard_grass_good", "meadow")
NRCS_331 = "USDA-NRCS practice standard 331, contour orchards and other perennial crops"
NRCS_330 = "USDA-NRCS practice standard 330, contour farming"
FAO_13 = "FAO Conservation Guide 13/3 (Sheng)"


@dataclass(frozen=True)
class Criterion:
    """One published limit and how this layout stands to it; texts as table WATER_CRITERIA has them."""

    criterion: str
    source: str
    limit: str
    value: str
    verdict: Verdict
    why: str = ""


@dataclass(frozen=True, eq=False)
class Measured:
    """What the criteria look at, over all rows.

    Attributes
    ----------
    grade, slope, weight
        Row grade over 10 m and slope of the ground (ratios), and metres of row, station by station.
    row
        Place of each station's row.
    longest_way_m
        Longest way of water one way along a row.
    slope_above_m
        Longest of all rows' mean length of slope above them (ground that drains to a row over its length).
    beyond
        Whether some row gets water from ground that the elevation doesn't show, so that the real length may be greater.
    """

    grade: Floats
    slope: Floats
    weight: Floats
    row: Floats
    longest_way_m: float
    slope_above_m: float
    beyond: bool


def measured(profiles: list[Profile], drains_m2: Floats, longest_way_m: Floats, beyond: Flags) -> Measured:
    """Gather what the criteria look at."""
    length = np.array([p.length_m for p in profiles])
    return Measured(
        grade=np.concatenate([_grade(p) for p in profiles]),
        slope=np.concatenate([p.slope for p in profiles]),
        weight=np.concatenate([p.weight_m for p in profiles]),
        row=np.repeat(np.arange(len(profiles)), [len(p.z_m) for p in profiles]).astype(float),
        longest_way_m=float(longest_way_m.max()),
        slope_above_m=float((drains_m2 / length).max()),
        beyond=bool(beyond.any()),
    )


def criteria_table(seen: Measured, rule: WaterRule | None, to_water_m: float | None) -> pd.DataFrame:
    """Table WATER_CRITERIA.

    Parameters
    ----------
    to_water_m
        Distance from the nearest row to a drawn water body; None where none is drawn.
    """
    asked = [
        _half_slope(seen),
        _ten_percent(seen, rule),
        _least_grade(seen, rule),
        _quarter(seen),
        _effective_slopes(seen),
        _steep(seen),
        _one_way(seen),
        _slope_length(seen),
        _riparian(to_water_m),
        _machines(seen),
        Criterion(
            say("No sign of slips or landslides"),
            NRCS_331,
            say("keep off ground that has moved"),
            say("not known"),
            "no verdict",
            say("walk the ground; draw such places as exclusions"),
        ),
    ]
    return WATER_CRITERIA.frame({name: [getattr(c, name) for c in asked] for name in WATER_CRITERIA.columns})


def _share(holds: Bools, seen: Measured) -> float:
    return float(seen.weight[holds].sum() / seen.weight.sum())


def _verdict(share: float) -> Verdict:
    return "passes" if share >= _ALL else "fails"


def _half_slope(seen: Measured) -> Criterion:
    share = _share(seen.grade <= np.minimum(seen.slope / 2, 0.04) + 1e-9, seen)
    return Criterion(
        say("Row grade, alleys tilled"), NRCS_331, say("the lesser of half the land slope and 4 %"),
        Sentence("held on {share:.0f} % of the row length", share=100 * share), _verdict(share),
    )  # fmt: skip


def _ten_percent(seen: Measured, rule: WaterRule | None) -> Criterion:
    share = _share(seen.grade <= np.minimum(seen.slope / 2, 0.10) + 1e-9, seen)
    value = Sentence("held on {share:.0f} % of the row length", share=100 * share)
    text, limit = say("Row grade, alleys under cover"), say("the lesser of half the land slope and 10 %")
    if rule is None or rule.cover not in _COVERED:
        return Criterion(text, NRCS_331, limit, value, "does not apply", say("water.cover is no permanent cover"))
    return Criterion(text, NRCS_331, limit, value, _verdict(share))


def _least_grade(seen: Measured, rule: WaterRule | None) -> Criterion:
    share = _share(seen.grade >= 0.002, seen)
    text, limit = (
        say("Least row grade on slow soils"),
        say("0.2 % on soil groups C and D, or where standing water hurts"),
    )
    value = Sentence("reached on {share:.0f} % of the row length", share=100 * share)
    group = None if rule is None else rule.soil_group
    if group is None:
        return Criterion(text, NRCS_331, limit, value, "no verdict", say("water.soil_group isn't given"))
    if group in ("A", "B"):
        return Criterion(
            text, NRCS_331, limit, value, "does not apply", Sentence("soil group {group} takes water in", group=group)
        )
    return Criterion(text, NRCS_331, limit, value, _verdict(share))


def _quarter(seen: Measured) -> Criterion:
    place = seen.row.astype(np.intp)
    total = np.bincount(place, weights=seen.weight)
    steep = np.bincount(place, weights=seen.weight * (seen.grade > 0.02)) / total
    over = np.bincount(place, weights=seen.weight * (seen.grade > 0.04)) / total
    good = (steep <= 0.25) & (over <= 1 - _ALL)
    return Criterion(
        say("Rows beside a base row"), "NRCS Iowa, contouring job sheet", say("above 2 % on a quarter of a row at most, never above 4 %"),
        Sentence("{n} of {all} rows", n=int(good.sum()), all=len(good)), "passes" if good.all() else "fails",
    )  # fmt: skip


def _effective_slopes(seen: Measured) -> Criterion:
    share = _share((seen.slope >= 0.02) & (seen.slope <= 0.10), seen)
    return Criterion(
        say("Slopes where contour rows save most soil"), NRCS_330, say("2 to 10 %"),
        Sentence("{share:.0f} % of the row length", share=100 * share), "passes" if share >= 0.5 else "fails",
        say("on steeper ground rows alone don't hold the soil") if share < 0.5 else "",
    )  # fmt: skip


def _steep(seen: Measured) -> Criterion:
    share = _share(seen.slope > 0.12, seen)
    return Criterion(
        say("Steep ground"), FAO_13, say("above 12 % (7 degrees): benches, hillside ditches or single basins, not broad ridges"),
        Sentence("{share:.0f} % of the row length is steeper", share=100 * share), "passes" if share <= 1 - _ALL else "fails",
    )  # fmt: skip


def _one_way(seen: Measured) -> Criterion:
    return Criterion(
        say("Longest way of water one way"), FAO_13, say("100 m (benches, humid tropics)"),
        Sentence("{length:.0f} m", length=float(seen.longest_way_m)), "passes" if seen.longest_way_m <= 100 else "fails",
        say("written for bench terraces; a guide for rows with ridges"),
    )  # fmt: skip


def _slope_length(seen: Measured) -> Criterion:
    slope = float(np.average(seen.slope, weights=seen.weight))
    limit = longest_slope_m(slope)
    held = seen.slope_above_m <= limit
    unknown = held and seen.beyond
    verdict: Verdict = "no verdict" if unknown else "passes" if held else "fails"
    return Criterion(
        say("Length of slope above a row"), say("USDA Agriculture Handbook 537, table 13 (from memory)"),
        Sentence("{limit:.0f} m at the mean slope of {slope:.0f} %", limit=limit, slope=100 * slope),
        Sentence("{length:.0f} m above the row that drains most", length=float(seen.slope_above_m)),
        verdict, say("some rows get water from ground that the elevation doesn't show") if unknown
        else say("counts rows as breaks, which they are with a ridge only"),
    )  # fmt: skip


def _riparian(to_water_m: float | None) -> Criterion:
    text, source, limit = (
        say("Distance to open water"),
        "USDA-NRCS practice standard 391, riparian forest buffer",
        say("4.6 to 10.7 m, by state of the USA"),
    )
    if to_water_m is None:
        return Criterion(
            text, source, limit, say("not known"), "no verdict", say("no water body is drawn under inputs.water_bodies")
        )
    here = Sentence("{length:.1f} m", length=to_water_m)
    return Criterion(text, source, limit, here, "passes" if to_water_m >= 10.7 else "fails")


def _machines(seen: Measured) -> Criterion:
    share = _share(seen.slope > EDGES_PCT[-1] / 100, seen)
    return Criterion(
        say("Ride-on machines"), say("manuals of several makers"), say("no work above 15 degrees (27 %), and never across the face"),
        Sentence("{share:.1f} % of the row length is steeper", share=100 * share), "passes" if share == 0 else "fails",
        say("rows on contour are worked across the face: ask the machine's manual and local rules"),
    )  # fmt: skip


def _grade(profile: Profile) -> Floats:
    """Row grade over 10 m around each station (less at the ends), ratio."""
    half = max(1, round(_CHORD_M / 2 / profile.step_m))
    at = np.arange(len(profile.z_m))
    a, b = np.maximum(at - half, 0), np.minimum(at + half, len(at) - 1)
    grade: Floats = np.abs(profile.z_m[b] - profile.z_m[a]) / ((b - a) * profile.step_m)
    return grade
