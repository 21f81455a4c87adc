"""One layer or table to be written: what it holds (LayerSpec), its rows, and how it is drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from geoagro.outputs.drawing.looks import Style
from geoagro.values.layers import LayerSpec


@dataclass(frozen=True, eq=False)
class OutputLayer:
    """A layer of a GeoPackage.

    Attributes
    ----------
    spec
        Declares the columns; columns of `frame` that it doesn't name (helpers such as `axis`) aren't written.
    frame
        A GeoDataFrame, a DataFrame where `spec.geometry` is "none", or a crop's plants in blocks (`StoredCrop`).
    style
        How viewers draw it; None for tables.
    name, title
        Own name and title where several layers share one spec (plants of each crop).
    note
        What the layer holds, in a sentence; shown by viewers as the layer's description.
    group
        Heading under which the ready project lists it.
    starts_hidden
        Whether the ready project begins with the layer switched off.
    """

    spec: LayerSpec
    frame: Any
    style: Style | None = None
    name: str = ""
    title: str = ""
    note: str = ""
    group: str = ""
    starts_hidden: bool = False

    @property
    def table(self) -> str:
        """Name inside the GeoPackage."""
        return self.name or self.spec.name

    @property
    def identifier(self) -> str:
        """Title that viewers show."""
        return self.title or self.spec.title
