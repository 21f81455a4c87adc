"""Rounds of weeding from the ground cover: bare ground calls for the hoe, closed ground doesn't."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.errors import LayoutError
from geoagro.season.clock import Days
from geoagro.values.season import Weeding

MONTH_DAYS = 365.25 / 12
_BLOCK = 400  # beds looked at together, to bound memory


@dataclass(frozen=True, eq=False)
class BedCover:
    """Ground cover (0 to 1), beds x moments; `at` holds the day of each moment from the start of the design.

    Before the first moment, the middle of the first month, it rises from 0 on the first day.
    """

    beds: dict[str, int]
    at: Floats
    share: Floats

    def of(self, beds: Sequence[str], days: Floats) -> Floats:
        """Cover of beds on days: straight between the moments, and as at the last moment after it."""
        rows = np.array([self.beds[bed] for bed in beds])
        place = np.interp(days, self.at, np.arange(len(self.at)))
        before = np.floor(place).astype(np.int64)
        after = np.minimum(before + 1, len(self.at) - 1)
        part = place - before
        return np.asarray(self.share[np.ix_(rows, before)] * (1 - part) + self.share[np.ix_(rows, after)] * part)


def bed_cover(cover: pd.DataFrame, beds: Sequence[str]) -> BedCover:
    """Take the cover of the beds that are planted from a frame of layer COVER.

    Raises LayoutError where a bed has no cover, or not for every month.
    """
    wanted = cover[cover["bed"].isin(set(beds))]
    missing = sorted(set(beds) - set(wanted["bed"]))
    if missing:
        raise LayoutError(
            f"No ground cover is given for bed {missing[0]}"
            + (f" and {len(missing) - 1} more" if len(missing) > 1 else "")
            + "; weeding can't be planned without it."
        )
    grid = wanted.pivot(index="bed", columns="month", values="cover_pct")
    if bool(grid.isna().any(axis=None)):
        raise LayoutError("Ground cover must be given for the same months in every bed.")
    at = np.concatenate([[0.0], (grid.columns.to_numpy(dtype=float) - 0.5) * MONTH_DAYS])
    share = np.pad(grid.to_numpy(dtype=float) / 100, ((0, 0), (1, 0)))
    return BedCover({str(bed): k for k, bed in enumerate(grid.index)}, at, share)


def weeding_rounds(cover: Floats, rule: Weeding) -> tuple[Days, Days, Floats]:
    """Bed, day and bare share of each round that falls due, from the daily cover of beds (beds x days).

    The bare share (0 on ground covered to `rule.closed_cover_pct` and more) is summed from planting on; a round is due
    when the sum reaches half of `rule.bare_weeks` weeks, and then each time it has grown by all of it (the sum
    rounded to whole rounds). The rule is ours, the same as in the analysis of the recipe; common practice (no
    source) is five rounds in the first 20 weeks on bare ground, and about one under a mixture that closes soon.

    >>> bed, day, share = weeding_rounds(np.zeros((1, 140)), Weeding())
    >>> day.tolist()
    [14, 42, 70, 98, 126]
    """
    bare = rule.bare(cover)
    due = np.floor(np.cumsum(bare, axis=1) / (7 * rule.bare_weeks) + 0.5 + 1e-9)
    bed, column = np.nonzero(np.diff(due, axis=1, prepend=0.0) > 0)
    return bed, column + 1, bare[bed, column]


def rounds_of_beds(
    cover: BedCover, beds: Sequence[str], rule: Weeding, *, start: int, days: int
) -> tuple[Days, Days, Floats]:
    """Plan the rounds of beds that are planted on day `start` of the design and stand for `days` days."""
    parts = [
        weeding_rounds(cover.of(beds[k : k + _BLOCK], start + 0.5 + np.arange(days, dtype=np.float64)), rule)
        for k in range(0, len(beds), _BLOCK)
    ]
    bed = np.concatenate([part[0] + k * _BLOCK for k, part in enumerate(parts)])
    return bed, np.concatenate([part[1] for part in parts]), np.concatenate([part[2] for part in parts])
