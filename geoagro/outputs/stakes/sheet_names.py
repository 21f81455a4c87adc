"""Names of stakes on a sheet: each where it touches nothing, and those that find no room in a list.

A name is a small turned box. Candidates lie on the upslope and downslope side of the row, near and far; stakes of higher
rank choose first, and a place is taken if its box meets no other name, symbol or row's name (boxes as polygons, in a
search tree).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from shapely import Polygon, STRtree

from geoagro.arrays import Floats, Shapes
from geoagro.values.stakeout import STAKE_KINDS, name_in_row

NAME_PT = 7.6
_MM_PER_PT = 25.4 / 72
_LETTER, _HIGH = 0.64, 0.95  # width of a figure and height of a line, in the size of the letters (measured, with air)
_SIDES_MM = ((0.0, 2.6), (0.0, -2.6), (2.6, 2.6), (-2.6, 2.6), (2.6, -2.6), (-2.6, -2.6), (0.0, 4.9), (0.0, -4.9))
_SYMBOL_MM = 1.1


@dataclass(frozen=True)
class Named:
    """A name with the middle of its box (map plane), its angle counter-clockwise from east, and the box."""

    text: str
    x: float
    y: float
    angle_deg: float
    box: Polygon


@dataclass(frozen=True)
class SheetNames:
    """Names drawn beside their stakes, and for the rest rows with the names that found no room, in order along the row."""

    drawn: tuple[Named, ...]
    listed: tuple[tuple[str, tuple[str, ...]], ...]


def place_names(marks: gpd.GeoDataFrame, taken: Iterable[Polygon], metres_per_mm: float, ground: Polygon) -> SheetNames:
    """Find a place for the name of every stake of a sheet; `taken` are boxes that no name may touch."""
    if len(marks) == 0:
        return SheetNames((), ())
    boxes, angle = _candidates(marks, metres_per_mm)
    spots = np.asarray(shapely.points(marks["x"], marks["y"]), dtype=object)
    symbols = np.asarray(shapely.buffer(spots, _SYMBOL_MM * metres_per_mm, cap_style="square"), dtype=object)
    others = np.concatenate([np.array(list(taken), dtype=object), symbols])
    tree = STRtree(others)
    inside = shapely.covered_by(boxes, ground)
    own = len(others) - len(symbols)
    free = np.empty(boxes.shape, dtype=bool)
    for k in range(boxes.shape[1]):
        hits = tree.query(boxes[:, k], predicate="intersects")
        meets = np.zeros(len(boxes), dtype=bool)
        meets[hits[0][hits[1] != own + hits[0]]] = True
        free[:, k] = ~meets & inside[:, k]
    chosen = _chosen(marks, boxes, free)
    texts = _short(marks)
    middles = shapely.get_coordinates(shapely.centroid(boxes)).reshape(*boxes.shape, 2)
    drawn = [
        Named(texts[i], float(middles[i, k, 0]), float(middles[i, k, 1]), float(angle[i]), boxes[i, k])
        for i, k in enumerate(chosen)
        if k >= 0
    ]
    return SheetNames(tuple(drawn), _listed(marks, texts, chosen))


def _short(marks: gpd.GeoDataFrame) -> list[str]:
    """Names without their row, which stands at the row."""
    return [name_in_row(name, label) for name, label in zip(marks["stake"], marks["label"], strict=True)]


def _candidates(marks: gpd.GeoDataFrame, metres_per_mm: float) -> tuple[Shapes, Floats]:
    """Boxes (stakes, places) of each name at each candidate place, and the angle of each name."""
    bearing = np.radians(marks["bearing_deg"].to_numpy())
    ahead = np.column_stack([np.sin(bearing), np.cos(bearing)])
    left = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    letters = np.array([len(name) for name in _short(marks)])
    half_wide = 0.5 * letters * _LETTER * NAME_PT * _MM_PER_PT * metres_per_mm
    half_high = 0.5 * _HIGH * NAME_PT * _MM_PER_PT * metres_per_mm
    xy = marks[["x", "y"]].to_numpy()
    out = []
    for along, across in _SIDES_MM:
        middle = xy + (along * ahead + across * left) * metres_per_mm
        corners = np.stack(
            [
                middle + sx * half_wide[:, None] * ahead + sy * half_high * left
                for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))
            ],
            axis=1,
        )
        out.append(np.asarray(shapely.polygons(corners), dtype=object))
    return np.stack(out, axis=1), upright(90.0 - marks["bearing_deg"].to_numpy())


def _chosen(marks: gpd.GeoDataFrame, boxes: Shapes, free: Any) -> list[int]:
    """Candidate that each stake takes, -1 for none; ends, beds and bends before the others."""
    rank = marks["kind"].map({kind: k for k, kind in enumerate(STAKE_KINDS)}).to_numpy()
    flat = boxes.ravel()
    tree = STRtree(flat)
    blocked = ~free.ravel()
    wide = boxes.shape[1]
    out = [-1] * len(marks)
    for i in np.lexsort((marks["station_m"].to_numpy(), rank)):
        open_ = np.flatnonzero(~blocked[i * wide : (i + 1) * wide])
        if len(open_) == 0:
            continue
        out[int(i)] = int(open_[0])
        blocked[tree.query(flat[i * wide + open_[0]], predicate="intersects")] = True
    return out


def _listed(marks: gpd.GeoDataFrame, texts: list[str], chosen: list[int]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    rows: dict[str, list[tuple[float, str]]] = {}
    for i, (label, station) in enumerate(zip(marks["label"], marks["station_m"], strict=True)):
        if chosen[i] < 0:
            rows.setdefault(str(label), []).append((float(station), texts[i]))
    return tuple((label, tuple(text for _, text in sorted(names))) for label, names in rows.items())


def upright(angle_deg: Any) -> Floats:
    """Turn angles (counter-clockwise from east) so that text isn't upside down."""
    turned = (np.asarray(angle_deg) + 180.0) % 360.0 - 180.0
    return np.where(turned > 90.0, turned - 180.0, np.where(turned <= -90.0, turned + 180.0, turned))
