"""Tree rows: the lines that trees stand on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from shapely import LineString

from geoagro.values.layers import Field, LayerSpec

TREE_ROWS = LayerSpec(
    "tree_rows",
    "Tree rows",
    "LineString",
    (
        Field("row", "int", "Row number, counted from the top of the field."),
        Field("length_m", "float", "Length on the map plane.", "m"),
        Field("height_m", "float", "Mean height.", "m"),
        Field("grade_p50_pct", "float", "Median grade along the row over 10 m.", "%"),
        Field("grade_p95_pct", "float", "Grade that 95 % of the row stays below, over 10 m.", "%"),
        Field("grade_max_pct", "float", "Steepest 10 m along the row.", "%"),
        Field("up_p05_m", "float", "Distance to the next row upslope: 5 % is nearer.", "m"),
        Field("up_p50_m", "float", "Distance to the next row upslope: median.", "m"),
        Field("up_p95_m", "float", "Distance to the next row upslope: 5 % is farther.", "m"),
        Field("down_p05_m", "float", "Distance to the next row downslope: 5 % is nearer.", "m"),
        Field("down_p50_m", "float", "Distance to the next row downslope: median.", "m"),
        Field("down_p95_m", "float", "Distance to the next row downslope: 5 % is farther.", "m"),
        Field("min_radius_m", "float", "Tightest radius of the row's curve over 5 m.", "m"),
        Field("up_rows", "text", "Numbers of the neighbouring rows upslope, comma-separated."),
        Field("down_rows", "text", "Numbers of the neighbouring rows downslope, comma-separated."),
    ),
)


@dataclass(frozen=True)
class TreeRows:
    """Layer TREE_ROWS plus what had to be left out.

    Rows are simple LineStrings, 2D, in the working CRS, ordered by `row` (1, 2, ...). Each runs with the
    upslope side on its LEFT, so "up" and "left" name the same side (on level ground: the left side).

    Attributes
    ----------
    frame
        Layer TREE_ROWS.
    spacing_m
        Wanted horizontal distance between rows.
    cut
        Frame with `reason` and line geometry: pieces of row that a limit forbade (empty if none).
    """

    frame: Any
    spacing_m: float
    cut: Any


@dataclass(frozen=True)
class RowWindow:
    """What the beds between two rows ask of the rows' distance, metres.

    Attributes
    ----------
    need_m
        Nearer than this, an alley carries a bed less; a soft edge, inside the spacing's own tolerance.
    aim_m
        Distance that rows are laid at where the ground is even: the spacing, or less where the beds leave room.
    """

    need_m: float
    aim_m: float


@dataclass(frozen=True)
class Lines:
    """Row lines as one method drew them, not yet numbered or measured.

    Attributes
    ----------
    kept
        Lines in the plantable ground, 2D, working CRS.
    cut
        Reason (as in layer UNPLANTED) and line of each piece that a limit forbade.
    """

    kept: list[LineString]
    cut: list[tuple[str, LineString]]
