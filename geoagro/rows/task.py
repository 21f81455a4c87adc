"""What a set of contour rows is laid for."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import LineString, MultiPolygon

from geoagro.rows.fall import Fall
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid


@dataclass(frozen=True)
class Task:
    """What a set of contour rows is laid for.

    Attributes
    ----------
    plantable
        Where rows may stand, working CRS.
    smooth
        Heights smoothed at the scale of the rows: where rows should run.
    judged
        Heights smoothed little: what grades are held on.
    guides
        Lines that a row must run on.
    fall
        Wanted fall along rows; None for level rows.
    """

    plantable: MultiPolygon
    smooth: Grid
    judged: Grid
    rule: RowRule
    guides: tuple[LineString, ...] = ()
    fall: Fall | None = None

    @property
    def hectares(self) -> float:
        """Plantable area, ha."""
        return float(self.plantable.area / 1e4)
