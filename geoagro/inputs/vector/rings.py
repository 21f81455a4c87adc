"""Make polygons of what a file holds: polygons, closed lines, GPS tracks, corners in a list."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Ints, Shapes
from geoagro.errors import InputError
from geoagro.inputs.vector.features import Features
from geoagro.values.site import Finding, Level
from geoagro.values.words import Sentence

LARGEST_GAP_SHARE = 0.2
"""A track is closed if the gap is at most this share of the way walked. Our own choice, no source."""

_POLYGONS = ("Polygon", "MultiPolygon")
_LINES = ("LineString", "LinearRing", "MultiLineString")
_POINTS = ("Point", "MultiPoint")


def polygons_of(features: Features, geometries: Shapes) -> tuple[Shapes, tuple[Finding, ...]]:
    """Polygons (perhaps not valid yet) of features whose geometries are given in the working CRS.

    Parameters
    ----------
    features
        What was read; says how lines and points are meant.
    geometries
        Its geometries, flat, in metres.

    Returns
    -------
    polygons, findings
        An array of Polygons; what was closed or left out.

    Raises
    ------
    InputError
        If nothing in the file encloses an area, or a track ends too far from its start.
    """
    types = np.array([g.geom_type for g in geometries])
    areas = shapely.get_parts(geometries[np.isin(types, _POLYGONS)])
    if len(areas):
        return areas, _left_out(features, types)
    if np.isin(types, _LINES).any():
        lines = geometries[np.isin(types, _LINES)]
        walked = features.nature == "walked"
        return _walked(features, lines) if walked else _drawn(features, lines)
    if features.nature == "listed":
        return _listed(features, geometries)
    raise InputError(
        f"{features.where}: polygons are needed, but it holds {features.kinds()}. Name a layer of polygons or closed "
        "lines, or a CSV list of the corners in order."
    )


def _left_out(features: Features, types: Ints) -> tuple[Finding, ...]:
    others = int((~np.isin(types, _POLYGONS)).sum())
    if others == 0:
        return ()
    text = Sentence("beside the polygons there are other lines or points, which are not used: {n}", n=others)
    return (features.finding("note", text),)


def _drawn(features: Features, lines: Shapes) -> tuple[Shapes, tuple[Finding, ...]]:
    parts = shapely.get_parts(lines)
    closed = shapely.is_closed(parts) & (shapely.get_num_coordinates(parts) >= 4)
    if not closed.all():
        raise InputError(
            f"{features.where}: polygons are needed, but {int((~closed).sum())} of {len(parts)} lines are not closed. "
            "Close them where they were drawn, or name a layer of polygons."
        )
    text = Sentence("{n} closed {n:line taken as polygon|lines taken as polygons}", n=len(parts))
    return np.asarray(shapely.polygons(_rings(parts)), dtype=object), (features.finding("note", text),)


def _walked(features: Features, tracks: Shapes) -> tuple[Shapes, tuple[Finding, ...]]:
    polygons, findings = [], []
    for number, track in enumerate(tracks, start=1):
        name = Sentence("track {number}", number=number) if len(tracks) > 1 else Sentence("the track")
        line = _joined(track)
        findings += _gap_in(features, name, track, line)
        polygons.append(shapely.Polygon(line.coords))
    return np.array(polygons, dtype=object), tuple(findings)


def _joined(track: BaseGeometry) -> LineString:
    """Segments of a track, one after another, as one line."""
    return shapely.LineString(shapely.get_coordinates(track))


def _gap_in(features: Features, name: Sentence, track: BaseGeometry, line: LineString) -> list[Finding]:
    start, end = line.coords[0], line.coords[-1]
    gap = float(np.hypot(end[0] - start[0], end[1] - start[1]))
    if len(set(line.coords)) < 3 or gap > LARGEST_GAP_SHARE * line.length:
        raise InputError(
            f"{features.where}: {name} ({line.length:.0f} m long, {len(line.coords)} points) doesn't go round a field: "
            f"it ends {gap:.0f} m from where it starts; at most {LARGEST_GAP_SHARE:.0%} of its length can be closed. "
            "Pick the right track with `where`, or walk the boundary to its start."
        )
    found = []
    if gap > 0:
        level: Level = "warning" if gap > 0.05 * line.length else "repair"
        text = Sentence("{which} closed over a gap of {gap:.1f} m", which=name, gap=gap)
        found.append(features.finding(level, text))
    pieces = shapely.get_num_geometries(track)
    if pieces > 1:
        text = Sentence("{which} has {pieces} segments, joined in their order", which=name, pieces=pieces)
        found.append(features.finding("repair", text))
    return found


def _listed(features: Features, points: Shapes) -> tuple[Shapes, tuple[Finding, ...]]:
    """Corners in the order of the list; a column `part` parts several polygons."""
    table = features.table
    names = {str(c).strip().lower(): c for c in table.columns}
    parts = table[names["part"]].to_numpy() if "part" in names else np.zeros(len(points))
    xy = shapely.get_coordinates(points)
    polygons = []
    for part in dict.fromkeys(parts):
        corners = xy[parts == part]
        if len(np.unique(corners, axis=0)) < 3:
            raise InputError(f"{features.where}: a boundary needs at least 3 different corners, part {part} has fewer.")
        polygons.append(shapely.Polygon(corners))
    text = Sentence(
        "{points} points taken as the corners of {n} {n:polygon|polygons}, in the order of the list",
        points=len(points),
        n=len(polygons),
    )
    return np.array(polygons, dtype=object), (features.finding("note", text),)


def _rings(lines: Shapes) -> Shapes:
    coordinates, index = shapely.get_coordinates(lines, return_index=True)
    return np.asarray(shapely.linearrings(coordinates, indices=index), dtype=object)
