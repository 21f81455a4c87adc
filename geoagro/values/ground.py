"""Which ground may be planted and which may not, with the reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from shapely import MultiPolygon

from geoagro.values.layers import Field, LayerSpec
from geoagro.values.reasons import REASONS
from geoagro.values.site import Finding

PLANTABLE = LayerSpec(
    "plantable",
    "Plantable ground",
    "Polygon",
    (
        Field("part", "int", "Number of the connected part, largest first."),
        Field("area_m2", "float", "Area on the map plane.", "m2"),
    ),
)

UNPLANTED = LayerSpec(
    "unplanted",
    "Ground left unplanted",
    "Polygon",
    (
        Field("reason", "text", f"Why: {', '.join(REASONS)}.", values=tuple(REASONS)),
        Field("area_m2", "float", "Area on the map plane.", "m2"),
    ),
)


@dataclass(frozen=True)
class Ground:
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
    """

    boundary: MultiPolygon
    plantable: MultiPolygon
    unplanted: Any
    findings: tuple[Finding, ...] = ()
