"""Rows laid without beds and plants, with what each limit cost and how hard the ground is for rows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.measures import Measures
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.terrain import Difficulty, Terrain

ROW_CUTS = LayerSpec(
    "row_cuts",
    "Pieces of row cut away",
    "LineString",
    (
        Field("reason", "text", "Limit that the piece broke; reason as in layer unplanted."),
        Field("length_m", "float", "Length on the map plane.", "m"),
    ),
)

LIMIT_COSTS = LayerSpec(
    "limit_costs",
    "What each limit costs in ground",
    "none",
    (
        Field("reason", "text", "Reason as in layer unplanted."),
        Field("words", "text", "The reason in words."),
        Field("setting", "text", "Key of the design file that asks for it, with its value; empty if none does."),
        Field("area_m2", "float", "Ground left unplanted for it, on the map plane.", "m2"),
        Field("part_of", "text", "What the share is of: field (left before rows) or plantable (left because of rows)."),
        Field("share", "float", "Share of the field's area, or of the plantable area."),
    ),
)

DIFFICULTY_ZONES = LayerSpec(
    "terrain_limits",
    "Which limit the ground reaches first",
    "Polygon",
    (
        Field("first", "text", "What gives out first: spacing, grade, both (about equally soon), neither."),
        Field(
            "equidistant_m", "float", "How far a level row keeps its spacing: median of the zone; empty if any.", "m"
        ),
        Field("holds_grade_rows", "float", "Parallel rows on one side that hold the grade: median; empty if any."),
        Field("area_m2", "float", "Area on the map plane.", "m2"),
    ),
)


@dataclass(frozen=True)
class RowPlan:
    """Tree rows on the plantable ground, before any bed or plant; all in `site.crs`.

    Attributes
    ----------
    unplanted
        Layer UNPLANTED: ground left before rows, and ground that no row serves, by reason.
    quality
        How well the rows lie.
    costs
        Table LIMIT_COSTS.
    contours
        Layer CONTOURS.
    difficulty
        What the ground demands of rows; None where heights are unknown.
    zones
        Layer DIFFICULTY_ZONES; empty where heights are unknown.
    """

    design: Design
    site: Site
    terrain: Terrain
    ground: Ground
    rows: TreeRows
    unplanted: Any
    quality: Measures
    costs: Any
    contours: Any
    difficulty: Difficulty | None
    zones: Any
