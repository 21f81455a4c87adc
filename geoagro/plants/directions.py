"""Which way plants face: bearings from the row, the ground or the design."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Floats
from geoagro.errors import DesignError, LayoutError
from geoagro.plants.plan import Plan
from geoagro.plants.spots import Spots
from geoagro.plants.strips import Strips
from geoagro.values.recipe import Planting
from geoagro.values.terrain import Terrain

_LEFT = -90.0


def azimuths(planting: Planting, direction: str | float, spots: Spots, plan: Plan) -> Floats:
    """Bearing of each plant's roots, degrees clockwise from grid north; NaN all round.

    `uphill` and `downhill` follow the ground at each plant; where it is level they follow the row's upslope
    side (its left). `away` is square to the row, away from its tree line.
    Raises LayoutError where the ground's direction isn't known, DesignError where `away` has no side.
    """
    if direction in ("all_round", "auto"):
        return np.full(len(spots), np.nan)
    if direction == "along":
        return spots.along_deg
    if direction == "against":
        return (spots.along_deg + 180.0) % 360.0
    if direction == "away":
        return (spots.along_deg + _LEFT * _side(planting, spots, plan.strips)) % 360.0
    if direction in ("uphill", "downhill"):
        down = _downhill(planting, spots, plan.terrain)
        return down if direction == "downhill" else (down + 180.0) % 360.0
    return np.full(len(spots), float(direction))


def _side(planting: Planting, spots: Spots, strips: Strips) -> Floats:
    side: Floats = strips.side[spots.bed].astype(float)
    side = np.where(side == 0, np.sign(spots.offset_m), side)
    if np.any(side == 0):
        raise DesignError(
            f"planting '{planting.label}': direction away needs a side of the row, but a line runs in the middle of the "
            "tree bed. Give it offsets_m other than 0, or another direction."
        )
    return side


def _downhill(planting: Planting, spots: Spots, terrain: Terrain) -> Floats:
    if terrain.aspect_deg is None:
        raise LayoutError(
            f"planting '{planting.label}': direction {planting.direction} needs heights or slope with aspect; "
            "a slope raster alone carries no direction. Give `elevation`, `contours` or `aspect` under `inputs`, "
            "or use along, against, away or a bearing."
        )
    angle = np.radians(terrain.aspect_deg.values)
    east = terrain.aspect_deg.with_values(np.sin(angle)).sample(*spots.xy.T)
    north = terrain.aspect_deg.with_values(np.cos(angle)).sample(*spots.xy.T)
    down = np.degrees(np.arctan2(east, north)) % 360.0
    level = np.isnan(down) | (np.hypot(east, north) < 1e-3)
    return np.where(level, (spots.along_deg - _LEFT) % 360.0, down)


def beside_azimuths(where: str, parents: Spots) -> Floats:
    """Bearing from each parent plant to the plant beside it."""
    turn = {"along": 0.0, "against": 180.0, "upslope": _LEFT, "downslope": -_LEFT}
    if where in turn:
        return (parents.along_deg + turn[where]) % 360.0
    return (parents.bearing_deg + beside_turn(where)) % 360.0


def beside_turn(where: str) -> float:
    """Turn from the direction of a plant's roots to the plant that stands behind or ahead of it, degrees."""
    return 180.0 if where == "behind" else 0.0
