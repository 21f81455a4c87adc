"""A few settings of the rows side by side, so that the user can choose."""

from __future__ import annotations

from geoagro.values.layers import Field, LayerSpec

ROW_COMPARISON = LayerSpec(
    "row_comparison",
    "Settings of the rows side by side",
    "none",
    (
        Field("method", "text", "rows.method."),
        Field("max_grade_pct", "float", "rows.max_grade_pct.", "%"),
        Field("spacing_tolerance", "float", "rows.spacing_tolerance."),
        Field("own", "bool", "True for the setting of the design file."),
        Field(
            "in_limits", "float", "Share of the plantable ground with rows that hold this line's limits all at once."
        ),
        Field("covered", "float", "Row length times spacing over plantable area."),
        Field("in_tolerance", "float", "Share of distances between neighbours within this line's tolerance."),
        Field("spacing_p05_m", "float", "5 % of the distances between neighbours are less.", "m"),
        Field("spacing_p95_m", "float", "5 % of the distances between neighbours are more.", "m"),
        Field("grade_p95_pct", "float", "95 % of the row length is flatter than this over 10 m.", "%"),
        Field("grade_max_pct", "float", "Steepest 10 m along any row.", "%"),
        Field("row_ends_per_ha", "float", "Two per row, over plantable area.", "1/ha"),
        Field("mean_row_m", "float", "Row length over number of rows.", "m"),
        Field("rows", "int", "Number of rows; 0 where none could be laid."),
        Field("problem", "text", "Why no rows could be laid; empty if they could."),
    ),
)
