"""What is drawn on a field besides its boundary: exclusions, tracks, guide lines, the outlet."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import shapely
from pyproj import CRS
from shapely import LineString, MultiPolygon

from geoagro.arrays import Floats, Shapes
from geoagro.errors import InputError
from geoagro.inputs.vector.features import Features
from geoagro.inputs.vector.repair import sound_polygons
from geoagro.inputs.vector.tangles import refuse_tangles
from geoagro.planar.margins import grown_each
from geoagro.values.design import AreaSource, ExclusionSource, TrackSource
from geoagro.values.places import NamedArea
from geoagro.values.site import Exclusion, Finding
from geoagro.values.words import Sentence


def exclusion(
    features: Features, source: ExclusionSource, *, crs: CRS, boundary: MultiPolygon
) -> tuple[Exclusion | None, tuple[Finding, ...]]:
    """Polygons, lines and points with their buffer; None (and a warning) where all of it lies outside the field.

    Raises InputError for lines or points without a buffer, since they cover no ground.
    """
    flat = features.flat_in(crs)
    thin = shapely.get_dimensions(flat) < 2
    if thin.any() and source.buffer_m == 0:
        raise InputError(
            f"{features.where}: lines and points cover no ground ({features.kinds()}); say how far to keep off with "
            "`buffer_m`, e.g. buffer_m: 2."
        )
    buffers = np.full(len(flat), source.buffer_m)
    return _kept(features, flat, buffers, name=source.name, kind="exclusion", boundary=boundary)


def track(
    features: Features, source: TrackSource, *, crs: CRS, boundary: MultiPolygon
) -> tuple[Exclusion | None, tuple[Finding, ...]]:
    """Lines widened to the width of the track; polygons as they are.

    Raises InputError for points.
    """
    flat = features.flat_in(crs)
    dimension = shapely.get_dimensions(flat)
    if (dimension < 1).any():
        raise InputError(f"{features.where}: a track is a line or a polygon; the file holds {features.kinds()}.")
    buffers = np.where(dimension == 1, source.width_m / 2, 0.0)
    return _kept(features, flat, buffers, name=source.name, kind="track", boundary=boundary)


def _kept(
    features: Features,
    flat: Shapes,
    buffers: Floats,
    *,
    name: str,
    kind: Literal["exclusion", "track"],
    boundary: MultiPolygon,
) -> tuple[Exclusion | None, tuple[Finding, ...]]:
    solid = shapely.get_dimensions(flat) == 2
    widest = float(buffers.max())
    findings = features.findings
    if solid.any():
        polygons, found = sound_polygons(features, shapely.get_parts(flat[solid]))
        findings += found
        buffers = np.append(buffers[~solid], np.full(len(polygons), buffers[solid][0]))
        flat = np.append(flat[~solid], polygons)
    mended = grown_each(flat, buffers)
    united = shapely.union_all(mended)
    parts = shapely.get_parts(united)
    parts = parts[shapely.intersects(parts, boundary)]
    if len(parts) == 0:
        text = Sentence("'{name}' lies outside the field and keeps nothing free", name=name)
        return None, (*findings, features.finding("warning", text))
    return Exclusion(name, kind, MultiPolygon(list(parts)), widest), findings


def named_area(
    features: Features, source: AreaSource, *, crs: CRS, boundary: MultiPolygon
) -> tuple[NamedArea, tuple[Finding, ...]]:
    """Polygons under one name, inside the field.

    Raises InputError for lines or points, and for an area that lies outside the field.
    """
    flat = features.flat_in(crs)
    if (shapely.get_dimensions(flat) < 2).any():
        raise InputError(f"{features.where}: an area is a polygon; the file holds {features.kinds()}.")
    polygons, found = sound_polygons(features, shapely.get_parts(flat))
    inside = shapely.intersection(shapely.union_all(polygons), boundary)
    if inside.area == 0:
        raise InputError(f"{features.where}: area '{source.name}' lies outside the field; check the file and its CRS.")
    return NamedArea(source.name, inside), (*features.findings, *found)


def guide_lines(features: Features, *, crs: CRS) -> tuple[LineString, ...]:
    """Lines that rows follow, in the order of the file; a polygon gives its outline, listed points a line."""
    flat = features.flat_in(crs)
    dimension = shapely.get_dimensions(flat)
    if features.nature == "listed":
        return (LineString(shapely.get_coordinates(flat)),) if len(flat) > 1 else _no_line(features)
    if (dimension < 1).any():
        return _no_line(features)
    outlines = np.where(dimension == 2, shapely.boundary(flat), flat)
    lines = shapely.get_parts(shapely.line_merge(outlines))
    lines = shapely.remove_repeated_points(lines[shapely.length(lines) > 0], 0.001)
    return tuple(lines) if len(lines) else _no_line(features)


def _no_line(features: Features) -> tuple[LineString, ...]:
    raise InputError(f"{features.where}: a guide is a line; the file holds {features.kinds()}.")


def outlet(features: Features, *, crs: CRS) -> Any:
    """Give the point or line that rows fall toward; several are taken together."""
    flat = features.flat_in(crs)
    refuse_tangles(features, flat)
    return shapely.union_all(flat)
