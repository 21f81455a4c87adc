"""How a crop looks on a bed sheet: shape and hatch tell crops apart in black and white, hue beside them."""

from __future__ import annotations

from dataclasses import dataclass

from geoagro.outputs.drawing.looks import crop_look

FAINT = "#6b7075"
SOIL = "#f5f0e6"

_MARKERS = {"circle": "o", "triangle": "^", "square": "s", "diamond": "D", "pentagon": "p", "star": "*", "cross": "X"}
_LARGER = {"triangle": 1.15, "star": 1.5, "cross": 1.15, "pentagon": 1.15, "diamond": 0.85}
_HATCHES = ("", "////", "....", "\\\\\\\\", "xxxx", "----", "oo", "||||", "++")


@dataclass(frozen=True)
class Mark:
    """Paint, marker of matplotlib with its relative size, hatch."""

    paint: str
    marker: str
    larger: float
    hatch: str


def mark_of(position: int) -> Mark:
    """Mark of the crop at this place in code order, the same as in the GIS layers."""
    look = crop_look(position, None)
    hatch = _HATCHES[position % len(_HATCHES)]
    return Mark(look.paint, _MARKERS[look.shape], _LARGER.get(look.shape, 1.0), hatch)
