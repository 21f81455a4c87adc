"""Yields of all kinds and periods with their range, averaged over the bearings of the rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from geoagro.values.light import Capture
from geoagro.values.recipe import Crop, Planting
from geoagro.values.rules.bed_kinds import lasts
from geoagro.values.yields import Span, YieldShare, YieldsInCompany
from geoagro.yields.model import HIGH, LIKELY, LOW, RESPONSE_IN_PROPORTION, Limits, Parts, area_m2, parts

UNSURE = 0.5
"""Share of what company and shade take that is unsure either way. Judgement: a cassava that grows a quarter faster or slower
moved sweet potato's share beside it from 0.74 to 0.64 and 0.85 when it was tried."""


_UNKNOWN = "its usual density isn't known; give crops.{}.usual_per_m2, places per m² where it is grown alone"


@dataclass(frozen=True)
class Sight:
    """Captures of one bearing of the rows and its share of their length; with less and with more leaf and sky too."""

    weight: float
    low: tuple[Capture, ...]
    likely: tuple[Capture, ...]
    high: tuple[Capture, ...]


def yields_in_company(
    sights: Sequence[Sight], crops: Mapping[str, Crop], plantings: Sequence[Planting], *, sky: str
) -> YieldsInCompany:
    """Give the yield of every kind in every round or year.

    A yield that the user measured in this very planting (`measured_yield_kg`) goes before the model.
    """
    kinds = sorted({capture.kind for sight in sights for capture in sight.likely})
    lacking = tuple((kind, _UNKNOWN.format(kind.crop)) for kind in kinds if crops[kind.crop].usual_per_m2 is None)
    skipped = {kind for kind, _ in lacking}
    shares = (
        [
            _measured(_share(sights, k, crops[kind.crop]), crops[kind.crop], plantings)
            for k, kind in enumerate(capture.kind for capture in sights[0].likely)
            if kind not in skipped
        ]
        if sights
        else []
    )
    return YieldsInCompany(tuple(shares), lacking, sky)


def _share(sights: Sequence[Sight], k: int, crop: Crop) -> YieldShare:
    """Average one kind and period over bearings."""
    capture = sights[0].likely[k]
    likely = _mean([parts(sight.likely[k], crop, LIKELY) for sight in sights], sights)
    ends = [
        _mean([parts(sight.low[k], crop, LOW) for sight in sights], sights).place,
        _mean([parts(sight.high[k], crop, _capped(HIGH, crop)) for sight in sights], sights).place,
        *(likely.place + sign * UNSURE * (likely.place - likely.crowding) for sign in (-1, 1)),
        likely.place,
    ]
    place = Span(max(min(ends), 0.0), likely.place, max(ends))
    return YieldShare(
        kind=capture.kind,
        round=capture.round,
        year=capture.year,
        from_week=capture.from_week,
        weeks=capture.weeks,
        per_m2=capture.per_m2,
        density=likely.density,
        crowding=likely.crowding,
        company=likely.company,
        shade=likely.shade,
        incoming=_weighted([sight.likely[k].incoming for sight in sights], sights),
        fullness=_weighted([sight.likely[k].fullness for sight in sights], sights),
        place=place,
        ground=place.times(likely.density * _per_own_sole(crop)),
        basis="model",
        response=crop.sources.get("shade_response_pct", "given") if crop.shade_response_pct else RESPONSE_IN_PROPORTION,
    )


def _per_own_sole(crop: Crop) -> float:
    """Yield at the usual density, by the recipe, over the sole yield that the user measured; 1 where there is none."""
    if not crop.sole_yield_t_per_ha or not crop.yield_kg:
        return 1.0
    return crop.yield_kg[1] * 10 / area_m2(crop) / crop.sole_yield_t_per_ha


def _capped(limits: Limits, crop: Crop) -> Limits:
    """Let the high case exceed a place's likely yield as far as the library's own high yield does."""
    if limits is not HIGH or not crop.yield_kg or crop.yield_kg[1] <= 0:
        return limits
    return replace(limits, per_place=crop.yield_kg[2] / crop.yield_kg[1])


def _mean(found: Sequence[Parts], sights: Sequence[Sight]) -> Parts:
    names = ("density", "crowding", "place", "shade")
    return Parts(*(_weighted([getattr(part, name) for part in found], sights) for name in names))


def _weighted(values: Sequence[float], sights: Sequence[Sight]) -> float:
    return float(np.average(values, weights=[sight.weight for sight in sights]))


def _measured(share: YieldShare, crop: Crop, plantings: Sequence[Planting]) -> YieldShare:
    """Put a measured yield in the model's place, if the planting names one."""
    kind, planting, code = share.kind.bed_kind, share.kind.planting, share.kind.crop
    rule = next(
        (p for p in plantings if p.label == planting and lasts(p.bed) == lasts(kind) and code in p.crops),
        None,
    )
    if rule is None or code not in rule.measured_yield_kg or not crop.yield_kg or crop.yield_kg[1] <= 0:
        return share
    low, likely, high = (kg / crop.yield_kg[1] for kg in rule.measured_yield_kg[code])
    place = Span(low, likely, high)
    return replace(share, place=place, ground=place.times(share.density * _per_own_sole(crop)), basis="measured")
