"""Ground that can't be what it is taken for, each with the figure that gave it away."""

from __future__ import annotations

import numpy as np
import shapely

from geoagro.arrays import Floats, Shapes
from geoagro.errors import InputError
from geoagro.inputs.raster.file import RasterWindow
from geoagro.values.grid import Grid
from geoagro.values.site import Finding
from geoagro.values.words import Sentence

TOO_STEEP, DOUBTFUL = 1.0, 0.45
"""Median slope (ratio) that no field has, and one that few have; heights in centimetres, or grey values, look like that.
Our own choice."""

MISFIT = 0.4
"""Share of turning in the change of a slope field: 0 for any ground, about 0.7 where directions are by chance. A third is
what the rounding of exported rasters can reach on gentle ground; our own choice."""

FEW_HEIGHTS, MANY_CELLS = 20, 400
"""So few heights in so many cells are a mask, classes of cover, or heights rounded to whole metres; our own choice."""

COARSE_M = 5.0
"""Wider cells than this hide gullies, banks and ridges that rows meet; our own choice."""

_FEW_CROSSINGS = 0.02


def height_doubts(window: RasterWindow, *, key: str) -> tuple[Finding, ...]:
    """Look at heights in metres: all alike, a handful of different ones, or steeper than ground is.

    Raises InputError where half of the neighbouring cells differ by more than their distance.
    """
    known = window.values[np.isfinite(window.values)]
    if len(known) > 1 and known.min() == known.max():
        text = Sentence("all {n} cells hold {known:g} m; ground is never so level", n=len(known), known=known[0])
        return (Finding("warning", window.where, text),)
    median = _median_slope(window)
    if median > TOO_STEEP:
        raise InputError(
            f"{window.where}: half of the ground would be steeper than {100 * median:,.0f} %, so these aren't heights in "
            f"metres. If they are in centimetres, set {key}.unit to cm; if it is a picture or another measure, give the "
            "raster of heights."
        )
    if median > DOUBTFUL:
        text = Sentence(
            "half of the ground is steeper than {median:.0f} %; if heights are in another unit, set {key}.unit",
            median=100 * median,
            key=key,
        )
        return (Finding("warning", window.where, text),)
    return (*_few_heights(known, window.where), *_wide_cells(window))


def _few_heights(known: Floats, where: str) -> tuple[Finding, ...]:
    levels = np.unique(known)
    if len(levels) > FEW_HEIGHTS or len(known) < MANY_CELLS:
        return ()
    shown = ", ".join(f"{level:g}" for level in levels[:3]) + (", ..." if len(levels) > 3 else "")
    text = Sentence(
        "{n} cells hold only {different} different heights ({shown} m), with steps between them. A mask or "
        "classes of cover look like that, and heights rounded to whole metres: rows would follow the "
        "edges of the steps. Give heights with decimals",
        n=len(known),
        different=len(levels),
        shown=shown,
    )
    return (Finding("warning", where, text),)


def _wide_cells(window: RasterWindow) -> tuple[Finding, ...]:
    """Tell what a coarse raster can't show; the height of a cell is measured, since widths in degrees shrink poleward."""
    metres = 111_320.0 if window.crs.is_geographic else float(window.crs.axis_info[0].unit_conversion_factor)
    cell_m = float(np.hypot(window.transform.b, window.transform.e)) * metres
    if cell_m <= COARSE_M:
        return ()
    text = Sentence(
        "cells are about {cell_m:.0f} m wide, and the ground between them is taken to be smooth. "
        "Gullies, banks and ridges narrower than about {least:.0f} m aren't in it: where the field has "
        "such, rows come out steeper than told. Give a finer survey",
        cell_m=cell_m,
        least=2 * cell_m,
    )
    return (Finding("note", window.where, text),)


def _median_slope(window: RasterWindow) -> float:
    """Median of the steeper difference to the next cell below and to the right, over their distance on the ground."""
    t, values = window.transform, window.values
    metres = 111_320.0 if window.crs.is_geographic else float(window.crs.axis_info[0].unit_conversion_factor)
    across, down = np.hypot(t.a, t.d) * metres, np.hypot(t.b, t.e) * metres
    if min(values.shape) < 2:
        return 0.0
    step = max(int(np.sqrt(values.size / 1e6)), 1)  # a million places tell a median
    here, right, below = values[:-1:step, :-1:step], values[:-1:step, 1::step], values[1::step, :-1:step]
    slope = np.hypot((right - here) / across, (below - here) / down)
    slope = slope[np.isfinite(slope)]
    return float(np.median(slope)) if len(slope) else 0.0


def refuse_radians(known: Floats, where: str) -> None:
    """Raise InputError where directions fill the circle of radians and none lies beyond it."""
    if len(known) and known.min() >= 0 and known.max() <= 2 * np.pi + 0.001 and np.ptp(known) > 3.0:
        raise InputError(
            f"{where}: directions run from {known.min():.2f} to {known.max():.2f}, which is the circle in radians. Multiply "
            "by 57.2958, so that they are degrees clockwise from north."
        )


def aspect_doubts(slope: Grid, aspect_deg: Grid, *, where: str) -> tuple[Finding, ...]:
    """Tell how far slope and aspect belong to any ground at all: the gradient of heights doesn't turn in a circle."""
    angle = np.deg2rad(aspect_deg.values)
    east, north = -slope.values * np.sin(angle), -slope.values * np.cos(angle)
    east_y, east_x = np.gradient(east)
    north_y, north_x = np.gradient(north)
    parts = np.array([east_x, -east_y, north_x, -north_y])  # rows run south
    parts = parts[:, np.isfinite(parts).all(axis=0)]
    change = float(np.sqrt((parts**2).sum(axis=0).mean())) if parts.size else 0.0
    typical = float(np.nanmean(slope.values)) if np.isfinite(slope.values).any() else 0.0
    if change <= 0.01 * typical:
        return ()  # a plane: any one direction fits
    turning = float(np.sqrt(((parts[2] - parts[1]) ** 2).mean() / 2)) / change
    if turning <= MISFIT:
        return ()
    text = Sentence(
        "slope and aspect don't belong to one ground: {turning:.0f} % of their change turns in circles "
        "(0 % on any ground, about 70 % by chance). Check that aspect is the direction downslope, "
        "clockwise from north, of the same survey",
        turning=100 * turning,
    )
    return (Finding("warning", where, text),)


def contour_doubts(lines: Shapes, heights: Floats, *, where: str) -> tuple[Finding, ...]:
    """Look for contours of different heights that meet; a few may be drawn badly, many are no contours.

    Raises InputError where lines lie on each other for more than a metre, or many cross.
    """
    one, other = shapely.STRtree(lines).query(lines, predicate="intersects")
    pair = (one < other) & (heights[one] != heights[other])
    one, other = one[pair], other[pair]
    if len(one) == 0:
        return ()
    shared = shapely.intersection(lines[one], lines[other])
    worst = int(np.argmax(shapely.length(shared)))
    spot = shapely.get_coordinates(shared[worst])[0]
    low, high = sorted((float(heights[one[worst]]), float(heights[other[worst]])))
    at = f"at {spot[0]:.0f}, {spot[1]:.0f} (working CRS)"
    if shapely.length(shared[worst]) > 1.0:
        raise InputError(
            f"{where}: {len(one)} pair(s) of contours lie on each other with different heights, e.g. {low:g} and {high:g} m "
            f"{at}. Leave one of them out, e.g. with `where`, or look whether `height_field` is right."
        )
    if len(one) > _FEW_CROSSINGS * len(lines):
        raise InputError(
            f"{where}: {len(one)} pair(s) of contours of different heights cross, e.g. {low:g} and {high:g} m {at}; ground "
            "can't be at two heights. Look whether they are contours, and whether `height_field` is right."
        )
    text = Sentence(
        "{n} {n:pair of contours of different heights crosses|pairs of contours of different heights cross}, "
        "e.g. {low:g} and {high:g} m {at}",
        n=len(one),
        low=low,
        high=high,
        at=at,
    )
    return (Finding("warning", where, text),)
