"""The boundary of the field."""

from __future__ import annotations

from pyproj import CRS
from shapely import MultiPolygon

from geoagro.errors import InputError
from geoagro.inputs.vector.features import Features
from geoagro.inputs.vector.repair import one_area
from geoagro.inputs.vector.rings import polygons_of
from geoagro.values.site import Finding
from geoagro.values.words import Sentence

FAR_APART_M = 10_000.0
"""Parts of one field that spread wider than this are more likely a whole register of fields. Our own choice."""

FARTHEST_APART_M = 100_000.0
"""No field is that wide: a corner is wrong, or the file holds a country. Our own choice."""


def read_boundary(features: Features, crs: CRS) -> tuple[MultiPolygon, tuple[Finding, ...]]:
    """Bring the features of a boundary file into one valid area in the working CRS; say what was repaired.

    Raises InputError where it encloses no ground, or spreads wider than any field.
    """
    flat = features.flat_in(crs)
    polygons, closed = polygons_of(features, flat)
    area, repaired = one_area(features, polygons)
    return area, (*features.findings, *closed, *repaired, *_spread(features, area))


def _spread(features: Features, area: MultiPolygon) -> tuple[Finding, ...]:
    west, south, east, north = area.bounds
    wide = max(east - west, north - south)
    if wide <= FAR_APART_M:
        return ()
    if wide > FARTHEST_APART_M:
        raise InputError(
            f"{features.where}: spreads over {wide / 1000:,.0f} km (x {west:.0f} to {east:.0f}, y {south:.0f} to {north:.0f}), "
            "which no field does. Look for a corner that is wrong, or pick one field with `where`."
        )
    text = Sentence(
        "{n} {n:part|parts} spread over {wide:.1f} km; pick one field with `where`", n=len(area.geoms), wide=wide / 1000
    )
    return (features.finding("warning", text),)
