"""What ground that stands free costs: upkeep in hours and money, and the cover crop that could stand there instead."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from geoagro.arrays import Floats
from geoagro.season.rates import BedRates
from geoagro.season.windows import PlantingDays
from geoagro.values.season import SeasonRule

YEAR_WEEKS = 365.25 / 7

COVERS: tuple[tuple[str, float, str], ...] = (
    ("cool", 24.0, "rye with hairy_vetch"),
    ("cool", 7.0, "phacelia"),
    ("warm", 24.0, "jack_bean"),
    ("warm", 14.0, "velvet_bean"),
    ("warm", 9.0, "cowpea"),
)
"""Season, least weeks, and crops of the library that cover the ground by then (their harvest weeks in the library)."""


def with_upkeep(free: Any, beds: Any, rates: BedRates, days: PlantingDays, rule: SeasonRule) -> Any:
    """Add hours, cost and cover_crop to the spans in which beds stand free.

    Upkeep is cutting what grows, `weeding.free_cuts_a_year` times a year, and leaving it as mulch; no hoeing, for
    nothing stands there to be hoed free. A span shorter than the time between two cuts needs none: making the bed
    for the next planting clears it. `beds` holds bed and area_m2.
    """
    area = free["bed"].map(beds.set_index("bed")["area_m2"]).to_numpy(dtype=float)
    weeks = free["weeks"].to_numpy(dtype=float)
    hours = area * rates.cut * whole_cuts(weeks, rule.weeding.free_cuts_a_year)
    wage = np.nan if rule.wage_per_hour is None else rule.wage_per_hour
    cold = _frosty(free, days)
    cover = [proposal(w, "cool" if c else "warm") for w, c in zip(weeks, cold, strict=True)]
    return free.assign(hours=hours, cost=hours * wage, cover_crop=cover)


def whole_cuts(weeks: Floats, cuts_a_year: float) -> Floats:
    """Cuts that fall due in spans of `weeks`, evenly spaced, the first one an interval after the ground came free.

    >>> import numpy as np
    >>> whole_cuts(np.array([10.0, 38.9, 278.3]), 3.0).tolist()
    [0.0, 2.0, 16.0]
    """
    return np.asarray(np.floor(weeks * cuts_a_year / YEAR_WEEKS + 1e-9))


def upkeep_words(free: Any, rule: SeasonRule) -> str:
    """Hours of upkeep in all, and their money where a wage is given."""
    money = "" if rule.wage_per_hour is None else f" ({free['cost'].sum():,.0f} {rule.currency})"
    return f"{free['hours'].sum():,.0f} h{money}"


def proposal(weeks: float, season: str) -> str:
    """Name what can cover the ground for so long; empty where the time is too short.

    >>> proposal(30, "warm"), proposal(10, "cool"), proposal(3, "warm")
    ('jack_bean', 'phacelia', '')
    """
    return next((crop for kind, least, crop in COVERS if kind == season and weeks >= least), "")


def _frosty(free: Any, days: PlantingDays) -> Any:
    """Whether frost may come at any time in each span (in any of the frost windows)."""
    if not days.frost:
        return np.zeros(len(free), dtype=bool)
    frost = np.any(list(days.frost.values()), axis=0)
    seen = np.concatenate([[0], np.cumsum(frost)])
    start = np.datetime64(days.clock.start, "D")
    first, last = (
        np.clip((free[k].to_numpy().astype("datetime64[D]") - start).astype(int) - days.clock.first, 0, len(frost) - 1)
        for k in ("free_from", "free_to")
    )
    return seen[last + 1] > seen[first]


def upkeep_findings(free: Any, rates: BedRates, rule: SeasonRule) -> Iterator[tuple[str, str, str]]:
    """One note on all ground that stands free."""
    if not len(free):
        return
    long = free[free["cover_crop"] != ""]
    covers = ", ".join(sorted({c for c in long["cover_crop"] if c}))
    advice = (
        f" In {len(long):,} of the spans a cover crop has time: {covers}; or mulch, or plant the next crop sooner."
        if len(long)
        else " The spans are too short for a cover crop; mulch keeps weeds down."
    )
    told = (
        f"{free['bed'].nunique():,} beds stand free for {free['weeks'].sum():,.0f} bed-weeks in all, "
        f"{free.loc[free['next_planting'] == '', 'weeks'].sum():,.0f} of them after their last planting. Cutting what grows there "
        f"{rule.weeding.free_cuts_a_year:g} times a year, {1e4 * rates.cut:,.0f} h a hectare and cut (see rates), takes "
        f"{upkeep_words(free, rule)}; neither the plan's work nor its money and net present value counts it.{advice}"
    )
    yield "note", "free beds", told
