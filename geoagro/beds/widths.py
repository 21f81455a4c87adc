"""Working widths across an alley: where beds lie, and how many fit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import floor

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.errors import LayoutError
from geoagro.values.design import BedRule
from geoagro.values.rows import RowWindow


@dataclass(frozen=True)
class Widths:
    """Fixed distances from a tree row, metres: tree bed, path, bed, path, bed, ... outward.

    `pinched` is what the path in the middle may narrow to where rows pinch it; `path` where None.

    >>> w = Widths(tree=1.0, bed=1.0, path=0.3)
    >>> w.inner(1), w.outer(1), w.whole_beds(4.5), w.whole_beds(6.0)
    (0.8, 1.8, 2, 3)
    """

    tree: float
    bed: float
    path: float
    pinched: float | None = None

    @property
    def narrowest(self) -> float:
        """Width that the path in the middle of an alley may narrow to."""
        return self.path if self.pinched is None else self.pinched

    def middle(self, beds: int, spacing_m: float) -> float:
        """Narrowest path in the middle of an alley with so many beds; pinches are for the number that the spacing carries."""
        return self.narrowest if beds <= self.whole_beds(spacing_m) else self.path

    def inner(self, order: int) -> float:
        """Distance from the row to the near edge of its bed number `order`."""
        return self.tree / 2 + self.path + (order - 1) * (self.bed + self.path)

    def outer(self, order: int) -> float:
        """Distance from the row to the far edge of its bed number `order`; 0 means the tree bed."""
        return self.inner(order) + self.bed if order else self.tree / 2

    def need(self, beds: int) -> float:
        """Distance between two rows that carries so many beds, a path on both sides of each."""
        return round(self.tree + self.path + beds * (self.bed + self.path), 9)

    def whole_beds(self, distance: float) -> int:
        """Count the whole beds between two rows `distance` apart, a path on both sides of each."""
        return max(0, floor((distance - self.tree - self.path) / (self.bed + self.path) + 1e-9))

    def from_one_side(self, distance: float) -> int:
        """Count the beds that are dealt to one row: half of them, the odd one included."""
        return -(-self.whole_beds(distance) // 2)

    def reach(self, order: int) -> float:
        """Distance that a row with `order` beds serves: beyond the last lie a path and less than half of one more."""
        return self.outer(order) + self.path + min((self.bed + self.path) / 2, self.bed)

    @property
    def give(self) -> float:
        """How much narrower than asked a path may be, so that a millimetre doesn't cost a bed."""
        return min(0.01, self.narrowest / 10)


def working_widths(rule: BedRule, spacing_m: float) -> Widths:
    """Take the widths from the rule; LayoutError where tree beds of two rows would touch."""
    if rule.tree_bed_width_m >= 0.9 * spacing_m:
        raise LayoutError(
            f"beds.tree_bed_width_m is {rule.tree_bed_width_m:g} m; it must be below nine tenths of the row "
            f"spacing ({spacing_m:g} m), or the tree beds of two rows meet. Make it narrower, or widen rows.spacing_m."
        )
    return Widths(rule.tree_bed_width_m, rule.bed_width_m, rule.path_width_m, rule.narrowest_path_m)


ROOM_USED = 0.4
"""Share of the room between need and spacing that rows stand nearer by: more rows, and room left for the ground's own
unevenness on both sides."""


def row_window(rule: BedRule, spacing_m: float, tolerance: float) -> RowWindow:
    """Tell what the beds of an alley at the row spacing ask of the rows' distance.

    Their need is the tree bed, a path, and a bed with a path for each bed that the spacing carries. Rows aim below the
    spacing by a share of what is left, counted from the need or from the spacing's own lower limit, whichever is higher.

    >>> row_window(BedRule(bed_width_m=1.1, path_width_m=0.35), 4.5, 0.1).need_m
    4.25
    """
    widths = working_widths(rule, spacing_m)
    need = widths.need(widths.whole_beds(spacing_m))
    lowest = max(need, (1 - tolerance) * spacing_m)
    return RowWindow(need, spacing_m - ROOM_USED * (spacing_m - lowest))


def of_each(width: Callable[[int], float], order: Ints) -> Floats:
    """Give a width that goes by the order of a bed for many beds, worked out once for each order."""
    kinds, which = np.unique(order, return_inverse=True)
    return np.array([width(int(kind)) for kind in kinds], dtype=np.float64)[which]
