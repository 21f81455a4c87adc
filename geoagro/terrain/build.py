"""From what was read to the terrain that the other rooms use."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from shapely import MultiPolygon

from geoagro.errors import LayoutError
from geoagro.planar.margins import grown
from geoagro.terrain.continuation import continued
from geoagro.terrain.gaps import closed_gaps, fill, refuse_large_gaps
from geoagro.terrain.integrate import heights_from_gradient
from geoagro.terrain.reach import TRUNCATE
from geoagro.terrain.refining import refined
from geoagro.terrain.slope import slope_and_aspect
from geoagro.terrain.smoothing import smoothed, smoothing_scale
from geoagro.terrain.surface import heights_from_contours
from geoagro.terrain.window import Mask, cells_in, window
from geoagro.values.grid import Grid
from geoagro.values.progress import Progress, silent
from geoagro.values.terrain import JUDGE_SIGMA_M, GroundSource, Terrain, judging_scale
from geoagro.values.words import Sentence

REACH_IN_SPACINGS = 2.0


def build_terrain(
    source: GroundSource,
    boundary: MultiPolygon,
    *,
    spacing_m: float,
    smoothing_m: float | Literal["auto"] = "auto",
    levelled_m: float = 0.0,
    max_gap_m: float = 10.0,
    progress: Progress = silent,
) -> Terrain:
    """Build heights, a smooth surface, slope and aspect over the field and two row spacings round it.

    Parameters
    ----------
    source
        Heights, contour lines, slope with aspect, or slope alone, in the working CRS.
    boundary
        The field, in the same CRS.
    spacing_m
        Row spacing, metres (above 0): the scale of the smoothing and of the reach past the boundary.
    smoothing_m
        Standard deviation of the Gaussian, metres, or "auto": 0.7 of the spacing, one cell at least.
    levelled_m
        Bumps up to about this long (metres) will be levelled: grades are judged without them, and no surface is rougher.
    max_gap_m
        Gaps in the field up to this wide (metres) are filled, and counted in `height_source`.

    Returns
    -------
    Terrain
        `slope` and `aspect_deg` are those of the smooth surface (Horn 1981). Past the edge of the data the
        surface is continued so that gradients exist two spacings beyond the boundary. Slope alone gives
        slope only.

    Raises
    ------
    LayoutError
        Where the field holds no data, or a gap wider than `max_gap_m`; with the place.
    """
    if not spacing_m > 0:
        raise LayoutError(f"Row spacing is {spacing_m:g} m; it must be above 0. Set rows.spacing_m.")
    reach = REACH_IN_SPACINGS * spacing_m
    if source.contours is not None:
        progress("surface from contour lines", 0.0)
        grid = heights_from_contours(
            source.contours, boundary, reach_m=reach, cell_m=spacing_m / 3, crs=source.contours.crs
        )
        source = replace(source, heights=grid, contours=None)
    given = source.heights if source.heights is not None else source.slope
    if given is None:
        raise LayoutError("No ground was given. Give `elevation`, `contours` or `slope` under `inputs`.")
    judging_m = judging_scale(levelled_m)
    sigma = smoothing_scale(smoothing_m, spacing_m=spacing_m, cell_m=given.cell_m)
    sigma = max(sigma, judging_m) if judging_m > JUDGE_SIGMA_M else sigma
    margin = reach + TRUNCATE * sigma + 2 * given.cell_m
    place = window(given, boundary.bounds, margin)
    work = _Work(
        inside=cells_in(place, boundary),
        region=cells_in(place, grown(boundary, reach + 3 * given.cell_m)),
        sigma_m=sigma,
        judging_m=judging_m,
        max_gap_m=max_gap_m,
        progress=progress,
    )
    if source.heights is not None:
        return _from_heights(place, work, source.description)
    if source.aspect_deg is None:
        return _from_slope_alone(place, work, source.description)
    return _from_slope(place, window(source.aspect_deg, boundary.bounds, margin), work, source.description)


@dataclass(frozen=True, eq=False)
class _Work:
    """The field on the raster's cells, and the rules."""

    inside: Mask
    region: Mask
    sigma_m: float
    judging_m: float
    max_gap_m: float
    progress: Progress

    def without_gaps(self, grid: Grid) -> tuple[Grid, str]:
        self.progress("filling gaps", 0.2)
        gaps = refuse_large_gaps(grid, self.inside, max_gap_m=self.max_gap_m)
        area = sum(gap.area_m2 for gap in gaps)
        note = (
            Sentence(
                "gaps filled: {count}, up to {width:.1f} m wide, {area:.0f} m²",
                count=len(gaps),
                width=gaps[0].width_m,
                area=area,
            )
            if gaps
            else ""
        )
        return grid.with_values(fill(grid.values, closed_gaps(grid, self.inside))), note

    def smoothed(self, grid: Grid) -> Grid:
        self.progress("smoothing", 0.4)
        return continued(smoothed(grid, self.sigma_m), region=self.region, sigma_m=self.sigma_m)


def _from_heights(heights: Grid, work: _Work, description: str) -> Terrain:
    heights, note = work.without_gaps(heights)
    smooth = work.smoothed(heights)
    heights = heights.with_values(np.where(np.isnan(heights.values), smooth.values, heights.values))
    work.progress("slope and aspect", 0.8)
    slope, aspect = slope_and_aspect(smooth)
    work.progress("terrain", 1.0)
    judged = smoothed(refined(heights), work.judging_m)
    return Terrain(slope, aspect, heights, smooth, work.sigma_m, _source(description, note), judged)


def _from_slope_alone(slope: Grid, work: _Work, description: str) -> Terrain:
    slope, note = work.without_gaps(slope)
    slope = work.smoothed(slope)
    slope = slope.with_values(np.maximum(slope.values, 0.0))
    return Terrain(
        slope,
        None,
        None,
        None,
        work.sigma_m,
        _source(Sentence("no heights, a slope without direction: {source}", source=description), note),
    )


def _from_slope(slope: Grid, aspect: Grid, work: _Work, description: str) -> Terrain:
    if (aspect.values.shape, aspect.cell_m, aspect.bounds) != (slope.values.shape, slope.cell_m, slope.bounds):
        raise LayoutError(
            f"Slope and aspect lie on different cells ({slope.cell_m:g} m and {aspect.cell_m:g} m, or shifted). "
            "Give inputs.slope and inputs.aspect on the same grid."
        )
    # level cells have no aspect and are no gap; a slope without aspect elsewhere is one
    undirected = np.isnan(aspect.values) & (slope.values != 0)
    slope = slope.with_values(np.where(undirected, np.nan, slope.values))
    refuse_large_gaps(slope, work.inside, max_gap_m=work.max_gap_m)
    work.progress("heights from slope and aspect", 0.3)
    text = Sentence("relative heights (lowest = 0 m) integrated from slope and aspect: {source}", source=description)
    return _from_heights(heights_from_gradient(slope, aspect), work, text)


def _source(description: str, note: str) -> str:
    return Sentence("{all}", all=(description, note)) if note else description
