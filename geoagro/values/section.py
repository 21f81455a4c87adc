"""What stands across the alleys: the recipe cut square to the rows, over one period of rows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from geoagro.values.timeline import Standing


class Key(NamedTuple):
    """Name of a kind: what is planted and leaves at other times is another kind, be it of the same planting."""

    bed_kind: str
    mixture: str
    planting: str
    crop: str
    plant_week: int = 0
    end_week: int = 0


def key_of(standing: Standing) -> Key:
    """Name a kind of the timeline as a section names it."""
    first = standing.stays[0]
    return Key(
        standing.bed_kind, standing.mixture, standing.planting, standing.crop, first.plant_week, first.life_end_week
    )


@dataclass(frozen=True)
class Line:
    """Plants of one kind in one line along the rows.

    Attributes
    ----------
    x_m
        Place across the rows, growing to the right of the rows' bearing (downslope).
    spacing_m
        Mean distance between its plants along the line.
    """

    kind: Key
    x_m: float
    spacing_m: float


@dataclass(frozen=True)
class Strip:
    """A bed across the section, from `left_m` to `right_m`."""

    bed_kind: str
    side: str
    order: int
    left_m: float
    right_m: float


@dataclass(frozen=True)
class Section:
    """One period across the rows, which repeats without end on both sides.

    Attributes
    ----------
    width_m
        Length of the period: row spacing times the rows after which the recipe repeats.
    rows
        Tree rows in the period.
    """

    width_m: float
    rows: int
    lines: tuple[Line, ...]
    strips: tuple[Strip, ...]

    def per_m2(self, kind: Key) -> float:
        """Places of a kind on a square metre of beds and paths."""
        return sum(1 / line.spacing_m for line in self.lines if line.kind == kind) / self.width_m

    def only(self, bed_kind: str) -> Section:
        """Keep what stands in one kind of bed."""
        return Section(
            self.width_m, self.rows, tuple(line for line in self.lines if line.kind.bed_kind == bed_kind), self.strips
        )
