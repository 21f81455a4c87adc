"""Tree rows: the lines that trees stand on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
import shapely
from shapely import LineString

from geoagro.arrays import Bools
from geoagro.frames import gpd
from geoagro.values.base.paints import ROW
from geoagro.values.base.small_map import Drawn
from geoagro.values.base.value import Value, brief, crs_name, layer
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.site import Finding

TREE_ROWS = LayerSpec(
    "tree_rows",
    "Tree rows",
    "LineString",
    (
        Field("row", "int", "Row number: counted from the top of the field, or as it was given by hand."),
        Field("length_m", "float", "Length on the map plane.", "m"),
        Field("elevation_m", "float", "Mean elevation, above the datum of the source.", "m"),
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
        Field("name", "text", "Name given by hand; stays with the row."),
        Field("by_hand", "bool", "Given by hand (inputs.rows) and kept as it was."),
    ),
)


ROW_LIMITS = LayerSpec(
    "row_limits",
    "Limits that rows given by hand break",
    "LineString",
    (
        Field("row", "int", "Row number."),
        Field(
            "limit",
            "text",
            "grade_limit, rise_limit (with a wanted fall: the row rises on its way), spacing_limit (too near), spacing_tolerance (too "
            "far), turn_radius, short_row, crosses_itself, not_plantable (no bed there).",
        ),
        Field("from_m", "float", "Where it begins, along the row.", "m"),
        Field("to_m", "float", "Where it ends, along the row.", "m"),
        Field("worst", "float", "Worst value there, in `unit`."),
        Field("allowed", "float", "What the design allows, in `unit`."),
        Field("unit", "text", "Unit of both."),
        Field("x", "float", "Easting of the worst place, working CRS.", "m"),
        Field("y", "float", "Northing of the worst place, working CRS.", "m"),
        Field("setting", "text", "Key of the design file that asks for it."),
    ),
)

GUIDES = LayerSpec(
    "guides",
    "Guide lines and how far rows follow them",
    "LineString",
    (
        Field("guide", "int", "Number of the guide, in the order of the design and its files."),
        Field("length_m", "float", "Length as drawn.", "m"),
        Field("followed_m", "float", "Length on which a row runs within 0.1 m of it.", "m"),
        Field("followed_pct", "float", "The same over the length on plantable ground.", "%"),
        Field("outside_m", "float", "Length off the plantable ground, where no row may stand.", "m"),
        Field("rows", "text", "Numbers of the rows that follow it, comma-separated."),
        Field("why_not", "text", "Why the rest isn't followed: metres by reason, and what would help."),
    ),
)


@dataclass(frozen=True, eq=False, repr=False)
class HandNotes(Value):
    """What became of rows and guides given by hand.

    Attributes
    ----------
    guides
        Layer GUIDES.
    limits
        Layer ROW_LIMITS.
    findings
        What was trimmed, joined or renumbered, and a sentence for each kind of broken limit.
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {"guides": GUIDES, "limits": ROW_LIMITS}

    guides: gpd.GeoDataFrame
    limits: gpd.GeoDataFrame
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, eq=False, repr=False)
class TreeRows(Value):
    """Layer TREE_ROWS plus what had to be left out.

    Rows are simple LineStrings, 2D, in the working CRS, ordered by `row` (1, 2, ...; with rows by hand numbers may be
    missing, and needn't go down the field). Each runs with the
    upslope side on its LEFT, so "up" and "left" name the same side (on level ground: the left side).

    Attributes
    ----------
    frame
        Layer TREE_ROWS.
    spacing_m
        Wanted horizontal distance between rows.
    cut
        Frame with `reason` and line geometry: pieces of row that a limit forbade (empty if none).
    by_hand
        What became of rows and guides given by hand; None if there were none.
    findings
        What avoiding low points cost.

    >>> from geoagro import example_layout
    >>> example_layout().rows
    TreeRows: rows 6 rows; length 324 m; spacing 5 m; cut 0 rows; crs EPSG:32633
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {"frame": TREE_ROWS}

    frame: gpd.GeoDataFrame
    spacing_m: float
    cut: gpd.GeoDataFrame
    by_hand: HandNotes | None = None
    findings: tuple[Finding, ...] = ()

    def in_short(self) -> dict[str, str]:
        """Give number, length and spacing."""
        return {
            "rows": brief(self.frame),
            "length": f"{self.frame.length.sum():,.0f} m",
            "spacing": f"{self.spacing_m:g} m",
            "cut": brief(self.cut),
            "crs": crs_name(self.frame.crs),
        }

    def map_layers(self) -> tuple[Drawn, ...]:
        """Draw the rows."""
        return (layer(self.frame, "none", ROW, 0.8),)


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


@dataclass(frozen=True, eq=False)
class ApartGround:
    """Ground whose rows are laid by a spacing of their own, apart from all others.

    Attributes
    ----------
    name, key
        Of the zone, and where it stands in the design file.
    ground
        As drawn, working CRS.
    spacing_m, min_row_length_m
        Wanted distance between its rows, and its shortest row.
    window
        What its beds ask of the rows' distance.
    """

    name: str
    key: str
    ground: Any
    spacing_m: float
    min_row_length_m: float
    window: RowWindow

    def holds(self, lines: Any) -> Bools:
        """Tell which lines lie in it, to a millimetre."""
        inside: Bools = shapely.covers(shapely.buffer(self.ground, _EDGE_M), np.asarray(lines, dtype=object))
        return inside

    def no_room(self) -> str:
        """Say that no row fits in it."""
        return (
            f"{self.key}: no row of {self.min_row_length_m:g} m or more fits in zone '{self.name}', {self.spacing_m:g} m "
            "apart. Give it a smaller min_row_length_m or spacing_m, or draw it larger."
        )


_EDGE_M = 1e-3


@dataclass(frozen=True)
class Lines:
    """Row lines as one method drew them, not yet numbered or measured.

    Attributes
    ----------
    kept
        Lines in the plantable ground, 2D, working CRS.
    cut
        Reason (as in layer UNPLANTED) and line of each piece that a limit forbade.
    findings
        What was given up for another wish.
    """

    kept: list[LineString]
    cut: list[tuple[str, LineString]]
    findings: tuple[Finding, ...] = ()
