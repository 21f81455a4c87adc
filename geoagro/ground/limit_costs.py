"""What each limit of a design costs: unplanted ground by reason, with the setting that asks for it."""

from __future__ import annotations

from functools import reduce

import geopandas as gpd
import pandas as pd

from geoagro.ground.records.limit_costs import LIMIT_COSTS
from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.reasons import REASONS, reason_of


def limit_costs(
    ground: Ground, unplanted: gpd.GeoDataFrame, design: Design, *, beds_lost_m2: float = 0.0
) -> pd.DataFrame:
    """Table LIMIT_COSTS of a complete layer UNPLANTED, in the order in which ground is taken.

    Ground left before rows counts as a share of the field, ground left because of them as a share of the
    plantable ground; so do beds that alleys lack (`beds_lost_m2`), whose ground is path and not unplanted.
    """
    areas = unplanted.groupby("reason")["area_m2"].sum()
    before = set(ground.unplanted["reason"])
    order = [*(r for r in REASONS if r in areas.index), *(r for r in areas.index if r not in REASONS)]
    whole = {"field": ground.boundary.area, "plantable": ground.plantable.area}
    part = ["field" if reason in before else "plantable" for reason in order]
    known = [reason_of(code) for code in order]
    lines = [
        (
            reason.code,
            reason.words,
            _with_value(design, reason.key),
            areas[reason.code],
            of,
            100 * areas[reason.code] / whole[of],
        )
        for reason, of in zip(known, part, strict=True)
    ]
    if beds_lost_m2 > 0:
        words, key = "Beds lost in narrow alleys", _with_value(design, "beds.path_width_m")
        lines.append(("narrow_alley", words, key, beds_lost_m2, "paths", 100 * beds_lost_m2 / whole["plantable"]))
    columns = zip(*lines, strict=True) if lines else [()] * len(LIMIT_COSTS.columns)
    return LIMIT_COSTS.frame(dict(zip(LIMIT_COSTS.columns, map(list, columns), strict=True)))


def _with_value(design: Design, key: str) -> str:
    """Write a key with the number in force; a key that names files stands alone."""
    if not key:
        return ""
    value = reduce(getattr, key.split("."), design)
    return f"{key} {value:g}" if isinstance(value, (int, float)) else key
