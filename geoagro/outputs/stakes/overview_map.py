"""The overview of a stake-out: sheets, walks with their numbers, pegs and rows' numbers, none over another."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from shapely import LineString, Polygon, box

from geoagro.arrays import Floats
from geoagro.outputs.drawing.letters import width_mm
from geoagro.outputs.drawing.paper import BLACK, GREY
from geoagro.outputs.stakes.sheet_map import Content, draw_pegs, pegs_apart
from geoagro.outputs.stakes.sheet_plan import SheetPlan
from geoagro.outputs.stakes.walk_legs import walk_legs
from geoagro.values.base.records import records
from geoagro.values.words import say

_CIRCLE_MM = 4.6  # half of the circle around a sheet's number
_NUMBER_PT = 7.0
_PAD_MM = 0.6  # of the boxes about numbers
_LONG_MM = 60.0  # a walk this long on paper carries its number once more, half-way
_EVERY_ROW = 5
_PAST_MM = 2.6  # from the end of a row to the middle of its number
_STYLES = ("solid", (0, (5, 2)), (0, (1, 1.2)), (0, (6, 2, 1, 2)))


def draw_overview(axes: Axes, content: Content, plan: SheetPlan, size_mm: tuple[float, float]) -> None:
    """Draw the field with its sheets and walks over axes of a size on paper."""
    metres_per_mm = _fit(axes, content, plan, size_mm)
    _ground(axes, content)
    walks = _walks(axes, content)
    taken = _beginnings(axes, content, metres_per_mm)
    (west, east), (south, north) = axes.get_xlim(), axes.get_ylim()
    pegs = pegs_apart(content.stakes.baseline, taken, (box(west, south, east, north), metres_per_mm), content.words)
    draw_pegs(axes, pegs)
    taken += [peg.box for peg in pegs]
    half_way = [(str(number), _half_way(line)) for number, line in walks if line.length > _LONG_MM * metres_per_mm]
    taken += write_apart(axes, half_way, taken, metres_per_mm, framed=True)
    taken += write_apart(axes, row_names(content, metres_per_mm), taken, metres_per_mm, framed=False)
    for sheet in plan.sheets:
        axes.plot(*shapely.get_coordinates(sheet.ground).T, color=GREY, lw=0.5, ls=(0, (2, 2)))
        axes.text(
            *off_names(plan.own_middle(sheet), taken, _CIRCLE_MM * metres_per_mm), str(sheet.number), fontsize=13,
            fontweight="bold", ha="center", va="center", zorder=8,
            bbox={"boxstyle": "circle,pad=0.25", "fc": "white", "ec": BLACK, "lw": 0.8},
        )  # fmt: skip


def _fit(axes: Axes, content: Content, plan: SheetPlan, size_mm: tuple[float, float]) -> float:
    """Show field and sheets whole; return the metres that a millimetre of paper stands for."""
    width, height = size_mm
    shapes = np.array([content.site.boundary, *(s.ground for s in plan.sheets)], dtype=object)
    west, south, east, north = shapely.total_bounds(shapes)
    metres_per_mm = float(1.03 * max((east - west) / width, (north - south) / height))
    x, y = (west + east) / 2, (south + north) / 2
    axes.set_xlim(x - width * metres_per_mm / 2, x + width * metres_per_mm / 2)
    axes.set_ylim(y - height * metres_per_mm / 2, y + height * metres_per_mm / 2)
    return metres_per_mm


def _ground(axes: Axes, content: Content) -> None:
    for exclusion in content.site.exclusions:
        for part in shapely.get_parts(exclusion.area):
            axes.fill(*shapely.get_coordinates(part.exterior).T, fc="#eeeeee", ec=GREY, hatch="xxx", lw=0.4)
    for part in shapely.get_parts(content.site.boundary):
        for ring in (part.exterior, *part.interiors):
            axes.plot(*shapely.get_coordinates(ring).T, color=BLACK, lw=1.3)
    rows = [shapely.get_coordinates(line) for line in content.rows.frame.geometry]
    axes.add_collection(LineCollection(rows, colors=GREY, linewidths=0.5))


def _walks(axes: Axes, content: Content) -> list[tuple[int, LineString]]:
    """Draw the parts of the walk; return each one's number and line over its stakes."""
    walks: list[tuple[int, LineString]] = []
    for number, way, walk in walk_legs(content.stakes.walk, content.stakes.marks.sort_values("walk")):
        axes.plot(*shapely.get_coordinates(way).T, color=GREY, lw=0.25)
        axes.plot(*shapely.get_coordinates(walk).T, color=BLACK, lw=0.9, ls=_STYLES[(number - 1) % len(_STYLES)])
        walks.append((number, walk))
    return walks


def _beginnings(axes: Axes, content: Content, metres_per_mm: float) -> list[Polygon]:
    """Mark the start and where each part begins; return the ground that their words and boxes take."""
    start = shapely.get_coordinates(content.stakes.walk.geometry.iloc[0])[0]
    axes.plot(*start, marker="o", ms=7, mfc="white", mec=BLACK, mew=1.5)
    text = content.words(say("start"))
    axes.annotate(text, start, xytext=(6, 4), textcoords="offset points", fontsize=9, fontweight="bold")
    x, y = start
    wide, high = width_mm(text, 9, bold=True), 4.5
    taken = [box(x, y, x + (wide + 3.0) * metres_per_mm, y + (high + 2.0) * metres_per_mm)]
    for first in records(content.stakes.marks.sort_values("walk").drop_duplicates("day_trip")):
        place, number = np.array([first.number("x"), first.number("y")]), str(first.whole("day_trip"))
        axes.text(
            float(place[0]), float(place[1]), number, fontsize=_NUMBER_PT, ha="center", va="center", zorder=6, color="white", fontweight="bold",
            bbox={"boxstyle": "square,pad=0.2", "fc": BLACK, "ec": BLACK},
        )  # fmt: skip
        taken.append(_box_of(number, place, metres_per_mm))
    return taken


def _half_way(line: LineString) -> list[Floats]:
    """Places for a walk's number: half-way, else somewhat before or after."""
    shares = (0.5, 0.45, 0.55, 0.4, 0.6, 0.35, 0.65)
    return list(shapely.get_coordinates(shapely.line_interpolate_point(line, shares, normalized=True)))


def row_names(content: Content, metres_per_mm: float) -> Iterator[tuple[str, list[Floats]]]:
    """Give the first row and every fifth by name, with places past both ends and then on the row."""
    labels = content.stakes.marks.drop_duplicates("row").set_index("row")["label"].astype(str).to_dict()
    numbers, lines = content.rows.frame["row"].tolist(), content.rows.frame.geometry.to_numpy()
    for number, line in zip(numbers, lines, strict=True):
        if number in labels and (number % _EVERY_ROW == 0 or number == min(numbers)):
            on = shapely.get_coordinates(shapely.line_interpolate_point(line, (0.25, 0.75, 0.4, 0.6), normalized=True))
            past = (_past(one, _PAST_MM * metres_per_mm) for one in (line, shapely.reverse(line)))
            yield labels[number], [*past, *on]


def _past(line: LineString, away_m: float) -> Floats:
    """Place in front of where a line starts."""
    start, inside = shapely.get_coordinates(shapely.line_interpolate_point(line, (0.0, min(2.0, line.length))))
    back = start - inside
    place: Floats = start + away_m * back / max(float(np.hypot(*back)), 1e-9)
    return place


def write_apart(
    axes: Axes, wanted: Iterable[tuple[str, list[Floats]]], taken: list[Polygon], metres_per_mm: float, *, framed: bool
) -> list[Polygon]:
    """Write each text at the first of its places where it covers nothing that is taken; return the ground of those written."""
    written: list[Polygon] = []
    look = {"boxstyle": "square,pad=0.15", "fc": "white", "ec": BLACK if framed else "none", "lw": 0.6}
    for text, places in wanted:
        boxes = [(place, _box_of(text, place, metres_per_mm)) for place in places]
        free = next((one for one in boxes if not any(one[1].intersects(other) for other in (*taken, *written))), None)
        if free is None:
            continue
        axes.text(
            float(free[0][0]), float(free[0][1]), text, fontsize=_NUMBER_PT, ha="center", va="center", zorder=7 if framed else 6.5, bbox=look,
            fontweight="bold", color=BLACK,
        )  # fmt: skip
        written.append(free[1])
    return written


def _box_of(text: str, middle: Floats, metres_per_mm: float) -> Polygon:
    """Ground under a number in its box."""
    wide = (width_mm(text, _NUMBER_PT, bold=True) / 2 + _PAD_MM) * metres_per_mm
    high = (0.5 * _NUMBER_PT * 25.4 / 72 + _PAD_MM) * metres_per_mm
    x, y = middle
    taken: Polygon = box(x - wide, y - high, x + wide, y + high)
    return taken


def off_names(middle: Any, taken: list[Polygon], reach_m: float) -> tuple[float, float]:
    """Find the place nearest to a middle where a circle of some reach covers nothing that is taken; else the middle."""
    away = np.arange(0.0, 6.5, 0.5) * reach_m
    turns = np.radians(np.arange(0, 360, 30))
    for far in away:
        for turn in turns[: 1 if far == 0 else None]:
            place = shapely.Point(middle[0] + far * np.cos(turn), middle[1] + far * np.sin(turn))
            if not any(place.distance(one) < reach_m for one in taken):
                return place.x, place.y
    return float(middle[0]), float(middle[1])
