"""How a crop looks on a bed sheet: shape and hatch tell crops apart in black and white, hue beside them."""

from __future__ import annotations

from dataclasses import dataclass

INK = "#20262b"
FAINT = "#6b7075"
SOIL = "#f5f0e6"
PATH = "#e9e4d8"

_PAINTS = ("#e2711d", "#1d6996", "#f2c14e", "#5f4690", "#73af48", "#cc503e", "#38a6a5", "#f4f4f4")
_MARKERS = ("o", "^", "s", "D", "p", "*", "X")
_HATCHES = ("", "////", "....", "\\\\\\\\", "xxxx", "----", "oo", "||||", "++")
_LARGER = {"^": 1.15, "*": 1.5, "X": 1.15, "p": 1.15, "D": 0.85}


@dataclass(frozen=True)
class Mark:
    """Paint, marker of matplotlib with its relative size, hatch."""

    paint: str
    marker: str
    larger: float
    hatch: str


def mark_of(position: int) -> Mark:
    """Mark of the crop at this place in code order; the same crop looks the same on all sheets of a design."""
    marker = _MARKERS[position % len(_MARKERS)]
    return Mark(_PAINTS[position % len(_PAINTS)], marker, _LARGER.get(marker, 1.0), _HATCHES[position % len(_HATCHES)])
