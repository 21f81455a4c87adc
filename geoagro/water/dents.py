"""Low points along rows, told with every layout: cheap, and needs no flow over the ground."""

from __future__ import annotations

from geoagro.planar.dents import DEEP_M
from geoagro.values.rows import TreeRows
from geoagro.values.site import Finding
from geoagro.values.terrain import Terrain
from geoagro.values.words import Sentence
from geoagro.water.row_profiles import row_profiles


def low_point_findings(rows: TreeRows, terrain: Terrain) -> tuple[Finding, ...]:
    """One note on the inner low points of laid rows; none where there are none or heights are unknown."""
    if terrain.judged is None or len(rows.frame) == 0:
        return ()
    deep = [(p.row, p.low_points(DEEP_M)[1]) for p in row_profiles(rows.frame, terrain.judged, terrain.slope)]
    deep = [(row, depths) for row, depths in deep if len(depths)]
    if not deep:
        return ()
    worst, depths = max(deep, key=lambda pair: float(pair[1].max()))
    text = Sentence(
        "{n} of {all} rows {n:has|have} {points} inner low {points:point|points} of {deep_m:g} m or deeper, "
        "the deepest {deepest:.2f} m in row {worst}: water stands there, and a full furrow breaks there "
        "first. `geoagro water` says where water comes from and goes; ridges and ditches need a licensed "
        "professional",
        n=len(deep),
        all=len(rows.frame),
        points=sum(len(d) for _, d in deep),
        deep_m=DEEP_M,
        deepest=depths.max(),
        worst=worst,
    )
    return (Finding("note", "rows", text),)
