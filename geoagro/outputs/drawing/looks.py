"""How things are drawn, once for all products: our own colours, safe for colour-blind eyes.

Kinds of ground differ in lightness before they differ in hue (CIE L* of 57 for tree beds, 77 for vegetable beds, 98 for
paths), so they stay apart in black and white, and all are pale enough for dark lines and outlines to stand out by 3:1.
Reasons for leaving ground unplanted differ by hatch. What is orange against what is bluish stays apart for
eyes that see red and green alike. Crops: see `crop_looks`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from geoagro.values.base import paints
from geoagro.values.reasons import Hatch, reason_of

Shape = Literal[
    "circle", "triangle", "square", "diamond", "pentagon", "star", "cross",
    "hexagon", "trapezoid", "semi_circle", "half_square", "parallelogram",
]  # fmt: skip


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
    place_m
        Usual width of a plant's place: in a GIS viewer marks lie on the ground and grow with the map. 0 for the size in
        millimetres.
    place_from
        Column with each plant's own place; its mark is never wider. Where the column is empty the usual place holds.
    arrow_from
        Column with a bearing: an arrow through the mark points that way; none where the column is empty.
    """

    paint: str
    ink: str
    shape: Shape
    size_mm: float
    arrow_from: str = ""
    place_m: float = 0.0
    place_from: str = "nearest_m"

    @property
    def filled_share(self) -> float:
        """Share of the place's width that the mark takes, outline left out; an arrow needs room beside it."""
        return 0.6 if self.arrow_from else 0.9


OUTLINE_SHARE = 0.06
"""Width of a mark's outline on the ground, as a share of the mark's."""
LEAST_PLACE_M = 0.02
"""Two plants in one hole (which a finding tells) are still drawn as wide as this."""

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
TRACK = Fill(reason_of("track").paint, "#5b5348", outline_mm=0.35, hatch=reason_of("track").hatch, hatch_gap_mm=2.6)
EXCLUSIONS = {"exclusion": EXCLUSION, "track": TRACK}
"""By kind of exclusion."""
PATH = Fill(paints.PATH, "#b9a67a", outline_mm=0.05, dark="#4a4434", sun="#ffffff")
BED = Fill(paints.BED, "#8a5a1c", outline_mm=0.1, dark="#8a5f2a", sun="#ffb347")
TREE_BED = Fill(paints.TREE_BED, "#0e302f", outline_mm=0.1, dark="#3f9089", sun="#7fa8a2")
TREE_ROW = Line(paints.ROW, 0.5)
GULLY = Fill("none", "#7d3a0c", outline_mm=0.5)
ZONE = Fill("none", "#7a1f5c", outline_mm=0.8)
CONTOUR = Line("#353b40", 0.25)
INDEX_CONTOUR = Line("#353b40", 0.5)

_REASON_INK = "#5f6b76"


def reason_look(code: str) -> tuple[str, Fill]:
    """Words and look for a reason for leaving ground."""
    reason = reason_of(code)
    return reason.words, Fill(reason.paint, _REASON_INK, outline_mm=0.1, hatch=reason.hatch)
