"""The ground's shape: heights where they are known, slope and aspect."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from pyproj import CRS
from shapely import MultiPolygon

from geoagro.errors import LayoutError
from geoagro.frames import gpd, pd
from geoagro.values.base.value import Value
from geoagro.values.grid import Grid
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.site import Finding

CONTOURS = LayerSpec(
    "contours",
    "Contour lines",
    "LineString",
    (
        Field("elevation_m", "float", "Height of the line above the source's datum.", "m"),
        Field("is_index", "bool", "True for every fifth line, drawn heavier."),
    ),
)


TERRAIN_DIFFICULTY = LayerSpec(
    "terrain_difficulty",
    "How hard the ground is for rows",
    "none",
    (
        Field("measure", "text", "Name of the measure."),
        Field("p10", "float", "10 % of the plantable ground lies below."),
        Field("p50", "float", "Median over the plantable ground."),
        Field("p90", "float", "90 % of the plantable ground lies below."),
        Field("unit", "text", "Unit."),
        Field("definition", "text", "How it is computed."),
    ),
)


@dataclass(frozen=True, eq=False, repr=False)
class GroundSource(Value):
    """The ground as read from files, in the working CRS, before anything is computed from it.

    Exactly one of `heights`, `contours`, `slope` is given; `aspect_deg` may go with `slope`.

    Attributes
    ----------
    heights
        Metres; NaN where the file holds no data.
    contours
        Frame with LineString geometry and a column `elevation_m`.
    slope
        Ratio (rise over run).
    aspect_deg
        Downslope direction, degrees clockwise from grid north.
    description
        Where it comes from, in words: file, cell size, unit, what was converted.
    findings
        What reading found and repaired.

    >>> from geoagro import example_field
    >>> example_field().source
    GroundSource: heights Grid; contours none; slope none; aspect_deg none; description an invented even
      slope; findings 0
    """

    heights: Grid | None
    contours: gpd.GeoDataFrame | None
    slope: Grid | None
    aspect_deg: Grid | None
    description: str
    findings: tuple[Finding, ...] = ()


JUDGE_SIGMA_M = 1.5
"""Standard deviation of the Gaussian on which rows are judged: less than the one they are laid on."""


def judging_scale(levelled_m: float) -> float:
    """Return the standard deviation of the Gaussian before grades are judged, metres; `levelled_m` is how long bumps are that will be levelled.

    A wave of that length keeps half of its height, exp(-2 pi^2 s^2 / L^2) = 1/2; shorter ones less.

    >>> judging_scale(0.0), round(judging_scale(15.0), 2)
    (1.5, 2.81)
    """
    return max(JUDGE_SIGMA_M, levelled_m * math.sqrt(math.log(2) / 2) / math.pi)


@dataclass(frozen=True, eq=False, repr=False)
class Terrain(Value):
    """Grids on the same cells, in the working CRS.

    Attributes
    ----------
    slope
        Steepness as a ratio (rise over run).
    aspect_deg
        Downslope direction, degrees clockwise from grid north; None for a slope raster without direction.
    heights
        Heights as surveyed, metres (gaps filled); None for a slope raster without direction.
    smooth
        Heights smoothed at the scale of the rows, for laying rows; None as above.
    smoothing_m
        Standard deviation of the Gaussian that `smooth` was made with.
    height_source
        Where the heights come from, in words, for the report.
    judged
        Heights smoothed by JUDGE_SIGMA_M only (more where bumps will be levelled), which the grade of finished rows is judged on, on
        finer cells where those given are wide; None as above.

    >>> from geoagro import example_layout
    >>> example_layout().terrain
    Terrain: slope Grid; aspect_deg Grid; heights Grid; smooth Grid; smoothing_m 3.5; height_source an
      invented even slope; judged Grid
    """

    slope: Grid
    aspect_deg: Grid | None
    heights: Grid | None
    smooth: Grid | None
    smoothing_m: float
    height_source: str
    judged: Grid | None = None

    @property
    def crs(self) -> CRS | None:
        """The working CRS."""
        return self.slope.crs

    def need_heights(self, what: str) -> tuple[Grid, Grid]:
        """Return (heights, smooth), or say why `what` can't be computed."""
        if self.heights is None or self.smooth is None:
            raise LayoutError(
                f"{what} needs heights or slope with aspect; a slope raster alone carries no direction. "
                "Give `elevation`, `contours` or `aspect` under `inputs`, or use rows.method straight or guide."
            )
        return self.heights, self.smooth


@dataclass(frozen=True, eq=False, repr=False)
class Drainage(Value):
    """Where water gathers, as far as the raster shows it.

    Attributes
    ----------
    area
        Ground that drains through each cell, m2; cells may be larger than the terrain's.
    strips
        Ground about one path wide along the lines that carry much water; may reach past the field.
    findings
        What a reader must know: the threshold and length of the lines, and what is not counted.
    """

    area: Grid
    strips: MultiPolygon
    findings: tuple[Finding, ...]


@dataclass(frozen=True, eq=False, repr=False)
class Difficulty(Value):
    """What the ground demands of rows, known before any row is laid; grids on the terrain's cells.

    Attributes
    ----------
    flow_curvature
        Curvature of the lines of steepest descent, 1/m; 0 where neighbouring contours stay parallel.
    equidistant_m
        How far a level row keeps its distance to the next level row within the tolerance; inf if for ever.
    holds_grade_m
        How far to one side of a level row parallel rows hold the grade; inf if for ever.
    summary
        Table TERRAIN_DIFFICULTY over the plantable ground.
    binding
        The tolerance that gives out first: "spacing", "grade", "both" or "neither".
    sentence
        The same in words, with the figures.

    >>> from geoagro import difficulty_of, example_layout
    >>> laid = example_layout()
    >>> difficulty_of(laid.design, laid.terrain, laid.ground)
    Difficulty: flow_curvature Grid; equidistant_m Grid; holds_grade_m Grid; summary 4 rows; binding
      neither; sentence Half of the plantable ground lets a level row keep its ...
    """

    flow_curvature: Grid
    equidistant_m: Grid
    holds_grade_m: Grid
    summary: pd.DataFrame
    binding: Literal["spacing", "grade", "both", "neither"]
    sentence: str
