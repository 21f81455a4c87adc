"""How things are drawn, once for the GIS layers and the picture: our own colours, safe for colour-blind eyes.

Kinds of ground differ in lightness before they differ in hue (dark tree beds, middling beds, pale paths), so
they stay apart in black and white. Reasons for leaving ground unplanted differ by hatch, crops by marker shape
as well as hue. The hues are spread along blue-to-orange, which red-green weak eyes keep apart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from geoagro.values.base import paints
from geoagro.values.reasons import Hatch, reason_of

Shape = Literal["circle", "triangle", "square", "diamond", "pentagon", "star", "cross"]


@dataclass(frozen=True)
class Fill:
    """A filled area: `paint` inside, hatch lines and outline in `ink`; widths in millimetres.

    `dark` and `sun` are the paint on a dark screen and on one in bright sun; both keep the order of lightness.
    """

    paint: str
    ink: str
    outline_mm: float = 0.2
    hatch: Hatch = ""
    opacity: float = 1.0
    hatch_gap_mm: float = 2.0
    dark: str = "#2b3338"
    sun: str = "#e6e6e6"


@dataclass(frozen=True)
class Line:
    """A line; `dash_mm` is drawn and skipped length, in millimetres."""

    ink: str
    width_mm: float
    dash_mm: tuple[float, float] | None = None


@dataclass(frozen=True)
class Marker:
    """A point mark; size in millimetres.

    Attributes
    ----------
    size_m
        Size on the ground, in a GIS viewer: the mark grows with the map. 0 for the size in millimetres.
    arrow_from
        Column with a bearing: an arrow through the mark points that way; none where the column is empty.
    """

    paint: str
    ink: str
    shape: Shape
    size_mm: float
    arrow_from: str = ""
    size_m: float = 0.0


Look = Fill | Line | Marker


@dataclass(frozen=True)
class Label:
    """Text beside each thing, from a column; `only` names a yes/no column that must be true.

    With `at_start` the text stands at the start of each line and is never left out.
    """

    column: str
    ink: str
    size_pt: float = 8.0
    decimals: int = 0
    only: str = ""
    closest_scale: int = 5000
    at_start: bool = False


@dataclass(frozen=True)
class Style:
    """One look for all, or one per value of a column.

    Attributes
    ----------
    looks
        By value of `column`, with the words for the legend; for a plain style one entry under "".
    column
        The column that chooses the look; empty for a plain style.
    closest_only
        Scale denominator: drawn only when zoomed in closer than this; 0 for always.
    """

    looks: Mapping[str, tuple[str, Look]]
    column: str = ""
    label: Label | None = None
    closest_only: int = 0

    @classmethod
    def plain(cls, words: str, look: Look, *, label: Label | None = None, closest_only: int = 0) -> Style:
        """One look for everything in the layer."""
        return cls({"": (words, look)}, label=label, closest_only=closest_only)


INK = paints.FIELD_INK
FIELD = Fill("none", INK, outline_mm=0.7)
PLANTABLE = Fill(paints.PLANTABLE, "#9a937c", outline_mm=0.15)
EXCLUSION = Fill(
    reason_of("exclusion").paint, "#3b4048", outline_mm=0.35, hatch="diagonal_cross", hatch_gap_mm=2.6, dark="#555c66"
)
TRACK = Fill(reason_of("track").paint, "#5b5348", outline_mm=0.35)
EXCLUSIONS = {"exclusion": EXCLUSION, "track": TRACK}
"""By kind of exclusion."""
PATH = Fill(paints.PATH, "#b9a67a", outline_mm=0.05, dark="#4a4434", sun="#ffffff")
BED = Fill(paints.BED, "#8a5a1c", outline_mm=0.1, dark="#8a5f2a", sun="#ffb347")
TREE_BED = Fill(paints.TREE_BED, "#0e302f", outline_mm=0.1, dark="#3f9089", sun="#00504a")
TREE_ROW = Line(paints.ROW, 0.5)
ZONE = Fill("none", "#7a1f5c", outline_mm=0.8)
CONTOUR = Line("#7a2f2a", 0.25)
INDEX_CONTOUR = Line("#5e1f1b", 0.5)

_REASON_INK = "#5f6b76"


def reason_look(code: str) -> tuple[str, Fill]:
    """Words and look for a reason for leaving ground."""
    reason = reason_of(code)
    return reason.words, Fill(reason.paint, _REASON_INK, outline_mm=0.1, hatch=reason.hatch)


# hue and shape both change from one crop to the next; the two cycles (8 and 7 long) meet again after 56 crops
_PAINTS = ("#e2711d", "#1d6996", "#f2c14e", "#5f4690", "#73af48", "#cc503e", "#38a6a5", "#f4f4f4")
_SHAPES: tuple[Shape, ...] = ("circle", "triangle", "square", "diamond", "pentagon", "star", "cross")
_SIZES = {"emergent": 4.0, "high": 3.2, "medium": 2.4, "low": 1.8, "ground": 1.4}


ON_BED = ("#a83000", "#0000ff", "#300030", "#9018c0", "#306048", "#000060", "#604878", "#600000")
ON_TREE_BED = ("#ff60ff", "#48ff60", "#fff0f0", "#a8a8a8", "#60c078", "#ff9000", "#f0a8f0", "#c0ffa8")
"""Paints of crops in a viewer, by the bed that they stand on: found by a search for the eight with the largest least
difference to eyes with full, and without red, green or blue sight, among those with a contrast of 3 to that bed (tested)."""


def crop_paint(number: int, *, on_trees: bool) -> str:
    """Paint of the crop with this number among those of the same kind of bed."""
    paints_here = ON_TREE_BED if on_trees else ON_BED
    return paints_here[number % len(paints_here)]


def crop_look(position: int, stratum: str | None, *, arrow_from: str = "", size_m: float = 0.0) -> Marker:
    """Mark of the crop at `position` in code order; taller strata get larger marks, in a GIS viewer `size_m` holds."""
    paint, shape = _PAINTS[position % len(_PAINTS)], _SHAPES[position % len(_SHAPES)]
    return Marker(paint, INK, shape, _SIZES.get(stratum or "", 1.8), arrow_from, round(size_m, 3))
