"""Wood of trees that are felled, thinned or cut to the stump."""

from __future__ import annotations

from geoagro.values.layers import Field, LayerSpec

WOOD = LayerSpec(
    "season_wood",
    "Wood of felled trees",
    "none",
    (
        Field("month", "date", "First day of the month of felling."),
        Field("crop", "text", "Code of the tree."),
        Field("trees", "int", "Trees felled, thinned or cut to the stump."),
        Field("height_m", "float", "Height by then, as the record lets it grow.", "m"),
        Field("crown_m", "float", "Diameter of the crown by then.", "m"),
        Field("diameter_cm", "float", "Diameter of the stem that goes with height and crown.", "cm"),
        *(Field(f"dry_kg_{k}", "float", f"Dry mass of stem and branches, {k} estimate.", "kg") for k in ("low", "likely", "high")),
        *(Field(f"m3_{k}", "float", f"Volume of stem and branches, {k} estimate.", "m3") for k in ("low", "likely", "high")),
        Field("use", "text", "'sold' where the design gives `wood_price`, else 'own use'."),
        *(Field(f"income_{k}", "float", f"Volume x price, {k}; zero for own use.") for k in ("low", "likely", "high")),
    ),
)  # fmt: skip
"""Fruit trees too: what is felled at the end of its life. Trees whose yield is their wood stand in SEASON_YIELD instead, and
trees cut for mulch in SEASON_NUTRIENTS."""
