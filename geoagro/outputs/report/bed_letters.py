"""Names of crops along beds whose plants stand too close for marks, so that no bed of a block sheet looks unplanted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

from geoagro.arrays import Floats
from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.report.maps import MapData
from geoagro.values.report import LaidOut

_EVERY_MM = 80.0
"""Long beds carry their names again and again, about so far apart on paper."""
_LARGEST_PT, _SMALLEST_PT, _OF_WIDTH = 6.5, 4.0, 0.7
"""Size of the letters: a share of the bed's width, within these."""
_AROUND_MM = 0.6
_MM_PER_POINT = 25.4 / 72


@dataclass(frozen=True)
class BedName:
    """Names of a bed's crops: middle and half of their length in metres, direction in degrees, size in points."""

    text: str
    middle: tuple[float, float]
    half_m: float
    turn_deg: float
    size_pt: float


def letter_beds(axes: Axes, data: MapData, page: Page, codes: frozenset[str]) -> Any:
    """Write the crops of each bed that holds one of `codes`; tell which plants (True) the letters would lie on."""
    covered = np.zeros(len(data.laid.plants), dtype=bool)
    x, y = data.laid.plants["x"].to_numpy(), data.laid.plants["y"].to_numpy()
    for name, members in bed_names(data, page, codes):
        axes.text(
            *name.middle, name.text, fontsize=name.size_pt, rotation=name.turn_deg, rotation_mode="anchor", ha="center",
            va="center_baseline", color=INK, zorder=6.5, clip_on=True,
        )  # fmt: skip
        off = np.hypot(x[members] - name.middle[0], y[members] - name.middle[1])
        covered[members[off <= name.half_m + _AROUND_MM / page.mm_per_m]] = True
    return covered


def bed_names(data: MapData, page: Page, codes: frozenset[str]) -> Iterator[tuple[BedName, Any]]:
    """Names on this page, each with the numbers of its bed's plants; a bed too short for them on the page has none."""
    laid = data.laid
    shapes = _bed_shapes(laid)
    west, south, east, north = page.extent
    plants = laid.plants
    here = plants["x"].between(west, east) & plants["y"].between(south, north)
    wanted = set(plants["bed"][here & plants["crop"].isin(codes)])
    groups = plants.groupby("bed", sort=True).indices
    for bed in sorted(wanted & shapes.keys()):
        members = groups[bed]
        crops = dict.fromkeys(plants["crop"].iloc[members])
        text = ", ".join(sorted(data.words.crop(laid.crops[code].name) for code in crops))
        for name in _along(plants.iloc[members[here.to_numpy()[members]]], shapes[bed], text, page):
            yield name, members


def _bed_shapes(laid: LaidOut) -> dict[str, Any]:
    return {
        str(bed): shape
        for layer in (laid.beds, laid.tree_beds)
        for bed, shape in zip(layer["bed"], layer.geometry, strict=True)
    }


def _along(plants: Any, shape: Any, text: str, page: Page) -> Iterator[BedName]:
    """Names of one bed at even distances along what the page shows of it."""
    width_mm = 2 * shape.area / shape.length * page.mm_per_m  # of a long strip
    size = float(np.clip(_OF_WIDTH * width_mm / _MM_PER_POINT, _SMALLEST_PT, _LARGEST_PT))
    half = _width_mm(text, size) / 2 / page.mm_per_m
    station = plants["station_m"].to_numpy()
    first, last = station.min(), station.max()
    room = last - first - 2 * half
    if room < 0:
        return
    count = 1 + int(room * page.mm_per_m // _EVERY_MM)
    for k in range(count):
        middle = first + (k + 0.5) * (last - first) / count
        near = np.flatnonzero(np.abs(station - middle) <= half)
        if len(near) and np.ptp(station[near]) > 0:
            x, y = plants["x"].to_numpy()[near], plants["y"].to_numpy()[near]
            place, turn = _middle(x, y, station[near], shape, half)
            yield BedName(text, place, half, turn, size)


def _middle(x: Floats, y: Floats, station: Floats, shape: Any, half_m: float) -> tuple[tuple[float, float], float]:
    """Middle of a stretch of bed, and its direction in degrees, so that letters stand upright."""
    away = station - station.mean()
    turn = float(np.degrees(np.arctan2((away * y).sum(), (away * x).sum())))
    piece = shapely.intersection(shape, shapely.Point(x.mean(), y.mean()).buffer(half_m))
    return (piece.centroid.x, piece.centroid.y), (turn + 90) % 180 - 90


def _width_mm(text: str, size_pt: float) -> float:
    box = TextPath((0, 0), text, size=size_pt, prop=FontProperties()).get_extents()
    return float(box.width) * _MM_PER_POINT
