"""Trees that stand, and the ground under their crowns, at an age of the plan."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd

from geoagro.arrays import Bools, Floats
from geoagro.reports.canopy import canopy_cover
from geoagro.reports.records.claim import BY_YEAR
from geoagro.values.plants import places_of
from geoagro.values.report import LaidOut
from geoagro.values.timeline import Timeline

YEARS = (1, 3, 5, 10, 20)
"""Ages that are told beside today's; our own choice."""
_WEEKS_PER_YEAR = 52
_DAYS_PER_YEAR = 365.25


def years_since(start: date | None, day: date | None) -> float:
    """Years from the start of the plan to a day, NaN where either is unknown.

    >>> years_since(date(2027, 3, 1), date(2028, 2, 29))
    0.999
    """
    return math.nan if start is None or day is None else round((day - start).days / _DAYS_PER_YEAR, 3)


def standing_trees(laid: LaidOut, trees: Any, week: float) -> tuple[Bools, Floats]:
    """Which plants are trees that stand in a week, and the crowns' widths of these, m (NaN where unknown)."""
    timeline = laid.timeline or Timeline.of(laid.plants)
    stays = [kind.stay_at(week) for kind in timeline.kinds]
    widths = np.full(len(stays), np.nan)
    for k, (kind, stay) in enumerate(zip(timeline.kinds, stays, strict=True)):
        crop = laid.crops[kind.crop]
        if stay is not None and crop.canopy_width_m is not None and crop.full_size_weeks:
            kept = (
                1.0 if crop.pruned_width_m is None else min(1.0, crop.pruned_width_m / max(crop.canopy_width_m, 1e-9))
            )
            widths[k] = crop.canopy_width_m * stay.size(week, crop.full_size_weeks, kept)
    there = np.array([stay is not None for stay in stays], dtype=bool)
    chosen = np.asarray(trees, dtype=bool) & there[timeline.kind]
    return chosen, widths[timeline.kind[chosen]]


def by_year(laid: LaidOut, trees: Any, *, field_m2: float, now_year: float) -> pd.DataFrame:
    """Table BY_YEAR: the report's day where it is known, then ages as far as trees stand."""
    ages = sorted({*YEARS, *([now_year] if now_year >= 0 else [])})
    lines = []
    for age in ages:
        chosen, widths = standing_trees(laid, trees, age * _WEEKS_PER_YEAR)
        canopy = canopy_cover(places_of(laid.plants, chosen), widths, laid.boundary)
        day = "" if laid.start is None else (laid.start + timedelta(days=round(age * _DAYS_PER_YEAR))).isoformat()
        count = int(chosen.sum())
        lines.append((age, day, count, round(count / field_m2 * 10_000, 1), canopy, round(canopy / field_m2 * 100, 2)))
    return BY_YEAR.frame({name: [line[k] for line in lines] for k, name in enumerate(BY_YEAR.columns)})
