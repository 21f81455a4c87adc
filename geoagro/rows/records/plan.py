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
