"""Contours with their heights, tree rows with their numbers, the boundary."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patheffects import withStroke
from shapely import GeometryCollection, LineString, MultiPolygon

from geoagro.arrays import Floats, Shapes
from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.frame import LegendEntry, line_entry
from geoagro.outputs.drawing.letters import width_mm
from geoagro.outputs.drawing.looks import Line
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.drawing.shapes import line_collection, polygon_patches
from geoagro.outputs.words.say import Words
from geoagro.values.rows import TreeRows
from geoagro.values.words import Sentence, say

_LABEL_GAP_MM = 22.0  # between two heights on the page
_LABEL_LINE_MM = 25.0  # shortest line that carries its height
_CONTOUR_GAP_MM = 6.0  # where lines would lie closer on average, only every fifth is drawn
_ROW_NUMBER_PT = 9.5
_ROW_NUMBER_AIR_MM = 0.4  # around a row's number, for its halo
_DIGIT_HEIGHT = 0.72  # of the type's size
_STEPS = (1, 2, 5, 10, 20, 50, 100)


def draw_contours(axes: Axes, contours: gpd.GeoDataFrame, page: Page, words: Words) -> list[LegendEntry]:
    """Draw contours, every fifth heavier and with its height (every one, where there is no fifth)."""
    if len(contours) == 0:
        return []
    index = contours["is_index"].to_numpy(dtype=bool)
    between = ~index if _gap_mm(contours, page) >= _CONTOUR_GAP_MM or not index.any() else np.zeros_like(index)
    entries = []
    for text, look, chosen in (
        (_interval_words(contours), looks.CONTOUR, between),
        (_index_words(contours[index]), looks.INDEX_CONTOUR, index),
    ):
        if chosen.any():
            _draw_lines(axes, contours.geometry.to_numpy()[chosen], look, page, zorder=4, halo=0.75)
            entries.append(line_entry(text, look))
    labelled = contours[index] if index.any() else contours
    _draw_heights(axes, labelled, page, words)
    return entries


def _gap_mm(contours: gpd.GeoDataFrame, page: Page) -> float:
    """Mean distance between neighbouring lines on paper, over the ground that the lines span."""
    lines = contours.geometry.to_numpy()
    ground = GeometryCollection(list(lines)).convex_hull.area
    return float(ground / shapely.length(lines).sum() * page.mm_per_m)


def _interval_words(contours: gpd.GeoDataFrame) -> str:
    step_m = _step_m(contours)
    return Sentence("Contour, every {step:g} m", step=step_m) if step_m else say("Contour")


def _index_words(contours: Any) -> str:
    step_m = _step_m(contours)
    return (
        Sentence("Contour with its elevation, every {step:g} m", step=step_m)
        if step_m
        else say("Contour with its elevation")
    )


def _step_m(contours: Any) -> float:
    """Least difference of two heights; 0 where there is one height only."""
    heights = np.unique(contours["elevation_m"])
    return float(np.diff(heights).min()) if len(heights) > 1 else 0.0


def _draw_lines(axes: Axes, lines: Shapes, look: Line, page: Page, *, zorder: float, halo: float = 0.0) -> None:
    width = look.width_mm / 25.4 * 72
    collection = line_collection(lines, mm_per_m=page.mm_per_m, colors=look.ink, linewidths=width, zorder=zorder)
    if halo:
        collection.set_path_effects([withStroke(linewidth=width + 1.4, foreground="white", alpha=halo)])
    axes.add_collection(collection, autolim=False)


def _draw_heights(axes: Axes, contours: Any, page: Page, words: Words) -> None:
    """Write heights along the lines, the longest lines first, none near another."""
    lines = contours.geometry.to_numpy()
    order = np.argsort(-shapely.length(lines), kind="stable")
    digits = _digits(contours["elevation_m"].to_numpy())
    taken = np.empty((0, 2))
    for k in order:
        if shapely.length(lines[k]) * page.mm_per_m < _LABEL_LINE_MM:
            break
        place, turn = _middle(lines[k])
        if len(taken) and np.hypot(*(taken - place).T).min() * page.mm_per_m < _LABEL_GAP_MM:
            continue
        taken = np.vstack([taken, place])
        height = words.number(float(contours["elevation_m"].iloc[k]), digits)
        _write(axes, place, height, looks.INDEX_CONTOUR.ink, turn=turn)


def _digits(heights: Any) -> int:
    """Decimals that tell the heights apart without loss."""
    return next((d for d in range(3) if np.allclose(heights, np.round(heights, d), atol=1e-6)), 2)


def _middle(line: LineString) -> tuple[Any, float]:
    """Place half-way along a line, and the line's turn there in degrees, upright for reading."""
    half = line.length / 2
    reach = min(half, line.length * 0.02)
    before, place, after = (
        np.array(line.interpolate(half + d).coords[0]) for d in (-reach, 0.0, reach)
    )  # fmt: skip
    turn = np.degrees(np.arctan2(*(after - before)[::-1]))
    return place, float((turn + 90) % 180 - 90)


def _write(axes: Axes, place: Floats, text: str, ink: str, *, turn: float = 0.0, **more: Any) -> None:
    style = {"ha": "center", "va": "center", "fontsize": 11.0, "zorder": 7.0, **more}
    axes.text(
        float(place[0]), float(place[1]), text, color=ink, rotation=turn, rotation_mode="anchor", clip_on=True,
        path_effects=[withStroke(linewidth=3, foreground="white")], **style,
    )  # fmt: skip


def draw_rows(axes: Axes, rows: TreeRows, page: Page) -> list[LegendEntry]:
    """Draw the tree rows; thinner on large fields, so that they stay apart."""
    width_mm = float(np.clip(0.12 * rows.spacing_m * page.mm_per_m, 0.12, looks.TREE_ROW.width_mm))
    look = Line(looks.TREE_ROW.ink, width_mm)
    _draw_lines(axes, rows.frame.geometry.to_numpy(), look, page, zorder=5)
    return [line_entry(say("Tree row, with its number"), look)]


def draw_row_numbers(axes: Axes, rows: TreeRows, page: Page, keep_off: Any = None) -> None:
    """Write row numbers beside both ends: first of every row, or every second, fifth, ... as there is room, then of any.

    An end whose number would lie on ground in `keep_off` (ponds, tracks, names of zones), or over another number, gets none; the row's
    other end has it. A row that would have none at all is numbered on itself, in from its ends or in its middle.
    """
    numbers, lines = rows.frame["row"].to_numpy(), rows.frame.geometry.to_numpy()
    halves = _number_halves_m([str(number) for number in numbers], page)
    step = next((s for s in _STEPS if s * rows.spacing_m >= 2 * halves[0, 1]), _STEPS[-1])
    is_round = (numbers % step == 0) | (numbers == numbers.min())
    order = np.argsort(~is_round, kind="stable")
    numbers, lines, halves = numbers[order], lines[order], halves[order]
    reach_m: Floats = (2.2 + 0.9 * np.char.str_len(numbers.astype(str)).astype(np.float64)) / page.mm_per_m
    places = np.stack([_beyond(lines, reach_m), _beyond(shapely.reverse(lines), reach_m)], axis=1).reshape(-1, 2)
    free = np.arange(len(places))
    if keep_off is not None and not keep_off.is_empty:
        free = np.flatnonzero(shapely.distance(shapely.points(places), keep_off) > np.repeat(reach_m, 2) / 2)
    chosen = free[_apart(places[free], halves[free // 2])]
    bare = np.setdiff1d(np.flatnonzero(is_round[order]), chosen // 2)
    on_rows = _on_rows(lines[bare], reach_m[bare], halves[bare], (places[chosen], halves[chosen // 2]))
    told = [*zip(chosen // 2, places[chosen], strict=True), *((bare[k], place) for k, place in on_rows)]
    for row, place in told:
        _write(axes, place, str(numbers[row]), looks.TREE_ROW.ink, fontsize=_ROW_NUMBER_PT, fontweight="bold")


def _number_halves_m(texts: list[str], page: Page) -> Floats:
    """Half the width and half the height (n, 2) that each number takes on the ground, with air around it."""
    half_high = _DIGIT_HEIGHT * _ROW_NUMBER_PT * 25.4 / 72 / 2
    halves = [(width_mm(text, _ROW_NUMBER_PT, bold=True) / 2, half_high) for text in texts]
    taken: Floats = (np.array(halves).reshape(-1, 2) + _ROW_NUMBER_AIR_MM) / page.mm_per_m
    return taken


def _on_rows(lines: Shapes, reach_m: Floats, halves: Floats, taken: tuple[Floats, Floats]) -> list[tuple[int, Floats]]:
    """Find for each line a place on itself off what is `taken` (places, halves), in from its ends or half-way, if any."""
    ways = (_beyond(lines, -reach_m), _beyond(shapely.reverse(lines), -reach_m), _half(lines))
    found: list[tuple[int, Floats]] = []
    places, theirs = taken
    for k in range(len(lines)):
        for place in (way[k] for way in ways):
            if _clear(place, halves[k], places, theirs):
                found.append((k, place))
                places, theirs = np.vstack([places, place]), np.vstack([theirs, halves[k]])
                break
    return found


def _clear(place: Floats, half: Floats, places: Floats, halves: Floats) -> bool:
    """Say whether a box about a place, given by its half sides, runs into none of others."""
    away = np.abs(places.reshape(-1, 2) - place) - (halves.reshape(-1, 2) + half)
    return bool((away >= 0).any(axis=1).all())


def _beyond(lines: Shapes, reach_m: Floats) -> Floats:
    """Places in front of where lines start, as far off as given for each."""
    starts = shapely.get_coordinates(shapely.line_interpolate_point(lines, 0.0))
    inward = shapely.get_coordinates(shapely.line_interpolate_point(lines, 5.0)) - starts
    away = -inward / np.maximum(np.hypot(*inward.T), 1e-9)[:, None]
    beyond: Floats = starts + away * reach_m[:, None]
    return beyond


def _half(lines: Shapes) -> Floats:
    """Places half-way along lines."""
    halves: Floats = shapely.get_coordinates(shapely.line_interpolate_point(lines, 0.5, normalized=True))
    return halves


def _apart(places: Floats, halves: Floats) -> list[int]:
    """Choose places whose boxes, given by their half sides, don't run into one another, in order."""
    chosen: list[int] = []
    for k in range(len(places)):
        if _clear(places[k], halves[k], places[chosen], halves[chosen]):
            chosen.append(k)
    return chosen


def draw_boundary(axes: Axes, boundary: MultiPolygon) -> list[LegendEntry]:
    """Draw the field's outline and the outline of its holes."""
    width = looks.FIELD.outline_mm / 25.4 * 72
    for patch in polygon_patches([boundary], mm_per_m=1e6, fill=False, edgecolor=looks.FIELD.ink, linewidth=width):
        patch.set_zorder(6)
        axes.add_artist(patch)
    return [line_entry(say("Field boundary"), Line(looks.FIELD.ink, looks.FIELD.outline_mm))]


_ZONE_NAME_PT = 12.0


def draw_zones(axes: Axes, zones: gpd.GeoDataFrame | None) -> list[LegendEntry]:
    """Draw the outline of each zone (layer ZONES) with its name in its largest part."""
    zones = None if zones is None else zones[~zones.geometry.is_empty]
    if zones is None or not len(zones):
        return []
    look = Line(looks.ZONE.ink, looks.ZONE.outline_mm)
    width = look.width_mm / 25.4 * 72
    for name, ground in zip(zones["zone"], zones.geometry, strict=True):
        for patch in polygon_patches([ground], mm_per_m=1e6, fill=False, edgecolor=look.ink, linewidth=width):
            patch.set(zorder=5.5, path_effects=[withStroke(linewidth=width + 1.4, foreground="white", alpha=0.75)])
            axes.add_artist(patch)
        _write(
            axes, _name_place(ground), str(name), look.ink, fontsize=_ZONE_NAME_PT, fontweight="bold", parse_math=False
        )
    return [line_entry(say("Zone, with its name"), look)]


def zone_name_boxes(zones: gpd.GeoDataFrame | None, page: Page) -> Any:
    """Ground that the zones' names lie on, for numbers to keep off; empty where there are no zones."""
    if zones is None:
        return MultiPolygon()
    half_high = _DIGIT_HEIGHT * _ZONE_NAME_PT * 25.4 / 72 / 2 / page.mm_per_m
    boxes = []
    for name, ground in zip(zones["zone"], zones.geometry, strict=True):
        if not ground.is_empty:
            x, y = _name_place(ground)
            half_wide = width_mm(str(name), _ZONE_NAME_PT, bold=True) / 2 / page.mm_per_m
            boxes.append(shapely.box(x - half_wide, y - half_high, x + half_wide, y + half_high))
    return shapely.union_all(boxes)


def _name_place(ground: Any) -> Floats:
    """Place of a zone's name, in its largest part."""
    largest = max(shapely.get_parts(ground), key=shapely.area)
    place: Floats = shapely.get_coordinates(shapely.point_on_surface(largest))[0]
    return place
