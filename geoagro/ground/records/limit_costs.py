"""What each limit of the design costs in ground."""

from __future__ import annotations

from geoagro.values.layers import Field, LayerSpec

LIMIT_COSTS = LayerSpec(
    "limit_costs",
    "What each limit costs in ground",
    "none",
    (
        Field("reason", "text", "Reason as in layer unplanted; narrow_alley for beds that alleys lack."),
        Field("words", "text", "The reason in words."),
        Field("setting", "text", "Key of the design file that asks for it, with its value; empty if none does."),
        Field("area_m2", "float", "Ground left unplanted for it, on the map plane.", "m2"),
        Field(
            "part_of",
            "text",
            "What the share is of: field (left before rows), plantable (left because of rows) or paths (path where a bed could be; share of the plantable area).",
        ),
        Field("share_pct", "float", "Of the field's area, or of the plantable area.", "%"),
    ),
)
