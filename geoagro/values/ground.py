"""Which ground may be planted and which may not, with the reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from shapely import MultiPolygon

from geoagro.frames import gpd
from geoagro.values.base import paints
from geoagro.values.base.small_map import Drawn
from geoagro.values.base.value import Value, brief, shape
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.reasons import REASONS
from geoagro.values.site import Finding

PLANTABLE = LayerSpec(
    "plantable",
    "Plantable ground",
    "Polygon",
    (
        Field("piece", "int", "Number of the connected piece, largest first."),
        Field("area_m2", "float", "Area on the map plane.", "m2"),
    ),
)

UNPLANTED = LayerSpec(
    "unplanted",
    "Ground left unplanted",
    "MultiPolygon",
    (
        Field("reason", "text", f"Why: {', '.join(REASONS)}.", values=tuple(REASONS)),
        Field("area_m2", "float", "Area on the map plane.", "m2"),
    ),
)

GULLIES = LayerSpec(
    "gullies",
    "Gullies and ditches",
    "MultiPolygon",
    (
        Field("gully", "int", "Number of the channel, the deepest first."),
        Field("depth_m", "float", "Greatest depth below the lower bank, in the field.", "m"),
        Field("width_m", "float", "Mean width where the ground lies 0.1 m or more below the banks.", "m"),
        Field("length_m", "float", "Length in the field, branches included.", "m"),
        Field("fall_m", "float", "How far the banks fall along the whole channel as surveyed.", "m"),
        Field("area_m2", "float", "Area in the field on the map plane.", "m2"),
        Field("kept_free_m2", "float", "Area of it that exclusions and tracks keep free already.", "m2"),
        Field("deepest_x", "float", "Easting of the deepest place.", "m"),
        Field("deepest_y", "float", "Northing of the deepest place.", "m"),
    ),
)


@dataclass(frozen=True, eq=False, repr=False)
class Ground(Value):
    """The field split once, without overlap: plantable + unplanted = boundary.

    Attributes
    ----------
    boundary
        The field's outline.
    plantable
        Where rows may stand.
    unplanted
        Layer UNPLANTED: the rest before any row is laid, each part with its reason.
    findings
        What a reader must know of how it was split.
    gullies
        Layer GULLIES: narrow channels in the field, marked and not taken from it; None where nobody looked.

    >>> from geoagro import example_layout
    >>> example_layout().ground
    Ground: boundary MultiPolygon of 1,568 m²; plantable MultiPolygon of 1,404 m²; unplanted setback;
      findings 0
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {"unplanted": UNPLANTED, "gullies": GULLIES}

    boundary: MultiPolygon
    plantable: MultiPolygon
    unplanted: gpd.GeoDataFrame
    findings: tuple[Finding, ...] = ()
    gullies: gpd.GeoDataFrame | None = None

    def in_short(self) -> dict[str, str]:
        """Give areas, and the reasons for what isn't planted."""
        return {
            "boundary": brief(self.boundary),
            "plantable": brief(self.plantable),
            "unplanted": ", ".join(sorted(set(self.unplanted["reason"]))) or "none",
            "findings": brief(self.findings),
        }

    def map_layers(self) -> tuple[Drawn, ...]:
        """Draw the plantable ground in the field."""
        return (
            shape(self.boundary, paints.UNPLANTED_PAINT, paints.FIELD_INK, 1.5),
            shape(self.plantable, paints.PLANTABLE, paints.FIELD_INK, 0.3),
        )
