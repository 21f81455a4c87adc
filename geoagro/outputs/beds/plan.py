"""The bed from above: lines, plants, root zones, arrows and distances in centimetres."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib import colors as mcolors
from matplotlib.axes import Axes
from matplotlib.patches import Circle, Rectangle, Wedge
from scipy.spatial import cKDTree

from geoagro.arrays import Floats, Ints
from geoagro.outputs.beds.marks import FAINT, SOIL, marks_of
from geoagro.outputs.drawing.contrast import standing_out
from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.plants.records.sheet import BedSheet, SheetLine
from geoagro.values.words import say

_HALO: dict[str, Any] = {"boxstyle": "square,pad=0.12", "fc": "white", "ec": "none", "alpha": 0.85}
_SMALLEST_STEP_MM = 9.0
_DIM_MM, _NEXT_DIM_MM, _DIM_ROOM_MM = 3.3, 4.2, 9.0
"""Distances stand so far below their line, one below the other, and need so much room."""
_POINT_MM, _EDGE_PT = 25.4 / 72, 0.8


def draw_plan(axes: Axes, sheet: BedSheet, mm_per_m: float, words: Words = ENGLISH) -> None:
    """Draw the stretch of bed; the axes are in metres, 1 m being `mm_per_m` on paper."""
    half = sheet.width_m / 2
    axes.add_patch(Rectangle((0, -half), sheet.length_m, sheet.width_m, fc=SOIL, ec="none", zorder=0))
    axes.plot([0, sheet.length_m], [half, half], color=INK, lw=1.2, zorder=2)
    axes.plot([0, sheet.length_m], [-half, -half], color=INK, lw=1.2, zorder=2)
    axes.plot([0, 0], [-half, half], color=INK, lw=3.0, zorder=2, solid_capstyle="butt")
    _break_line(axes, sheet)
    for offset in sorted({line.offset_m for line in sheet.lines}):
        axes.plot([0, sheet.length_m], [offset, offset], color=FAINT, lw=0.5, ls=(0, (4, 3)), zorder=1)
    _roots(axes, sheet)
    _plants(axes, sheet, mm_per_m)
    under = dims_under(sheet, mm_per_m)
    for line in sheet.lines:
        if line.beside:
            _from_parent(axes, sheet, line, mm_per_m, words)
        elif line not in under:
            _steps(axes, sheet, (line, line.offset_m - _DIM_MM / mm_per_m), mm_per_m, words)
    for k, line in enumerate(under):
        _steps(axes, sheet, (line, -half - (_DIM_MM + k * _NEXT_DIM_MM) / mm_per_m), mm_per_m, words)
    _across(axes, sheet, mm_per_m, words)
    below = -half - (2.6 + _NEXT_DIM_MM * len(under)) / mm_per_m
    start, on = words(say("bed starts here")), words(say("and so on to the end of the row  →"))
    axes.text(0, below, start, fontsize=7.5, va="center", ha="left", color=INK, bbox=_HALO, zorder=8)
    axes.text(sheet.length_m, below, on, fontsize=7.5, va="center", ha="right", color=INK, bbox=_HALO, zorder=8)


def _break_line(axes: Axes, sheet: BedSheet) -> None:
    y = np.linspace(-sheet.width_m / 2, sheet.width_m / 2, 9)
    x = sheet.length_m + 0.012 * sheet.length_m * np.array([0, 1, -1, 1, -1, 1, -1, 1, 0])
    axes.plot(x, y, color=INK, lw=0.8, zorder=2)


def _roots(axes: Axes, sheet: BedSheet) -> None:
    """Root zones of grown plants: of all that point somewhere, and of one plant of each other kind."""
    low, high = axes.get_ylim()
    bed = Rectangle((0, low), sheet.length_m, high - low, transform=axes.transData)
    marks = marks_of(kind.crop for kind in sheet.kinds)
    for number, kind in enumerate(sheet.kinds):
        some = np.flatnonzero(sheet.kind == number)
        if kind.standing or not len(some):
            continue
        one_only = bool(np.isnan(sheet.facing_deg[some]).all())
        for k in some[[_best_seen(sheet, some, number)]] if one_only else some:
            patch = _zone(sheet, int(k), marks[kind.crop].paint)
            axes.add_patch(patch)
            if not one_only:
                patch.set_clip_path(bed)


def _best_seen(sheet: BedSheet, some: Ints, number: int) -> int:
    """Choose the plant whose root zone keeps farthest inside the ends of the plan, then the one nearest to a place per kind."""
    reach = sheet.kinds[number].reach_m
    x = sheet.x[some]
    outside = np.maximum(reach - np.minimum(x, sheet.length_m - x), 0.0)
    wanted = sheet.length_m * (0.3 + 0.5 * number / len(sheet.kinds))
    return int(np.lexsort((np.abs(x - wanted), np.round(outside, 3)))[0])


def _zone(sheet: BedSheet, k: int, paint: str) -> Any:
    kind, at, facing = sheet.kinds[sheet.kind[k]], (sheet.x[k], sheet.y[k]), sheet.facing_deg[k]
    if np.isnan(facing):
        return Circle(at, kind.reach_m, fc="none", ec=standing_out(paint, SOIL), lw=1.4, ls=":", zorder=1.4)
    first, last = -facing - kind.opening_deg / 2, -facing + kind.opening_deg / 2
    inside = mcolors.to_rgba(paint, 0.28)
    return Wedge(at, kind.reach_m, first, last, fc=inside, ec=INK, lw=0.6, ls="--", zorder=1.3)


def _plants(axes: Axes, sheet: BedSheet, mm_per_m: float) -> None:
    marks = marks_of(kind.crop for kind in sheet.kinds)
    places = _places_m(sheet)
    for number, kind in enumerate(sheet.kinds):
        mark = marks[kind.crop]
        some = sheet.kind == number
        paint, ink, size = ("white", FAINT, 6.0) if kind.standing else (mark.paint, INK, 8.0)
        most = places[some].min() * mm_per_m / _POINT_MM - _EDGE_PT if some.any() else size
        look: dict[str, Any] = {
            "mfc": paint,
            "mec": ink,
            "mew": _EDGE_PT,
            "ms": min(size * mark.larger, most),
            "ls": "none",
        }
        axes.plot(sheet.x[some], sheet.y[some], marker=mark.marker, zorder=4 if kind.standing else 5, **look)
    reach = 9.0 / mm_per_m
    for x, y, facing, number in zip(sheet.x, sheet.y, sheet.facing_deg, sheet.kind, strict=True):
        if np.isnan(facing) or sheet.kinds[number].standing:
            continue
        angle = np.radians(-facing)
        tip = x + reach * np.cos(angle), y + reach * np.sin(angle)
        style = {"arrowstyle": "-|>", "lw": 1.6, "color": INK, "mutation_scale": 11, "shrinkA": 3, "shrinkB": 0}
        axes.annotate("", tip, (x, y), arrowprops=style, zorder=4.8)


def _places_m(sheet: BedSheet) -> Floats:
    """Distance from each plant to the next place on the sheet, metres; one place may be planted twice in turn."""
    xy = np.column_stack([sheet.x, sheet.y])
    different = np.unique(np.round(xy, 3), axis=0)
    if len(different) < 2:
        return np.full(len(xy), sheet.length_m)
    return np.asarray(cKDTree(different).query(xy, k=[2])[0])[:, 0]


def dims_under(sheet: BedSheet, mm_per_m: float) -> list[SheetLine]:
    """Lines whose distances stand below the bed, as there is no room between the line and the bed's edge or the next line.

    The room that they take below the bed is `dims_mm` of their number.
    """
    offsets = sorted({line.offset_m for line in sheet.lines})
    told = [line for line in sheet.lines if not line.beside and line.step_m * mm_per_m >= _SMALLEST_STEP_MM]

    def room_mm(line: SheetLine) -> float:
        lower = [offset for offset in offsets if offset < line.offset_m - 1e-6]
        return (line.offset_m - max(lower, default=-sheet.width_m / 2)) * mm_per_m

    return sorted((line for line in told if room_mm(line) < _DIM_ROOM_MM), key=lambda line: -line.offset_m)


def dims_mm(count: int) -> float:
    """Room below the bed for the distances of so many lines, and for what the bed's ends are called, mm."""
    return count * _NEXT_DIM_MM + 5.6


def _steps(axes: Axes, sheet: BedSheet, told: tuple[SheetLine, float], mm_per_m: float, words: Words) -> None:
    """From the bed's end to the first plant of a line, and to the second one, drawn at a height; below the bed with hairlines up."""
    line, y = told
    if line.step_m * mm_per_m < _SMALLEST_STEP_MM:
        return
    if y < -sheet.width_m / 2:
        two = (line.first_m, line.first_m + line.step_m)
        axes.vlines([x for x in two if x <= sheet.length_m], y, line.offset_m, color=FAINT, lw=0.4, zorder=1.1)
    ends = [0.0, line.first_m, line.first_m + line.step_m]
    for start, end in pairwise(ends):
        if (end - start) * mm_per_m < 3.5 or end > sheet.length_m:
            continue
        _measure(axes, (start, y), (end, y), words.brief(round(100 * (end - start), 1)))


def _from_parent(axes: Axes, sheet: BedSheet, line: SheetLine, mm_per_m: float, words: Words) -> None:
    """Distance from the third plant of the other planting to the nearest plant of this line, where it runs along."""
    mine = np.flatnonzero([sheet.kinds[k].planting == line.planting for k in sheet.kind])
    theirs = np.flatnonzero([sheet.kinds[k].planting == line.beside for k in sheet.kind])
    if len(theirs) < 2 or not len(mine):
        return
    parent = theirs[np.argsort(sheet.x[theirs])[min(2, len(theirs) - 1)]]
    child = mine[np.argmin(np.hypot(sheet.x[mine] - sheet.x[parent], sheet.y[mine] - sheet.y[parent]))]
    ends = sorted([(sheet.x[parent], sheet.y[parent]), (sheet.x[child], sheet.y[child])])
    down = 3.3 / mm_per_m
    if abs(ends[1][0] - ends[0][0]) * mm_per_m > 6.0:
        start, end = ((x, y - down) for x, y in ends)
        away = round(100 * float(np.hypot(end[0] - start[0], end[1] - start[1])), 1)
        _measure(axes, start, end, words.brief(away))


def _measure(axes: Axes, start: tuple[float, float], end: tuple[float, float], text: str) -> None:
    style = {"arrowstyle": "|-|, widthA=0.18, widthB=0.18", "lw": 0.6, "color": INK, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", end, start, arrowprops=style, zorder=6)
    middle = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    turn = 90 if abs(end[1] - start[1]) > abs(end[0] - start[0]) else 0
    axes.text(*middle, text, fontsize=7.5, ha="center", va="center", rotation=turn, color=INK, bbox=_HALO, zorder=7)


def _across(axes: Axes, sheet: BedSheet, mm_per_m: float, words: Words) -> None:
    """Distances across the bed at its start: from edge to line to line to edge."""
    half = sheet.width_m / 2
    marks = sorted({round(line.offset_m, 4) for line in sheet.lines} | {-half, half})
    x = -6.0 / mm_per_m
    for low, high in pairwise(marks):
        if (high - low) * mm_per_m > 4.4:
            _measure(axes, (x, low), (x, high), words.brief(round(100 * (high - low), 1)))
    x = -13.0 / mm_per_m
    width = words.brief(round(100 * sheet.width_m, 1))
    _measure(
        axes, (x, -half), (x, half), words(say("bed {width}"), width=width) if sheet.width_m * mm_per_m > 16 else width
    )
