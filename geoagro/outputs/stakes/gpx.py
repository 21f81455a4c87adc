"""GPX 1.1 for hand-held receivers and phones: a waypoint per mark, a route per row, the walk as tracks."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from gpxpy.gpx import GPX, GPXRoute, GPXRoutePoint, GPXTrack, GPXTrackPoint, GPXTrackSegment, GPXWaypoint

from geoagro.outputs.stakes.places import lonlat
from geoagro.stakeout.records.stakes import StakeOut
from geoagro.values.stakeout import STAKE_KINDS


def write_gpx(path: Path, stakes: StakeOut, *, title: str) -> None:
    """Write marks in walking order, rows and the walk; elevations only where heights are known."""
    gpx = GPX()
    gpx.creator = "geoagro"
    gpx.name = title
    marks = stakes.marks.sort_values("walk")
    lon, lat = lonlat(marks["x"], marks["y"], marks.crs)
    gpx.waypoints.extend(_waypoints(marks, lon, lat))
    for label, number, name, of_row in _by_row(stakes.marks):
        route = GPXRoute(name=f"Row {label}", number=number)
        route.points.extend(
            GPXRoutePoint(latitude=y, longitude=x, elevation=_height(z), name=mark)
            for x, y, z, mark in zip(*of_row, name, strict=True)
        )
        gpx.routes.append(route)
    gpx.tracks.extend(_tracks(stakes.walk))
    path.write_text(gpx.to_xml(version="1.1"), encoding="utf-8")


def _waypoints(marks: Any, lon: Any, lat: Any) -> list[GPXWaypoint]:
    points = []
    for x, y, mark in zip(lon, lat, marks.itertuples(), strict=True):
        words = STAKE_KINDS[mark.kind].words + (f"; {mark.note}" if mark.note else "")
        points.append(
            GPXWaypoint(
                latitude=float(y),
                longitude=float(x),
                elevation=_height(mark.z),
                name=mark.mark,
                description=words,
                symbol="Flag",
                type=mark.kind,
            )
        )
    return points


def _by_row(marks: Any) -> Any:
    for row, mine in marks.groupby("row", sort=True):
        lon, lat = lonlat(mine["x"], mine["y"], marks.crs)
        yield mine["label"].iloc[0], int(row), mine["mark"].tolist(), (lon.tolist(), lat.tolist(), mine["z"].tolist())


def _tracks(walk: Any) -> list[GPXTrack]:
    tracks = []
    for part in walk.itertuples():
        xy = np.asarray(part.geometry.coords)
        lon, lat = lonlat(xy[:, 0], xy[:, 1], walk.crs)
        track = GPXTrack(name=f"Walk {part.part}: day {part.day}, crew {part.crew}", number=int(part.part))
        track.segments.append(
            GPXTrackSegment(
                [GPXTrackPoint(latitude=float(y), longitude=float(x)) for x, y in zip(lon, lat, strict=True)]
            )
        )
        tracks.append(track)
    return tracks


def _height(z: float) -> float | None:
    return round(float(z), 3) if np.isfinite(z) else None
