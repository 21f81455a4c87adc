"""Names of crops along beds whose plants stand too close for marks, so that no bed of a block sheet looks unplanted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

from geoagro.arrays import Floats, Ints
from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.report.maps import MapData
from geoagro.values.report import LaidOut

_EVERY_MM = 80.0
"""Long beds carry their names again and again, about so far apart on paper."""
_LARGEST_PT, _SMALLEST_PT, _OF_WIDTH = 6.5, 4.0, 0.7
"""Size of the letters: a share of the bed's width, within these."""
_AROUND_MM = 0.6
_NARROWEST_MM = 0.75
"""Beds narrower than this on paper aren't named: the smallest letters would run into those of the next bed."""
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
    """Write the crops of each bed that holds one of `codes`; tell which plants of the layout (True) the letters would lie on."""
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
    """Names on this page, each with its bed's plants there, counted in the layout; beds too short or narrow for them have none."""
    laid = data.laid
    shapes = _wide_beds(laid, page)
    here = plants_on(laid, page)
    shown = laid.plants.iloc[here]
    wanted = set(shown["bed"][shown["crop"].isin(codes)]) & shapes.keys()
    mixed = laid.plants.loc[laid.plants["bed"].isin(wanted), ["bed", "crop"]].drop_duplicates()
    crops = mixed.groupby("bed", observed=True)["crop"].agg(list)
    groups = shown.groupby("bed", observed=True).indices
    for bed in sorted(wanted):
        text = ", ".join(sorted(data.words.crop(laid.crops[code].name) for code in crops[bed]))
        for name in _along(shown.iloc[groups[bed]], shapes[bed], text, page):
            yield name, here[groups[bed]]


def plants_on(laid: LaidOut, page: Page) -> Ints:
    """Places in the layout's table of the plants that a page shows."""
    west, south, east, north = page.extent
    x, y = laid.plants["x"].to_numpy(), laid.plants["y"].to_numpy()
    return np.flatnonzero((x >= west) & (x <= east) & (y >= south) & (y <= north))


def has_named_beds(laid: LaidOut, mm_per_m: float) -> bool:
    """Tell whether any bed is wide enough for letters at this scale."""
    return any(
        (_width_m(layer.geometry.to_numpy()) * mm_per_m >= _NARROWEST_MM).any() for layer in (laid.beds, laid.tree_beds)
    )


def _wide_beds(laid: LaidOut, page: Page) -> dict[str, Any]:
    """Outlines of the beds that are wide enough on this paper, by bed."""
    found: dict[str, Any] = {}
    for layer in (laid.beds, laid.tree_beds):
        wide = _width_m(layer.geometry.to_numpy()) * page.mm_per_m >= _NARROWEST_MM
        found |= {str(bed): shape for bed, shape in zip(layer["bed"][wide], layer.geometry[wide], strict=True)}
    return found


def _width_m(strips: Any) -> Any:
    """Width of long strips."""
    return 2 * shapely.area(strips) / shapely.length(strips)


def _along(plants: Any, shape: Any, text: str, page: Page) -> Iterator[BedName]:
    """Names of one bed at even distances along what the page shows of it."""
    width_mm = float(_width_m(shape)) * page.mm_per_m
    size = float(np.clip(_OF_WIDTH * width_mm / _MM_PER_POINT, _SMALLEST_PT, _LARGEST_PT))
    half = _width_mm(text) * size / 2 / page.mm_per_m
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


@cache
def _width_mm(text: str) -> float:
    """Width of a text in letters of one point."""
    box = TextPath((0, 0), text, size=10, prop=FontProperties()).get_extents()
    return float(box.width) / 10 * _MM_PER_POINT
