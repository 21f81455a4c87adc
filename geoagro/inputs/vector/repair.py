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
from geoagro.values.words import Sentence, say

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
        text = Sentence(
            "{reason}: repaired; the area went from {before:.1f} to {after:.1f} m²",
            reason=_reason(before), before=before.area, after=after.area,
        )  # fmt: skip
        found.append(features.finding("warning" if _changed(before, after) else "repair", text))
    parts = shapely.get_parts(mended)
    return parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON], found


_REASONS = {
    "Self-intersection": say("self-intersection at {place}"),
    "Ring Self-intersection": say("ring touches itself at {place}"),
    "Hole lies outside shell": say("hole lies outside its outline at {place}"),
    "Holes are nested": say("a hole lies within another at {place}"),
    "Nested shells": say("a polygon lies within another at {place}"),
    "Duplicate Rings": say("a ring is drawn twice at {place}"),
    "Interior is disconnected": say("its rings cut it apart at {place}"),
}
"""What GEOS says of a polygon that isn't valid."""


def _reason(polygon: Polygon) -> Sentence:
    reason, _, place = str(shapely.is_valid_reason(polygon)).rstrip("]").partition("[")
    known = _REASONS.get(reason)
    return Sentence(known, place=place) if known else Sentence("not a valid polygon ({reason})", reason=reason)


def _changed(before: Polygon, after: Any) -> bool:
    """Tell whether a repair moved more than 1 % of the area, so that a person should look."""
    return bool(abs(after.area - before.area) > 0.01 * max(before.area, after.area))


def _without_duplicates(features: Features, polygons: Shapes) -> tuple[Any, list[Finding]]:
    keys = shapely.to_wkb(shapely.normalize(shapely.set_precision(polygons, 0.001, mode="pointwise")))
    first = sorted({key: place for place, key in reversed(list(enumerate(keys.tolist())))}.values())
    dropped = len(polygons) - len(first)
    if dropped == 0:
        return polygons, []
    text = Sentence("{n} {n:polygon|polygons} drawn twice, taken once", n=dropped)
    return polygons[first], [features.finding("repair", text)]


def _without_slivers(features: Features, polygons: Shapes) -> tuple[Any, list[Finding]]:
    area = shapely.area(polygons)
    sliver = (area < SMALLEST_M2) | (mean_width(polygons) < NARROWEST_M)
    if sliver.all():
        raise InputError(
            f"{features.where}: encloses no ground: {len(polygons)} polygon(s), {area.sum():.2f} m² in all. Check the "
            "file and its CRS (degrees taken for metres?)."
        )
    if not sliver.any():
        return polygons, []
    text = Sentence(
        "{n} {n:sliver|slivers} of {area:.2f} m² in all left out", n=int(sliver.sum()), area=float(area[sliver].sum())
    )
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
    text = Sentence(
        "{n} {n:ring within another taken as a hole|rings within others taken as holes}", n=int((depth % 2).sum())
    )
    return shapely.get_parts(np.array(result, dtype=object)), [features.finding("repair", text)]


_OVERLAP = say("polygons overlap by {overlap:.1f} m² and were united")
_OVERLAP_MUCH = say(
    "polygons overlap by {overlap:.1f} m² and were united; if the file holds several fields, pick one with `where`"
)


def _united(features: Features, polygons: Shapes) -> tuple[MultiPolygon, list[Finding]]:
    united = shapely.union_all(polygons)
    overlap = float(shapely.area(polygons).sum() - united.area)
    found = []
    if overlap > SMALLEST_M2:
        much = overlap > 0.01 * united.area
        text = Sentence(_OVERLAP_MUCH if much else _OVERLAP, overlap=overlap)
        found.append(features.finding("warning" if much else "repair", text))
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
    text = Sentence("{n} hairline {n:hole|holes} of {size:.2f} m² in all closed", n=closed, size=size)
    return MultiPolygon(parts), [features.finding("repair", text)]
