"""Plants of one kind: same crop, planting and times; all that is true of each of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.errors import LayoutError
from geoagro.planar.zones import Zones
from geoagro.plants.crops import need
from geoagro.plants.timing import Life
from geoagro.plants.together.spells import spell
from geoagro.values.recipe import Crop, Planting
from geoagro.values.rules.bed_kinds import lasts
from geoagro.values.timeline import Standing, Timeline

WEEKS_PER_MONTH = 365.25 / 12 / 7


@dataclass(frozen=True)
class Kind:
    """Sizes of the grown plant.

    Attributes
    ----------
    life
        Weeks of the first round.
    standing
        All rounds.
    rule
        The planting it comes from.
    opening_deg
        Opening of the root sector as planted: 360 all round.
    sector_deg
        Opening that it would have if it were set facing a direction.
    crown_m
        Radius of the crown.
    kept_crown
        Share of it that pruning leaves.
    """

    bed_kind: str
    mixture: str
    planting: str
    crop: str
    life: Life
    rule: Planting
    stratum: str
    habit: str | None
    harvest: str | None
    reach_m: float
    opening_deg: float
    sector_deg: float
    crown_m: float
    kept_crown: float
    full_size_weeks: float
    standing: Standing

    @property
    def turned(self) -> bool:
        """True where the plant is set facing a direction."""
        return self.rule.direction != "all_round"

    def size(self, week: float) -> float:
        """Share of the full size (radius): grows evenly with age; 0 where the plant isn't there."""
        stay = self.standing.stay_at(week)
        return 0.0 if stay is None else stay.size(week, self.full_size_weeks)

    def crown(self, week: float) -> float:
        """Radius of the crown, after pruning too; 0 where the plant isn't there."""
        stay = self.standing.stay_at(week)
        return 0.0 if stay is None else self.crown_m * stay.size(week, self.full_size_weeks, self.kept_crown)

    def meets(self, other: Kind) -> bool:
        """Say whether both are alive at the same time."""
        return spell(self.standing, other.standing) is not None


@dataclass(frozen=True, eq=False)
class Stand:
    """All plants by kind.

    Attributes
    ----------
    kind
        Index of each plant's kind.
    """

    kinds: tuple[Kind, ...]
    kind: Ints
    x: Floats
    y: Floats
    bearing_deg: Floats

    def of(self, kind: int) -> Ints:
        """Find the plants of one kind, by index."""
        return np.flatnonzero(self.kind == kind)

    def zones(self, kind: int, index: Ints) -> Zones:
        """Root zones of full-grown plants of one kind."""
        k = self.kinds[kind]
        full = np.full(len(index), 1.0)
        return Zones(self.x[index], self.y[index], k.reach_m * full, self.bearing_deg[index], k.opening_deg * full)


def stand_of(
    frame: gpd.GeoDataFrame, plantings: Sequence[Planting], crops: Mapping[str, Crop], timeline: Timeline | None = None
) -> Stand:
    """Sort layer PLANTS into kinds, in the order of the timeline; without one, each place is planted once."""
    timeline = timeline or Timeline.of(frame)
    kinds = tuple(_kind(standing, plantings, crops) for standing in timeline.kinds)
    arrays = (frame[name].to_numpy() for name in ("x", "y", "bearing_deg"))
    return Stand(kinds, timeline.kind, *arrays)


def _kind(standing: Standing, plantings: Sequence[Planting], crops: Mapping[str, Crop]) -> Kind:
    code, first = standing.crop, standing.stays[0]
    rule = _rule_of(standing.planting, standing.mixture, code, standing.bed_kind, plantings)
    crop = crops[code]
    sector = rule.root_opening_deg or crop.root_opening_deg
    if sector is None and rule.direction != "all_round":
        sector = need(crop, code, "root_opening_deg", f"direction {rule.direction}")
    return Kind(
        bed_kind=standing.bed_kind,
        mixture=standing.mixture,
        planting=standing.planting,
        crop=code,
        life=Life(first.plant_week, first.harvest_from_week, first.end_week),
        standing=standing,
        rule=rule,
        stratum=need(crop, code, "stratum", "strata"),
        habit=crop.habit,
        harvest=crop.harvest,
        reach_m=crop.lifting_reach_m or need(crop, code, "root_reach_m", "root conflicts"),
        opening_deg=360.0 if rule.direction == "all_round" or sector is None else sector,
        sector_deg=sector or 360.0,
        crown_m=need(crop, code, "canopy_width_m", "ground cover") / 2,
        kept_crown=_kept(crop),
        full_size_weeks=need(crop, code, "full_size_weeks", "growth"),
    )


def _kept(crop: Crop) -> float:
    if crop.pruned_width_m is None or not crop.canopy_width_m:
        return 1.0
    return min(1.0, crop.pruned_width_m / crop.canopy_width_m)


def _rule_of(name: str, mixture: str, code: str, bed_kind: str, plantings: Sequence[Planting]) -> Planting:
    for p in plantings:
        at_home = lasts(p.bed) == lasts(bed_kind)
        if p.label == name and p.mixture_name == mixture and code in p.crops and at_home:
            return p
    raise LayoutError(
        f"Plants of {code} belong to planting '{name}' in {bed_kind} beds, which this design doesn't hold. "
        "Lay out the field again with it."
    )


def moments(kinds: Sequence[Kind], months: int) -> tuple[Ints, Floats]:
    """Months that are looked at, and the week in the middle of each: every month, then one a year until all are grown."""
    grown = max((min(k.life.plant + k.full_size_weeks, k.life.harvest_to) for k in kinds), default=0.0)
    last = int(np.ceil(grown / WEEKS_PER_MONTH))
    month = np.concatenate([np.arange(1, months + 1), np.arange(months + 12, last + 12, 12)]).astype(np.int64)
    return month, (month.astype(np.float64) - 0.5) * WEEKS_PER_MONTH


def months_of_rounds(kinds: Sequence[Kind]) -> int:
    """Months until the end of the last round; 0 where nothing is planted again."""
    ends = [kind.standing.stays[-1].end_week for kind in kinds if kind.standing.stays[-1].round > 1]
    return int(np.ceil(max(ends, default=0) / WEEKS_PER_MONTH))
