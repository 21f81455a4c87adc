"""Which part of the field goes on which printed sheet, and at what scale."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from shapely import Polygon, box
from shapely.affinity import translate

from geoagro.arrays import Floats, Shapes
from geoagro.errors import OutputError
from geoagro.values.stakeout import Paper, StakeRule

PAPERS_MM: dict[Paper, tuple[float, float]] = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}
MARGIN_MM = 9.0
BESIDE_MM = 4.0
"""Between map and panel; the number of the next sheet to the east stands there."""
PANEL_MM = 56.0  # title, legend and cautions on the right
TICKS_MM = 5.0  # coordinates around the map
_OVERLAP_MM = 12.0
_SCALES = (1000, 750, 500, 400, 250, 200, 100)
_ROW_MM, _STAKE_MM = 8.0, 5.0  # rows and stakes nearer than this on paper can't be labelled
_MOST_SHEETS = 400


@dataclass(frozen=True)
class Frame:
    """Where the map lies on the page, millimetres from its lower left corner."""

    left: float
    bottom: float
    width: float
    height: float


@dataclass(frozen=True)
class Sheet:
    """One sheet: its number from 1, the band of sheets it lies in (0 is north), and the ground that it shows."""

    number: int
    band: int
    ground: Polygon


@dataclass(frozen=True)
class SheetPlan:
    """All sheets of a field at one scale."""

    paper: Paper
    scale: int
    sheets: tuple[Sheet, ...]

    def own_middle(self, sheet: Sheet) -> tuple[float, float]:
        """Return the middle of the ground that no other sheet of the band shows, where there is any."""
        others = shapely.union_all([o.ground for o in self.sheets if o.band == sheet.band and o is not sheet])
        own = sheet.ground.difference(others)
        middle = (sheet.ground if own.is_empty else max(shapely.get_parts(own), key=lambda part: part.area)).centroid
        return float(middle.x), float(middle.y)

    def neighbour(self, sheet: Sheet, right: int, up: int) -> Sheet | None:
        """Return the sheet that shows most of what lies just beyond an edge, if the field goes on there."""
        west, south, east, north = sheet.ground.bounds
        beyond = translate(sheet.ground, right * (east - west) / 4, up * (north - south) / 4)
        others = [o for o in self.sheets if o.number != sheet.number and (o.band == sheet.band - up)]
        shared = [(o.ground.intersection(beyond.difference(sheet.ground)).area, -o.number, o) for o in others]
        best = max(shared, key=lambda item: item[:2], default=None)
        return best[2] if best is not None and best[0] > 0 else None


def map_frame(paper: Paper) -> Frame:
    """Map frame of a sheet in landscape."""
    width, height = PAPERS_MM[paper]
    left, bottom = MARGIN_MM + TICKS_MM, MARGIN_MM + TICKS_MM
    return Frame(left, bottom, width - left - PANEL_MM - MARGIN_MM - BESIDE_MM, height - bottom - MARGIN_MM)


def plan_sheets(marks: gpd.GeoDataFrame, rows: Shapes, spacing_m: float, rule: StakeRule) -> SheetPlan:
    """Cut the field into sheets that overlap a little, numbered line by line from the north-west.

    `rows` are the row lines. Scale "auto" takes the smallest at which rows, and half of the stakes in a row, stand
    far enough apart on paper to be told apart.

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
    xy = shapely.get_coordinates(shapely.segmentize(lines, step[0] / 50))
    bands = min((_bands(xy, step, shift) for shift in np.linspace(0, 1, 9)), key=len)
    extra = _OVERLAP_MM * scale / 2000
    sheets = [
        Sheet(k, band, box(x - extra, y - extra, x + step[0] + extra, y + step[1] + extra))
        for k, (band, x, y) in enumerate(bands, start=1)
    ]
    return SheetPlan(rule.paper, scale, tuple(sheets))


def _bands(xy: Floats, step: list[float], shift: float) -> list[tuple[int, float, float]]:
    """Cover points with as few sheets as bands of one height allow: band, west and south of each.

    `shift` (0 to 1) tells how the room left over is shared between the northern and the southern edge.
    """
    south, north = float(xy[:, 1].min()), float(xy[:, 1].max())
    count = max(int(np.ceil((north - south) / step[1])), 1)
    top = north + shift * (count * step[1] - (north - south))
    band = np.clip(((top - xy[:, 1]) / step[1]).astype(int), 0, count - 1)
    return [
        (k, west, top - (k + 1) * step[1])
        for k in np.unique(band).tolist()
        for west in _cover(np.sort(xy[band == k, 0]), step[0])
    ]


def _cover(x: Floats, width: float) -> list[float]:
    """Western edges of the fewest strips of a width that cover sorted places, evenly spread over each stretch."""
    starts = [float(x[0])]
    while x[-1] > starts[-1] + width:
        starts.append(float(x[np.searchsorted(x, starts[-1] + width, side="right")]))
    spread: list[float] = []
    first = 0
    for k in range(1, len(starts) + 1):
        if k < len(starts) and starts[k] - starts[k - 1] - width < width / 40:
            continue
        end = float(x[np.searchsorted(x, starts[k - 1] + width, side="right") - 1])
        slack = (k - first) * width - (end - starts[first])
        if k - first == 1:
            spread.append(starts[first] - slack / 2)
        else:
            spread += np.linspace(starts[first], end - width, k - first).tolist()
        first = k
    return spread


def _scale(marks: gpd.GeoDataFrame, spacing_m: float) -> int:
    tape = marks["tape_m"].dropna().to_numpy()
    near = float(np.median(tape)) if len(tape) else spacing_m
    for scale in _SCALES:
        if spacing_m * 1000 / scale >= _ROW_MM and near * 1000 / scale >= _STAKE_MM:
            return scale
    return _SCALES[-1]
