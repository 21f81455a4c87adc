"""How well a survey lies: what moved all of it, what its receiver scatters, and which rows stand off their place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoagro.arrays import Floats
from geoagro.values.layers import Field, LayerSpec

ROW_OFFSETS = LayerSpec(
    "row_offsets",
    "How far rows stand off their place",
    "none",
    (
        Field("row", "int", "Row of the design."),
        Field("points", "int", "Surveyed points of it that were matched and have a position."),
        Field("across_m", "float", "Mean offset across the row, upslope positive, without what moved all points.", "m"),
        Field("across_se_m", "float", "Standard error of it that the receiver leaves.", "m"),
        Field("along_m", "float", "Mean offset along the row, forward positive.", "m"),
        Field("off_place", "bool", "True where the offset is more than the receiver explains, and 0.10 m or more."),
    ),
)


@dataclass(frozen=True)
class Similarity:
    """Shift, turn and scale that bring designed places to where they were surveyed.

    Attributes
    ----------
    about
        Easting and northing that points turn about: the middle of the designed places, metres.
    east_m, north_m
        Shift of that middle.
    turn_deg
        Clockwise.
    scale
        Distances as surveyed over those of the design.
    shift_se_m, turn_se_deg, scale_se
        Standard errors; the shift's in east and in north each.
    """

    about: tuple[float, float]
    east_m: float
    north_m: float
    turn_deg: float
    scale: float
    shift_se_m: float
    turn_se_deg: float
    scale_se: float

    @property
    def factor(self) -> complex:
        """Turn and scale as one complex factor of east + i north."""
        return complex(self.scale * np.exp(-1j * np.radians(self.turn_deg)))

    @property
    def shift_m(self) -> float:
        """Length of the shift."""
        return float(np.hypot(self.east_m, self.north_m))

    def undone(self, xy: Floats) -> Floats:
        """Bring surveyed places (n, 2) back onto those of the design."""
        middle = complex(*self.about)
        moved = (xy[:, 0] + 1j * xy[:, 1] - middle - complex(self.east_m, self.north_m)) / self.factor + middle
        return np.column_stack([moved.real, moved.imag])

    def done(self, xy: Floats) -> Floats:
        """Bring designed places (n, 2) to where they would be surveyed."""
        middle = complex(*self.about)
        moved = (xy[:, 0] + 1j * xy[:, 1] - middle) * self.factor + middle + complex(self.east_m, self.north_m)
        return np.column_stack([moved.real, moved.imag])


@dataclass(frozen=True)
class Alignment:
    """What moved all points of a survey alike.

    Attributes
    ----------
    similarity
        Only what stands out: a turn or scale that the survey doesn't prove is left at none.
    before_m, after_m
        Half of the points lie nearer to their places than this: as they stand, and with the similarity undone.
    told
        The same in words; empty where nothing stands out.
    undone
        True where the survey was corrected by it, as asked for.
    """

    similarity: Similarity
    before_m: float
    after_m: float
    told: str
    undone: bool = False


@dataclass(frozen=True)
class Accuracy:
    """Scatter of a survey, told apart: standard deviations in each direction, metres; NaN where it can't be told.

    Attributes
    ----------
    scatter_m
        Of single points about their row: the receiver and single plants together.
    receiver_m
        The receiver's own. From points measured again where there are any; else `scatter_m`, at most.
    repeats
        Points measured again that `receiver_m` rests on; 0 where it is an upper bound.
    drift_m
        Of whole rows along themselves: what the receiver drifts from row to row.
    rows_m
        Of whole rows across themselves beyond what the receiver explains: planting.
    plants_m
        Of single plants, known only where points were measured again.
    """

    scatter_m: float
    receiver_m: float
    repeats: int
    drift_m: float
    rows_m: float
    plants_m: float
