"""The map of one printed sheet, true to scale: rows, stakes with their names, ground kept free, coordinate grid."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from scipy.spatial import cKDTree
from shapely import Polygon, box

from geoagro.arrays import Shapes
from geoagro.outputs.drawing.letters import LEAST_PT, width_mm
from geoagro.outputs.drawing.paper import BLACK, GREY, PALE, Page
from geoagro.outputs.stakes.scale_factor import ScaleFactor
from geoagro.outputs.stakes.sheet_names import NAME_PT, SheetNames, place_names
from geoagro.outputs.stakes.sheet_plan import Frame, Sheet, SheetPlan
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.stakeout.records.stakes import StakeOut
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.stakeout import STAKE_KINDS
from geoagro.values.words import say

SHAPES = {"square": "s", "diamond": "D", "triangle": "^", "circle": "o"}
"""Markers of the drawing library by the shape of a kind of stake."""
_ROW_PT, _GRID_PT = 10.0, LEAST_PT
_ROW_STEP_MM = 3.5  # about the half height of a row's name with its frame
_GRID_MM = 40.0
_CROWDED_MM = 5.0
_EAST, _NORTH = say("E {metres}"), say("N {metres}")


@dataclass(frozen=True)
class Content:
    """What is drawn and said on the sheets; `advice` are sentences about scale and receiver."""

    stakes: StakeOut
    rows: TreeRows
    site: Site
    factor: ScaleFactor
    advice: tuple[str, ...]
    words: Words = ENGLISH


def draw_map(page: Page, frame: Frame, content: Content, plan: SheetPlan, sheet: Sheet) -> SheetNames:
    """Draw the ground of a sheet into its frame; one millimetre of paper is `scale` millimetres of the map plane.

    Returns where names of stakes stand, and which found no room.
    """
    axes = page.frame(frame.left, frame.bottom, frame.width, frame.height)
    west, south, east, north = sheet.ground.bounds
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    metres_per_mm = plan.scale / 1000
    _draw_grid(page, axes, (frame, sheet), metres_per_mm, content.words)
    _draw_ground(axes, content.site, sheet.ground)
    lines = content.rows.frame.geometry.to_numpy()
    here = shapely.intersection(lines, sheet.ground)
    axes.add_collection(LineCollection(_paths(here), colors=BLACK, linewidths=0.7, zorder=3))
    mine = content.stakes.marks[shapely.contains_xy(sheet.ground, content.stakes.marks["x"], content.stakes.marks["y"])]
    _draw_marks(axes, mine)
    labels = content.stakes.marks.drop_duplicates("row").set_index("row")["label"]
    crowd = Crowd(content.stakes.marks, _CROWDED_MM * metres_per_mm)
    wanted = [
        (str(labels[number]), x, y)
        for number, line, part in zip(content.rows.frame["row"], lines, here, strict=True)
        for x, y in _name_places(int(number), line, part, metres_per_mm, crowd)
    ]
    written = row_names_apart(wanted, sheet.ground.bounds, metres_per_mm)
    for label, x, y in written:
        _name_row(axes, label, x, y)
    of_rows = row_boxes(written, metres_per_mm)
    pegs = pegs_apart(content.stakes.baseline, of_rows, (sheet.ground, metres_per_mm), content.words)
    names = place_names(mine, [*of_rows, *(peg.box for peg in pegs)], metres_per_mm, sheet.ground)
    _write_names(axes, names)
    draw_pegs(axes, pegs)
    return names


def _paths(lines: Shapes) -> list[Any]:
    parts = shapely.get_parts(lines[~shapely.is_empty(lines)])
    return [shapely.get_coordinates(p) for p in parts if p.geom_type == "LineString"]


def _draw_grid(page: Page, axes: Axes, at_place: tuple[Frame, Sheet], metres_per_mm: float, words: Words) -> None:
    frame, sheet = at_place
    step = _round_step(_GRID_MM * metres_per_mm)
    west, south, east, north = sheet.ground.bounds
    for x in np.arange(np.ceil(west / step) * step, east, step):
        axes.axvline(x, color=PALE, lw=0.35, zorder=0)
        at = frame.left + (x - west) / metres_per_mm
        page.write(at, frame.bottom - 0.8, words(_EAST, metres=f"{x:.0f}"), size_pt=_GRID_PT, ha="center", color=GREY)
    for y in np.arange(np.ceil(south / step) * step, north, step):
        axes.axhline(y, color=PALE, lw=0.35, zorder=0)
        at = frame.bottom + (y - south) / metres_per_mm
        page.write(
            frame.left - 0.8,
            at,
            words(_NORTH, metres=f"{y:.0f}"),
            size_pt=_GRID_PT,
            ha="right",
            va="center",
            rotation=90,
            color=GREY,
        )


def _round_step(metres: float) -> float:
    steps = np.array([5, 10, 20, 25, 50, 100, 200, 250, 500])
    return float(steps[np.abs(np.log(steps / metres)).argmin()])


def _draw_ground(axes: Axes, site: Site, ground: Polygon) -> None:
    for exclusion in site.exclusions:
        hatch = "xxx" if exclusion.kind == "exclusion" else "..."
        for part in shapely.get_parts(shapely.intersection(exclusion.area, ground)):
            if part.geom_type == "Polygon":
                axes.fill(*_ring(part), fc="#f0f0f0", ec=GREY, hatch=hatch, lw=0.6, zorder=1)
    for part in shapely.get_parts(site.boundary):
        for ring in (part.exterior, *part.interiors):
            axes.plot(*shapely.get_coordinates(ring).T, color=BLACK, lw=1.6, zorder=2)


def _ring(part: Polygon) -> tuple[Any, Any]:
    xy = shapely.get_coordinates(part.exterior)
    return xy[:, 0], xy[:, 1]


def _draw_marks(axes: Axes, mine: gpd.GeoDataFrame) -> None:
    for code, kind in STAKE_KINDS.items():
        some = mine[mine["kind"] == code]
        axes.plot(
            some["x"], some["y"], marker=SHAPES[kind.shape], ms=kind.size_pt, mfc=BLACK if kind.is_filled else "white",
            mec=BLACK, mew=0.7, ls="none", zorder=5,
        )  # fmt: skip


def _write_names(axes: Axes, names: SheetNames) -> None:
    for one in names.drawn:
        axes.text(
            one.x, one.y, one.text, fontsize=NAME_PT, rotation=one.angle_deg, ha="center", va="center",
            rotation_mode="anchor", zorder=6, clip_on=True,
        )  # fmt: skip


RowName = tuple[str, float, float]
_MOVES = sorted(
    ((i, j) for i in range(-3, 4) for j in range(-3, 4)), key=lambda move: (move[0] ** 2 + move[1] ** 2, move)
)


def row_names_apart(
    wanted: list[RowName], bounds: tuple[float, float, float, float], metres_per_mm: float
) -> list[RowName]:
    """Move names of rows into the map and off each other, by some 10 mm at most; what is still covered is left out.

    Each row's first name finds its place before any row's second one, and stays even where it covers another.
    """
    count: dict[str, int] = {}
    turns = []
    for label, _, _ in wanted:
        turns.append(count.get(label, 0))
        count[label] = turns[-1] + 1
    kept: list[RowName] = []
    boxes: list[Polygon] = []
    for k in sorted(range(len(wanted)), key=turns.__getitem__):
        places = list(_moved_into(wanted[k], bounds, metres_per_mm))
        frames = row_boxes(places, metres_per_mm)
        free = next((n for n, one in enumerate(frames) if not any(one.intersects(other) for other in boxes)), None)
        if free is not None or turns[k] == 0:
            kept.append(places[free or 0])
            boxes.append(frames[free or 0])
    return kept


def _moved_into(one: RowName, bounds: tuple[float, float, float, float], metres_per_mm: float) -> Iterator[RowName]:
    """Places for a row's name, all inside the map, the nearest to its own first."""
    label, x, y = one
    west, south, east, north = bounds
    left, low, right, high = row_boxes([one], metres_per_mm)[0].bounds
    wide, tall, step = (right - left) / 2, (high - low) / 2, _ROW_STEP_MM * metres_per_mm
    for across, up in _MOVES:
        yield (
            label,
            float(np.clip(x + across * step, west + wide, east - wide)),
            float(np.clip(y + up * step, south + tall, north - tall)),
        )


def row_boxes(labels: list[RowName], metres_per_mm: float) -> list[Polygon]:
    """Give the ground that rows' names take, with their frames."""
    out = []
    for text, x, y in labels:
        wide = (0.36 * len(text) + 0.3) * _ROW_PT * 25.4 / 72 * metres_per_mm
        high = 0.9 * _ROW_PT * 25.4 / 72 * metres_per_mm
        out.append(box(x - wide, y - high, x + wide, y + high))
    return out


class Crowd:
    """Tells whether stakes of other rows stand near a place."""

    def __init__(self, marks: gpd.GeoDataFrame, near_m: float) -> None:
        self._tree = cKDTree(marks[["x", "y"]].to_numpy())
        self._row = marks["row"].to_numpy()
        self._near_m = near_m

    def at(self, place: Any, row: int) -> bool:
        """Tell whether a stake of another row is near."""
        return bool((self._row[self._tree.query_ball_point(place, self._near_m)] != row).any())


def _name_row(axes: Axes, label: str, x: float, y: float) -> None:
    axes.text(
        x, y, label, fontsize=_ROW_PT, fontweight="bold", ha="center", va="center", zorder=7, clip_on=True,
        bbox={"boxstyle": "round,pad=0.18", "fc": "white", "ec": BLACK, "lw": 0.5},
    )  # fmt: skip


def _name_places(row: int, line: Any, part: Any, metres_per_mm: float, crowd: Crowd) -> Iterator[tuple[float, float]]:
    """Give places for a row's name: past its ends (beside them where other rows are near), and where it leaves the sheet."""
    pieces = [p for p in shapely.get_parts(part) if p.geom_type == "LineString" and not p.is_empty]
    for piece in pieces:
        ends = [(0.0, 1.0), (piece.length, -1.0)] if piece.length > 25 * metres_per_mm else [(0.0, 1.0)]
        for station, inward in ends:
            end, ahead = _end_and_direction(piece, station, inward)
            if min(shapely.distance(shapely.points(end), shapely.get_point(line, [0, -1]))) > 1e-3:
                yield tuple(end + 5.0 * metres_per_mm * ahead)
                continue
            past = end - 5.6 * metres_per_mm * ahead
            if not crowd.at(past, row):
                yield tuple(past)
                continue
            right = inward * np.array([ahead[1], -ahead[0]])
            yield tuple(end + metres_per_mm * (5.0 * ahead + 3.6 * right))


def _end_and_direction(piece: Any, station: float, inward: float) -> tuple[Any, Any]:
    """Find an end of a line and the unit vector that leads into it."""
    near = np.clip(station + inward, 0.0, piece.length)
    end, inside = shapely.get_coordinates(shapely.line_interpolate_point(piece, [station, near]))
    return end, (inside - end) / max(float(np.hypot(*(inside - end))), 1e-6)


_PEG_PT, _PEG_RING_MM = 8.0, 2.2
_PEG_PLACES = ((1, -1), (1, 1), (-1, 1), (-1, -1), (0, -1), (0, 1), (1, 0), (-1, 0))


@dataclass(frozen=True)
class Peg:
    """A peg of the baseline with the middle of its name and the ground that the name takes."""

    at: tuple[float, float]
    text: str
    box: Polygon


def pegs_apart(baseline: Any, taken: list[Polygon], on: tuple[Polygon, float], words: Words) -> list[Peg]:
    """Find a place beside each peg that stands on a sheet (ground, metres per mm) for its name.

    The name keeps within the map and off rows' names (`taken`); where each place is taken, it stays at the first inside.
    """
    ground, metres_per_mm = on
    pegs: list[Peg] = []
    for name, (x, y) in (("A", baseline.a), ("B", baseline.b)):
        if not shapely.contains_xy(ground, x, y):
            continue
        text = words(say("peg {name}"), name=name)
        boxes = [one for one in _beside_peg(x, y, text, metres_per_mm) if ground.covers(one)]
        others = [*taken, *(peg.box for peg in pegs)]
        free = [one for one in boxes if not any(one.intersects(other) for other in others)]
        if boxes:
            pegs.append(Peg((x, y), text, (free or boxes)[0]))
    return pegs


def _beside_peg(x: float, y: float, text: str, metres_per_mm: float) -> Iterator[Polygon]:
    """Boxes of a peg's name around its ring."""
    wide = (width_mm(text, _PEG_PT, bold=True) / 2 + 0.4) * metres_per_mm
    high = (0.5 * _PEG_PT * 25.4 / 72 + 0.4) * metres_per_mm
    for right, up in _PEG_PLACES:
        across = x + right * (wide + _PEG_RING_MM * metres_per_mm * (0.6 if up else 1.0))
        along = y + up * (high + _PEG_RING_MM * metres_per_mm * (0.6 if right else 1.0))
        yield box(across - wide, along - high, across + wide, along + high)


def draw_pegs(axes: Axes, pegs: list[Peg]) -> None:
    """Draw each peg as a ring with its name."""
    for peg in pegs:
        axes.plot(*peg.at, marker="o", ms=11, mfc="none", mec=BLACK, mew=1.3, zorder=8)
        middle = peg.box.centroid
        axes.text(
            middle.x, middle.y, peg.text, fontsize=_PEG_PT, fontweight="bold", zorder=9, ha="center", va="center",
            bbox={"boxstyle": "square,pad=0.12", "fc": "white", "ec": "none"},
        )  # fmt: skip
