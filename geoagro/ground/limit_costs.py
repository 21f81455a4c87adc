"""What each limit of a design costs: unplanted ground by reason, with the setting that asks for it."""

from __future__ import annotations

from functools import reduce
from typing import Any

from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.row_plan import LIMIT_COSTS

# reason -> (words, key of the design file); in the order in which ground is taken
_LIMITS = {
    "setback": ("setback along the boundary", "ground.setback_m"),
    "exclusion": ("kept free", "inputs.exclusions"),
    "track": ("access tracks", "inputs.tracks"),
    "no_elevation": ("no elevation", "ground.largest_gap_m"),
    "too_steep": ("ground too steep", "ground.steepest_pct"),
    "drainage": ("drainage lines", "rows.drainage_area_ha"),
    "small_part": ("separate part too small", "ground.smallest_part_m2"),
    "grade_limit": ("row grade above the limit", "rows.max_grade_pct"),
    "spacing_limit": ("row spacing out of tolerance", "rows.spacing_tolerance"),
    "turn_radius": ("curve too tight", "rows.min_turn_radius_m"),
    "short_row": ("row too short", "rows.min_row_length_m"),
    "row_margin": ("", ""),
}


def limit_costs(ground: Ground, unplanted: Any, design: Design, *, rest: str) -> Any:
    """Table LIMIT_COSTS of a complete layer UNPLANTED, in the order in which ground is taken.

    Ground left before rows counts as a share of the field, ground left because of them as a share of the
    plantable ground. `rest` are the words for what no limit forbade.
    """
    areas = unplanted.groupby("reason")["area_m2"].sum()
    before = set(ground.unplanted["reason"])
    order = [*(r for r in _LIMITS if r in areas.index), *(r for r in areas.index if r not in _LIMITS)]
    whole = {"field": ground.boundary.area, "plantable": ground.plantable.area}
    part = ["field" if reason in before else "plantable" for reason in order]
    limits = {**_LIMITS, "row_margin": (rest, "")}
    known = [limits.get(reason, (reason.replace("_", " "), "")) for reason in order]
    return LIMIT_COSTS.frame(
        {
            "reason": order,
            "words": [words for words, _ in known],
            "setting": [_with_value(design, key) for _, key in known],
            "area_m2": [areas[reason] for reason in order],
            "part_of": part,
            "share": [areas[reason] / whole[of] for reason, of in zip(order, part, strict=True)],
        }
    )


def _with_value(design: Design, key: str) -> str:
    """Write a key with the number in force; a key that names files stands alone."""
    if not key:
        return ""
    value = reduce(getattr, key.split("."), design)
    return f"{key} {value:g}" if isinstance(value, (int, float)) else key
