"""How far rows follow the guides that were drawn, and why not farther."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon

from geoagro.arrays import Bools, Shapes
from geoagro.rows.fall import Fall
from geoagro.rows.finishing import MOST_SAG_M
from geoagro.rows.quality import chord_grade, window_radius
from geoagro.rows.sampling import sample_rows
from geoagro.values.base.records import Record, records
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid
from geoagro.values.ground import Ground
from geoagro.values.rows import GUIDES, TreeRows
from geoagro.values.site import Finding
from geoagro.values.words import Sentence, say

STEP_M = 0.5
FOLLOWED_M = 0.1
"""A row within a decimetre of a guide follows it: less than any bed's edge shows."""
_REMEDY = {
    "grade_limit": say(
        "{length:.0f} m steeper than rows.max_grade_pct; raise it, or draw the guide nearer to the contour"
    ),
    "rise_limit": say(
        "{length:.0f} m rising on the way that rows should fall; draw the guide falling all the way, or give the lines as "
        "inputs.rows to keep them"
    ),
    "turn_radius": say(
        "{length:.0f} m bent tighter than rows.min_turn_radius_m; lower it, or draw the guide straighter"
    ),
    "spacing_limit": say(
        "{length:.0f} m nearer to another row than spacing and tolerance allow; give the lines as inputs.rows to keep them"
    ),
    "short_row": say("{length:.0f} m left too short by other limits; lower rows.min_row_length_m"),
    "moved": say(
        "{length:.0f} m rows gave way to hold spacing and grade around it; give the line as inputs.rows to keep it"
    ),
}


def guides_followed(
    rows: TreeRows,
    guides: Sequence[LineString],
    ground: Ground,
    heights: Grid | None,
    rule: RowRule,
    *,
    fall: Fall | None = None,
) -> gpd.GeoDataFrame:
    """Layer GUIDES: for each guide how much of it a row runs on, and metres by reason for the rest.

    With a wanted fall (which needs `heights`) a guide may rise on its way, where no row can follow it.
    """
    crs = rows.frame.crs
    if not guides:
        return GUIDES.empty(crs)
    samples = sample_rows(guides, STEP_M)
    points = shapely.points(samples.x, samples.y)
    near = shapely.STRtree(rows.frame.geometry.to_numpy()).query(points, predicate="dwithin", distance=FOLLOWED_M)
    on = np.zeros(len(samples), dtype=bool)
    on[near[0]] = True
    outside = ~shapely.intersects_xy(_prepared(ground.plantable), samples.x, samples.y) & ~on
    why = _near_cuts(np.asarray(points, dtype=object), rows.cut, rule.spacing_m / 2)
    why[window_radius(guides, samples) < rule.min_turn_radius_m] = "turn_radius"
    if fall is not None and heights is not None:
        why[fall.rises_along(guides, samples, heights, MOST_SAG_M)[0]] = "rise_limit"
    why[chord_grade(guides, samples, heights) * 100 > rule.max_grade_pct] = "grade_limit"
    number = rows.frame["row"].to_numpy()
    columns: dict[str, list[Any]] = {name: [] for name in GUIDES.columns}
    for k, guide in enumerate(guides):
        mine = samples.row == k

        def metres(mask: Bools, mine: Any = mine) -> float:
            return float(samples.weight[mine & mask].sum())

        off = metres(outside)
        columns["guide"].append(k + 1)
        columns["length_m"].append(guide.length)
        columns["followed_m"].append(metres(on))
        columns["followed_pct"].append(100 * metres(on) / max(guide.length - off, 1e-9))
        columns["outside_m"].append(off)
        columns["rows"].append(",".join(map(str, sorted(set(number[near[1][mine[near[0]]]].tolist())))))
        columns["why_not"].append(_words(metres, outside, on, why))
    return GUIDES.frame(columns, geometry=list(guides), crs=crs)


def _prepared(area: MultiPolygon) -> MultiPolygon:
    shapely.prepare(area)
    return area


def _near_cuts(points: Shapes, cut: gpd.GeoDataFrame, reach_m: float) -> NDArray[np.object_]:
    """Reason at each point: what was cut near by, else that rows moved."""
    why = np.full(len(points), "moved", dtype=object)
    for reason in ("short_row", "spacing_limit", "turn_radius", "rise_limit", "grade_limit"):
        pieces = np.asarray(cut.geometry[cut["reason"] == reason], dtype=object)
        if len(pieces):
            why[shapely.dwithin(points, shapely.union_all(pieces), reach_m)] = reason
    return why


def _words(metres: Callable[[Bools], float], outside: Bools, on: Bools, why: NDArray[np.object_]) -> str:
    parts = []
    if metres(outside) >= STEP_M:
        text = "{length:.0f} m off the plantable ground (boundary, setback, ground kept free)"
        parts.append(Sentence(text, length=metres(outside)))
    for reason, remedy in _REMEDY.items():
        length = metres((why == reason) & ~outside & ~on)
        if length >= STEP_M:
            parts.append(Sentence(remedy, length=length))
    return Sentence("{all}", all=tuple(parts)) if parts else ""


def told_guides(guides: gpd.GeoDataFrame) -> tuple[Finding, ...]:
    """One finding per guide: how much of it is followed, and why not more."""
    return tuple(
        Finding(
            "warning" if row.text("why_not") else "note",
            Sentence("guide {guide}", guide=row.whole("guide")),
            _followed_words(row),
        )
        for row in records(guides)
    )


def _followed_words(row: Record) -> Sentence:
    told = {
        "followed": row.number("followed_m"),
        "length": row.number("length_m"),
        "rows": row.text("rows").replace(",", ", ") or "–",
        "why": row.text("why_not"),
    }
    if row.text("why_not"):
        return Sentence("rows follow {followed:.0f} of {length:.0f} m (row {rows}); not followed: {why}", **told)
    return Sentence("rows follow {followed:.0f} of {length:.0f} m (row {rows})", **told)
