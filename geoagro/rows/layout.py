"""Tree rows by the method that the design asks for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from shapely import LineString

from geoagro.errors import LayoutError
from geoagro.rows.contour import contour_rows
from geoagro.rows.numbering import number_rows
from geoagro.rows.parallel import parallel_rows
from geoagro.rows.straight import straight_rows
from geoagro.values.design import RowRule
from geoagro.values.ground import Ground
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import Lines, RowWindow, TreeRows
from geoagro.values.terrain import Terrain


def lay_rows(
    ground: Ground,
    terrain: Terrain,
    rule: RowRule,
    *,
    guides: Sequence[LineString] = (),
    outlet: Any | None = None,
    window: RowWindow | None = None,
    progress: Progress = silent,
) -> TreeRows:
    """Lay, number and measure the tree rows; `window` is what the beds between them ask of their distance.

    Raises LayoutError where the method needs what isn't known (heights, a guide) or where no row is long enough.
    """
    lines = _lines(ground, terrain, rule, guides=guides, outlet=outlet, window=window, progress=progress)
    if not lines.kept:
        raise LayoutError(
            f"No row of {rule.min_row_length_m:g} m or more holds the limits on this ground. Lower "
            "rows.min_row_length_m or rows.min_turn_radius_m, or raise rows.max_grade_pct or rows.spacing_tolerance."
        )
    return number_rows(lines, heights=terrain.judged, spacing_m=rule.spacing_m, crs=terrain.crs)


def _lines(
    ground: Ground,
    terrain: Terrain,
    rule: RowRule,
    *,
    guides: Sequence[LineString],
    outlet: Any | None,
    window: RowWindow | None,
    progress: Progress,
) -> Lines:
    steepest = None if terrain.judged is None else rule.max_grade_pct
    if rule.method == "straight":
        return straight_rows(
            ground.plantable,
            spacing_m=rule.spacing_m,
            min_length_m=rule.min_row_length_m,
            bearing_deg=rule.bearing_deg,
            surface=terrain.judged,
            max_grade_pct=steepest,
        )
    if rule.method == "guide":
        return parallel_rows(
            ground.plantable,
            guides,
            spacing_m=rule.spacing_m,
            min_length_m=rule.min_row_length_m,
            min_turn_radius_m=rule.min_turn_radius_m,
            spacing_tolerance=rule.spacing_tolerance,
            surface=terrain.judged,
            max_grade_pct=steepest,
        )
    _, smooth = terrain.need_heights("rows.method: contour")
    assert terrain.judged is not None  # built together with the smooth surface
    return contour_rows(
        ground.plantable,
        smooth,
        terrain.judged,
        rule,
        guides=guides,
        outlet=outlet,
        window=window,
        progress=progress,
    )
