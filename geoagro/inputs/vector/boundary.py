"""The boundary of the field."""

from __future__ import annotations

from pyproj import CRS
from shapely import MultiPolygon

from geoagro.inputs.vector.features import Features
from geoagro.inputs.vector.repair import one_area
from geoagro.inputs.vector.rings import polygons_of
from geoagro.values.site import Finding

FAR_APART_M = 10_000.0
"""Parts of one field that spread wider than this are more likely a whole register of fields. Our own choice."""


def read_boundary(features: Features, crs: CRS) -> tuple[MultiPolygon, tuple[Finding, ...]]:
    """Bring the features of a boundary file into one valid area in the working CRS; say what was repaired."""
    flat = features.flat_in(crs)
    polygons, closed = polygons_of(features, flat)
    area, repaired = one_area(features, polygons)
    return area, (*features.findings, *closed, *repaired, *_spread(features, area))


def _spread(features: Features, area: MultiPolygon) -> tuple[Finding, ...]:
    west, south, east, north = area.bounds
    wide = max(east - west, north - south)
    if wide <= FAR_APART_M:
        return ()
    text = f"{len(area.geoms)} part(s) spread over {wide / 1000:.1f} km; pick one field with `where`"
    return (features.finding("warning", text),)
