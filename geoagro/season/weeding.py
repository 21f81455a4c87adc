"""Rounds of weeding from the ground cover: bare ground calls for the hoe, closed ground doesn't."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoagro.errors import LayoutError
from geoagro.season.clock import Days
from geoagro.values.season import Weeding

MONTH_DAYS = 365.25 / 12
Floats = NDArray[np.float64]


def cover_by_kind(cover: Any) -> dict[str, Floats]:
    """Ground cover (0 to 1) by month after planting for each kind of bed, from a frame bed_kind, month, cover.

    Raises LayoutError where a month is missing or a cover isn't a share.
    """
    result = {}
    for kind, part in cover.sort_values("month").groupby("bed_kind"):
        months, values = part["month"].to_numpy(), part["cover"].to_numpy(dtype=float)
        if not np.array_equal(months, np.arange(len(months))):
            raise LayoutError(
                f"Ground cover of {kind} beds must be given for months 0, 1, 2, ... (found {list(months)})."
            )
        if not ((values >= 0) & (values <= 1)).all():
            raise LayoutError(f"Ground cover of {kind} beds must lie between 0 and 1.")
        result[str(kind)] = values
    return result


def weeding_rounds(cover: Floats, rule: Weeding, *, days: int) -> tuple[Days, Floats]:
    """Days after planting on which a round falls due, and the bare share of the ground then.

    Bare share x time is summed from planting on; each time the sum has grown by `rule.bare_weeks` a round is
    due. Ground covered to `rule.closed_cover` and more counts as shut. Cover runs straight between the middles
    of the months, and keeps its last value afterwards. The rule is ours; common practice (no source) is some
    five rounds on open beds and one under a mixture that closes soon.

    >>> bare = np.zeros(5)
    >>> weeding_rounds(bare, Weeding(), days=150)[0].tolist()
    [28, 56, 84, 112, 140]
    """
    day = np.arange(1, days + 1)
    covered = np.interp(day - 0.5, (np.arange(len(cover)) + 0.5) * MONTH_DAYS, cover)
    bare = np.where(covered >= rule.closed_cover, 0.0, 1.0 - covered)
    due = np.floor(np.cumsum(bare) / (7 * rule.bare_weeks) + 1e-9)
    at = np.flatnonzero(np.diff(due, prepend=0.0) > 0)
    return day[at].astype(np.int64), bare[at]
