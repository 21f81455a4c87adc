"""Repair polygons and bring them into one: crossings, duplicates, slivers, overlaps. All of it is reported."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from geoagro.arrays import Shapes
from geoagro.errors import InputError
from geoagro.inputs.vector.features import Features
from geoagro.inputs.vector.tangles import refuse_tangles
from geoagro.values.site import Finding

NARROWEST_M = 0.25
"""Polygons and holes of a smaller mean width (2 x area / perimeter) are drawing errors. Our own choice, no source."""

SMALLEST_M2 = 1.0
"""Smaller polygons are drawing errors. Our own choice, no source."""


def one_area(features: Features, polygons: Shapes) -> tuple[MultiPolygon, tuple[Finding, ...]]:
    """Make one valid MultiPolygon (holes kept) of polygons in the working CRS.

    Raises InputError if nothing of a useful size is left.
    """
    polygons, findings = sound_polygons(features, polygons)
    area, united = _united(features, polygons)
    area, closed = _hairline_holes_closed(features, area)
    return area, (*findings, *united, *closed)


def sound_polygons(features: Features, polygons: Shapes) -> tuple[Any, tuple[Finding, ...]]:
    """Make polygons valid, without duplicates and slivers, and say what was changed; they may overlap.

    Raises InputError if nothing of a useful size is left.
    """
    findings: list[Finding] = []
    for step in (_made_valid, _without_duplicates, _without_slivers, _nested_taken_out):
        polygons, found = step(features, polygons)
        findings += found
    return polygons, tuple(findings)


def _made_valid(features: Features, polygons: Shapes) -> tuple[Any, list[Finding]]:
    broken = ~shapely.is_valid(polygons)
    if not broken.any():
        return polygons, []
    refuse_tangles(features, polygons[broken])
    found = []
    mended = polygons.copy()
    mended[broken] = shapely.make_valid(polygons[broken], method="structure", keep_collapsed=False)
    holed = broken & (shapely.get_num_interior_rings(polygons) > 0)
    shells = shapely.make_valid(shapely.polygons(shapely.get_exterior_ring(polygons[holed])), method="structure")
    mended[holed] = shapely.intersection(mended[holed], shells)  # a hole outside its outline is no ground
    for before, after in zip(polygons[broken], mended[broken], strict=True):
        reason = shapely.is_valid_reason(before)
        text = f"{reason[0].lower()}{reason[1:]}: repaired; the area went from {before.area:.1f} to {after.area:.1f} m2"
        found.append(features.finding("warning" if _changed(before, after) else "repair", text))
    parts = shapely.get_parts(mended)
    return parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON], found


def _changed(before: Polygon, after: Any) -> bool:
    """Tell whether a repair moved more than 1 % of the area, so that a person should look."""
    return bool(abs(after.area - before.area) > 0.01 * max(before.area, after.area))


def _without_duplicates(features: Features, polygons: Shapes) -> tuple[Any, list[Finding]]:
    keys = shapely.to_wkb(shapely.normalize(shapely.set_precision(polygons, 0.001, mode="pointwise")))
    first = sorted({key: place for place, key in reversed(list(enumerate(keys.tolist())))}.values())
    dropped = len(polygons) - len(first)
    if dropped == 0:
        return polygons, []
    return polygons[first], [features.finding("repair", f"{dropped} polygon(s) drawn twice, taken once")]


def _without_slivers(features: Features, polygons: Shapes) -> tuple[Any, list[Finding]]:
    area = shapely.area(polygons)
    sliver = (area < SMALLEST_M2) | (mean_width(polygons) < NARROWEST_M)
    if sliver.all():
        raise InputError(
            f"{features.where}: encloses no ground: {len(polygons)} polygon(s), {area.sum():.2f} m2 in all. Check the "
            "file and its CRS (degrees taken for metres?)."
        )
    if not sliver.any():
        return polygons, []
    text = f"{int(sliver.sum())} sliver(s) of {area[sliver].sum():.2f} m2 in all left out"
    return polygons[~sliver], [features.finding("repair", text)]


def mean_width(polygons: Shapes) -> Any:
    """Twice the area over the perimeter: the width of a long strip, metres."""
    length = shapely.length(polygons)
    return np.divide(2.0 * shapely.area(polygons), length, out=np.zeros_like(length), where=length > 0)


def _nested_taken_out(features: Features, polygons: Shapes) -> tuple[Any, list[Finding]]:
    """Take a ring within a ring as a hole (within a hole: ground again), where the format can't draw holes."""
    if not features.nested_are_holes or len(polygons) < 2:
        return polygons, []
    inner, outer = shapely.STRtree(polygons).query(polygons, predicate="covered_by")
    depth = np.bincount(inner[inner != outer], minlength=len(polygons))
    if not depth.any():
        return polygons, []
    result = []
    for level in range(0, int(depth.max()) + 1, 2):
        holes = shapely.union_all(polygons[depth == level + 1])
        result.append(shapely.difference(shapely.union_all(polygons[depth == level]), holes))
    text = f"{int((depth % 2).sum())} ring(s) lying within another taken as hole(s)"
    return shapely.get_parts(np.array(result, dtype=object)), [features.finding("repair", text)]


def _united(features: Features, polygons: Shapes) -> tuple[MultiPolygon, list[Finding]]:
    united = shapely.union_all(polygons)
    overlap = float(shapely.area(polygons).sum() - united.area)
    found = []
    if overlap > SMALLEST_M2:
        text = f"polygons overlap by {overlap:.1f} m2 and were united"
        if overlap > 0.01 * united.area:
            more = "; if the file holds several fields, pick one with `where`"
            found.append(features.finding("warning", text + more))
        else:
            found.append(features.finding("repair", text))
    parts = shapely.get_parts(united)
    return MultiPolygon(list(parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON])), found


def _hairline_holes_closed(features: Features, area: MultiPolygon) -> tuple[MultiPolygon, list[Finding]]:
    parts, closed, size = [], 0, 0.0
    for part in area.geoms:
        holes = np.array([Polygon(ring) for ring in part.interiors], dtype=object)
        hairline = mean_width(holes) < NARROWEST_M if len(holes) else np.zeros(0, dtype=bool)
        closed += int(hairline.sum())
        size += float(shapely.area(holes[hairline]).sum())
        parts.append(Polygon(part.exterior, [h.exterior for h in holes[~hairline]]))
    if closed == 0:
        return area, []
    text = f"{closed} hairline hole(s) of {size:.2f} m2 in all closed"
    return MultiPolygon(parts), [features.finding("repair", text)]
