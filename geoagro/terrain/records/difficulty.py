"""Which limit of the rows the ground reaches first, by zones."""

from __future__ import annotations

from geoagro.values.layers import Field, LayerSpec

DIFFICULTY_ZONES = LayerSpec(
    "terrain_limits",
    "Which limit the ground reaches first",
    "Polygon",
    (
        Field("first", "text", "Which limit is reached first: spacing, grade, both (about equally soon), neither."),
        Field(
            "equidistant_m", "float", "How far a level row keeps its spacing: median of the zone; empty if any.", "m"
        ),
        Field("holds_grade_rows", "float", "Parallel rows on one side that hold the grade: median; empty if any."),
        Field("area_m2", "float", "Area on the map plane.", "m2"),
    ),
)
