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

    >>> from geoagro import example_layout
    >>> example_layout().ground
    Ground: boundary MultiPolygon of 1,568 m²; plantable MultiPolygon of 1,404 m²; unplanted setback;
      findings 0
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {"unplanted": UNPLANTED}

    boundary: MultiPolygon
    plantable: MultiPolygon
    unplanted: gpd.GeoDataFrame
    findings: tuple[Finding, ...] = ()

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
