"""How a crop looks on a bed sheet: shape and hatch tell crops apart in black and white, hue beside them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from geoagro.outputs.drawing.crop_looks import LARGER, MARKERS, crop_hatch, crop_look, crop_numbers
from geoagro.outputs.drawing.looks import Shape

FAINT = "#6b7075"
SOIL = "#f5f0e6"


@dataclass(frozen=True)
class Mark:
    """Paint, shape with its relative size, hatch."""

    paint: str
    shape: Shape
    larger: float
    hatch: str

    @property
    def marker(self) -> Any:
        """Sign or corners of the mark."""
        return MARKERS[self.shape]


def marks_of(crops: Iterable[str]) -> dict[str, Mark]:
    """Mark of each crop, the same as in the GIS layers."""
    return {crop: _mark(number) for crop, number in crop_numbers(crops).items()}


def _mark(number: int) -> Mark:
    look = crop_look(number, None)
    return Mark(look.paint, look.shape, LARGER.get(look.shape, 1.0), crop_hatch(number))
