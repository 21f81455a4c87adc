"""What a set of contour rows is laid for."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import LineString, MultiPolygon

from geoagro.rows.fall import Fall
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid
from geoagro.values.rows import RowWindow


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
    window
        What the beds between rows ask of the rows' distance; None where nothing is asked.
    """

    plantable: MultiPolygon
    smooth: Grid
    judged: Grid
    rule: RowRule
    guides: tuple[LineString, ...] = ()
    fall: Fall | None = None
    window: RowWindow | None = None

    @property
    def aim_m(self) -> float:
        """Distance between rows on even ground."""
        return self.rule.spacing_m if self.window is None else self.window.aim_m

    @property
    def hectares(self) -> float:
        """Plantable area, ha."""
        return float(self.plantable.area / 1e4)
