"""GPX 1.1 for hand-held receivers and phones: a waypoint per mark, a route per row, the walk as tracks."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely
from gpxpy.gpx import GPX, GPXRoute, GPXRoutePoint, GPXTrack, GPXTrackPoint, GPXTrackSegment, GPXWaypoint

from geoagro.arrays import Floats
from geoagro.outputs.stakes.mark_words import kind_and_notes
from geoagro.outputs.stakes.places import lonlat
from geoagro.outputs.words.say import Words
from geoagro.stakeout.records.stakes import StakeOut
from geoagro.values.base.one_crs import crs_of
from geoagro.values.base.records import records
from geoagro.values.words import say


def write_gpx(path: Path, stakes: StakeOut, words: Words, *, title: str) -> None:
    """Write marks in walking order, rows and the walk; elevations only where heights are known."""
    gpx = GPX()
    gpx.creator = "geoagro"
    gpx.name = title
    marks = stakes.marks.sort_values("walk")
    lon, lat = lonlat(marks["x"], marks["y"], crs_of(marks))
    gpx.waypoints.extend(_waypoints(marks, lon, lat, words))
    for label, number, name, of_row in _by_row(stakes.marks):
        route = GPXRoute(name=words(say("Row {row}"), row=label), number=number)
        route.points.extend(
            GPXRoutePoint(latitude=y, longitude=x, elevation=_height(z), name=mark)
            for x, y, z, mark in zip(*of_row, name, strict=True)
        )
        gpx.routes.append(route)
    gpx.tracks.extend(_tracks(stakes.walk, words))
    path.write_text(gpx.to_xml(version="1.1"), encoding="utf-8")


def _waypoints(marks: gpd.GeoDataFrame, lon: Floats, lat: Floats, words: Words) -> list[GPXWaypoint]:
    points = []
    for x, y, mark in zip(lon, lat, records(marks), strict=True):
        points.append(
            GPXWaypoint(
                latitude=float(y),
                longitude=float(x),
                elevation=_height(mark.number("z")),
                name=mark.text("stake"),
                description=kind_and_notes(mark.text("kind"), mark.text("note"), words),
                symbol="Flag",
                type=mark.text("kind"),
            )
        )
    return points


def _by_row(
    marks: gpd.GeoDataFrame,
) -> Iterator[tuple[str, int, list[str], tuple[list[float], list[float], list[float]]]]:
    for _, mine in marks.groupby("row", sort=True):
        lon, lat = lonlat(mine["x"], mine["y"], crs_of(marks))
        yield (
            mine["label"].iloc[0],
            int(mine["row"].iloc[0]),
            mine["stake"].tolist(),
            (lon.tolist(), lat.tolist(), mine["z"].tolist()),
        )


def _tracks(walk: gpd.GeoDataFrame, words: Words) -> list[GPXTrack]:
    tracks = []
    for part in records(walk):
        xy = shapely.get_coordinates(part.shape())
        number = part.whole("day_trip")
        lon, lat = lonlat(xy[:, 0], xy[:, 1], crs_of(walk))
        message = say("Walk {part}: day {day}, crew {crew}")
        name = words(message, part=number, day=part.whole("day"), crew=part.whole("crew"))
        track = GPXTrack(name=name, number=number)
        track.segments.append(
            GPXTrackSegment(
                [GPXTrackPoint(latitude=float(y), longitude=float(x)) for x, y in zip(lon, lat, strict=True)]
            )
        )
        tracks.append(track)
    return tracks


def _height(z: float) -> float | None:
    return round(float(z), 3) if np.isfinite(z) else None
