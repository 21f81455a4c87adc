"""Which part of the field goes on which printed sheet, and at what scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import Polygon, STRtree, box

from geoagro.errors import OutputError
from geoagro.values.stakeout import Paper, StakeRule

PAPERS_MM: dict[Paper, tuple[float, float]] = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}
MARGIN_MM = 9.0
PANEL_MM = 56.0  # title, legend and cautions on the right
TICKS_MM = 5.0  # coordinates around the map
_OVERLAP_MM = 12.0
_SCALES = (1000, 750, 500, 400, 250, 200, 100)
_ROW_MM, _STAKE_MM = 8.0, 7.0  # rows and stakes nearer than this on paper can't be labelled
_MOST_SHEETS = 400
# where the raster of sheets may lie; centred first, so that it wins where others save nothing
_SHIFTS = [(u / 8, v / 8) for u in (0, 1, -1, 2, -2, 3, -3, 4) for v in (0, 1, -1, 2, -2, 3, -3, 4)]


@dataclass(frozen=True)
class Frame:
    """Where the map lies on the page, millimetres from its lower left corner."""

    left: float
    bottom: float
    width: float
    height: float


@dataclass(frozen=True)
class Sheet:
    """One sheet: its number from 1, and the ground that it shows."""

    number: int
    column: int
    line: int
    ground: Polygon


@dataclass(frozen=True)
class SheetPlan:
    """All sheets of a field at one scale."""

    paper: Paper
    scale: int
    sheets: tuple[Sheet, ...]

    def neighbour(self, sheet: Sheet, right: int, up: int) -> Sheet | None:
        """Return the sheet next to one, if the field goes on there."""
        wanted = (sheet.column + right, sheet.line - up)
        return next((other for other in self.sheets if (other.column, other.line) == wanted), None)


def map_frame(paper: Paper) -> Frame:
    """Map frame of a sheet in landscape."""
    width, height = PAPERS_MM[paper]
    left, bottom = MARGIN_MM + TICKS_MM, MARGIN_MM + TICKS_MM
    return Frame(left, bottom, width - left - PANEL_MM - MARGIN_MM - 2.0, height - bottom - MARGIN_MM)


def plan_sheets(marks: Any, rows: Any, spacing_m: float, rule: StakeRule) -> SheetPlan:
    """Cut the field into sheets that overlap a little, numbered line by line from the north-west.

    `rows` are the row lines. Scale "auto" takes the smallest at which rows and nine in ten stakes stand far enough
    apart on paper to be told apart.

    Raises OutputError where the scale asked for needs more than 400 sheets.
    """
    scale = _scale(marks, spacing_m) if rule.scale == "auto" else rule.scale
    frame = map_frame(rule.paper)
    step = [(side - _OVERLAP_MM) * scale / 1000 for side in (frame.width, frame.height)]
    lines = np.asarray(rows)
    west, south, east, north = (float(v) for v in shapely.total_bounds(lines))
    if (east - west) * (north - south) > _MOST_SHEETS * step[0] * step[1]:
        raise OutputError(
            f"stakeout.scale: 1:{scale} needs more than {_MOST_SHEETS} sheets. Choose a larger scale number, or auto."
        )
    cells = min((_cells(lines, step, shift) for shift in _SHIFTS), key=len)
    extra = _OVERLAP_MM * scale / 2000
    sheets = [
        Sheet(k, column, line, shapely.buffer(box(*cell), extra, join_style="mitre"))
        for k, ((line, column), cell) in enumerate(sorted(cells.items()), start=1)
    ]
    return SheetPlan(rule.paper, scale, tuple(sheets))


def _cells(lines: Any, step: list[float], shift: tuple[float, float]) -> dict[tuple[int, int], Any]:
    """Cells (line, column) of a raster of sheets that rows run through, and their bounds.

    `shift` moves the raster by a share of a sheet off the place where it is centred on the field.
    """
    west, south, east, north = (float(v) for v in shapely.total_bounds(lines))
    counts = [
        int(np.ceil((extent + 2.0) / s)) + 1 for extent, s in zip((east - west, north - south), step, strict=True)
    ]
    left = (west + east - counts[0] * step[0]) / 2 + shift[0] * step[0]
    top = (south + north + counts[1] * step[1]) / 2 + shift[1] * step[1]
    column, line = (v.ravel() for v in np.meshgrid(np.arange(counts[0]), np.arange(counts[1])))
    bounds = np.column_stack([left + column * step[0], top - (line + 1) * step[1]])
    bounds = np.hstack([bounds, bounds + step])
    used = np.unique(STRtree(shapely.box(*bounds.T)).query(lines, predicate="intersects")[1])
    return {(int(line[k]), int(column[k])): bounds[k] for k in used}


def _scale(marks: Any, spacing_m: float) -> int:
    tape = marks["tape_m"].dropna().to_numpy()
    near = float(np.quantile(tape, 0.1)) if len(tape) else spacing_m
    for scale in _SCALES:
        if spacing_m * 1000 / scale >= _ROW_MM and near * 1000 / scale >= _STAKE_MM:
            return scale
    return _SCALES[-1]
