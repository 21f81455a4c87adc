"""The one place that knows about coordinate reference systems: choose one, move coordinates, measure on the ellipsoid.

Everything between reading and writing happens in the working CRS: projected, in metres, and nearly true to
scale at the field. Coordinates are always easting, northing or longitude, latitude, whatever order the
authority's axes have.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar, overload

import numpy as np
import shapely
from numpy.typing import ArrayLike
from pyproj import CRS, Geod, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info
from pyproj.exceptions import CRSError, ProjError
from pyproj.transformer import TransformerGroup
from shapely import MultiLineString
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats, Shapes
from geoagro.errors import CrsError

Bounds = tuple[float, float, float, float]

WGS84 = CRS.from_epsg(4326)

LARGEST_SCALE_ERROR = 0.002
"""A CRS is worked in only if a metre on the map is a metre on the ellipsoid within this share.

UTM stays below 0.001 inside its zone; 0.002 is 9 mm in a row spacing of 4.5 m. Our own choice, no source.
"""

_STEP_M = 100.0


@dataclass(frozen=True)
class Scale:
    """How a projection distorts at one place.

    Attributes
    ----------
    smallest, largest
        Length on the map divided by length on the ellipsoid, in the directions where it is extreme.
    areal
        Area on the map divided by area on the ellipsoid.
    convergence_deg
        Bearing of grid north from true north, clockwise.
    """

    smallest: float
    largest: float
    areal: float
    convergence_deg: float

    @property
    def error(self) -> float:
        """Largest deviation of the point scale factor from 1."""
        return max(abs(self.largest - 1.0), abs(self.smallest - 1.0))


FORCED = "inputs.working_crs"
_DEGREES = "degrees"


@dataclass(frozen=True)
class Unfit:
    """A CRS that can't be worked in: what is in it, and what is wrong: its unit, or how far it is out of scale there."""

    what: str
    crs: CRS
    unit: str = ""
    error: float = 0.0

    @property
    def problem(self) -> str:
        """Say what is wrong with it."""
        if self.unit == _DEGREES:
            return "is in degrees"
        return f"is in {self.unit}, not metres" if self.unit else f"is out of scale by {self.error * 100:.2f} % here"


@dataclass(frozen=True)
class WorkingCrs:
    """The CRS that was chosen, whose it is, those that went before it and didn't do, and how true it is at the field."""

    crs: CRS
    whose: str
    """What is in it: a file, `inputs.working_crs` where it was set, or nothing for the UTM zone of the place."""
    refused: tuple[Unfit, ...]
    scale: Scale

    @property
    def reason(self) -> str:
        """Say why it was chosen."""
        if self.whose == FORCED:
            return f"set by {FORCED}"
        why = "; ".join(f"{one.what} is in {name_of(one.crs)}, which {one.problem}" for one in self.refused)
        return f"that of {self.whose}" if self.whose else f"the UTM zone here, as {why}"

    def sentence(self) -> str:
        """Say it in words, for the report."""
        middle = (self.scale.smallest + self.scale.largest) / 2
        return (
            f"{name_of(self.crs)} ({self.reason}); point scale factor {middle:.5f} "
            f"({(middle - 1) * 1e5:+.1f} cm per km), areas {(self.scale.areal - 1) * 100:+.3f} % against the "
            f"ellipsoid, grid north {self.scale.convergence_deg:+.2f} degrees from true north"
        )


def name_of(crs: CRS) -> str:
    """Name a CRS by authority code (where there is one) and name.

    >>> name_of(CRS.from_epsg(32633))
    'EPSG:32633 WGS 84 / UTM zone 33N'
    """
    authority = crs.to_authority(min_confidence=70)
    return f"{':'.join(authority)} {crs.name}" if authority else crs.name


def parse_crs(text: object, *, where: str) -> CRS:
    """Read a CRS as the user or a file states it; `where` names the key or file for the message."""
    try:
        crs = CRS.from_user_input(text)
    except CRSError as error:
        raise CrsError(
            f"{where}: '{text}' is not a coordinate reference system. Write a code such as 'EPSG:32633'."
        ) from error
    if not (crs.is_projected or crs.is_geographic):
        raise CrsError(
            f"{where}: {name_of(crs)} is neither projected nor longitude/latitude. "
            "Give the file in a CRS with a place on Earth, e.g. 'EPSG:32633'."
        )
    return _official(crs.sub_crs_list[0] if crs.is_compound else crs)


@lru_cache(maxsize=256)
def _official(crs: CRS) -> CRS:
    """Give the registry's own CRS where a file spells one out without its code or under a name of its own."""
    authority = crs.to_authority(min_confidence=70)
    return CRS.from_authority(*authority) if authority else crs


def same(a: CRS, b: CRS) -> bool:
    """Tell whether two CRSs put a coordinate pair at the same place (axis order aside)."""
    return bool(a == b or a.equals(b, ignore_axis_order=True))


def is_metric(crs: CRS) -> bool:
    """Tell whether the CRS is projected with both axes in metres."""
    return crs.is_projected and all(abs(axis.unit_conversion_factor - 1.0) < 1e-12 for axis in crs.axis_info[:2])


def horizontal_metres(crs: CRS) -> float:
    """Metres in one unit of the horizontal axes of a projected CRS."""
    return float(crs.axis_info[0].unit_conversion_factor)


def scale_at(crs: CRS, x: float, y: float) -> Scale:
    """Measure the distortion at a point by comparing 100 m on the map with geodesics.

    Geodesics after Karney (2013), "Algorithms for geodesics", J. Geodesy 87, as in PROJ.
    """
    angles = np.deg2rad(np.arange(0.0, 180.0, 15.0))
    half = _STEP_M / 2
    dx, dy = np.sin(angles) * half, np.cos(angles) * half
    lon0, lat0 = _own_lonlat(crs, x - dx, y - dy)
    lon1, lat1 = _own_lonlat(crs, x + dx, y + dy)
    bearing, _, length = _ellipsoid(crs).inv(lon0, lat0, lon1, lat1)
    factors = _STEP_M * np.ones(len(angles)) / np.asarray(length)
    square = shapely.box(x - half, y - half, x + half, y + half)
    return Scale(
        smallest=float(factors.min()),
        largest=float(factors.max()),
        areal=square.area / geodesic_area_m2(square, crs),
        convergence_deg=float(bearing[0]),
    )


def choose_working_crs(
    candidates: Sequence[tuple[str, CRS]], *, lon: float, lat: float, forced: CRS | None = None
) -> WorkingCrs:
    """Choose the CRS to work in: the first candidate that is metric and true to scale, else a UTM zone.

    Parameters
    ----------
    candidates
        What a CRS belongs to ("the boundary") and the CRS, in order of preference; the first also sets
        the datum of the UTM zone.
    lon, lat
        Middle of the field, degrees on WGS 84.
    forced
        The user's own choice; refused if it isn't metric or is out by more than LARGEST_SCALE_ERROR.

    Raises
    ------
    CrsError
        If the forced CRS can't be used or the field lies outside UTM (above 84 or below -80 degrees).
    """
    if forced is not None:
        return _forced(forced, lon, lat)
    refused: list[Unfit] = []
    for what, crs in candidates:
        unfit = _unfit(what, crs, lon, lat)
        if unfit is None:
            return WorkingCrs(crs, what, tuple(refused), _scale_at_lonlat(crs, lon, lat))
        refused.append(unfit)
    utm = utm_zone(lon, lat, like=candidates[0][1])
    return WorkingCrs(utm, "", tuple(refused), _scale_at_lonlat(utm, lon, lat))


def _forced(crs: CRS, lon: float, lat: float) -> WorkingCrs:
    unfit = _unfit(FORCED, crs, lon, lat)
    if unfit:
        raise CrsError(
            f"{FORCED}: {name_of(crs)} {unfit.problem}. Give a projected CRS in metres made for this "
            "region, or leave the key out."
        )
    return WorkingCrs(crs, FORCED, (), _scale_at_lonlat(crs, lon, lat))


def _unfit(what: str, crs: CRS, lon: float, lat: float) -> Unfit | None:
    if not crs.is_projected:
        return Unfit(what, crs, unit=_DEGREES)
    if not is_metric(crs):
        return Unfit(what, crs, unit=crs.axis_info[0].unit_name)
    error = _scale_at_lonlat(crs, lon, lat).error
    return None if error <= LARGEST_SCALE_ERROR else Unfit(what, crs, error=error)


def _scale_at_lonlat(crs: CRS, lon: float, lat: float) -> Scale:
    x, y = transform_points(lon, lat, WGS84, crs)
    return scale_at(crs, float(x), float(y))


def utm_zone(lon: float, lat: float, *, like: CRS = WGS84) -> CRS:
    """UTM zone of a place, on the datum of `like` where the EPSG registry has it, else on WGS 84.

    >>> utm_zone(15.0, 46.0).to_epsg(), utm_zone(-50.0, -15.0, like=CRS.from_epsg(4674)).to_epsg()
    (32633, 31982)
    """
    name = f"UTM zone {utm_zone_number(lon, lat)}{'N' if lat >= 0 else 'S'}"
    area = AreaOfInterest(lon - 3.0, max(lat - 0.1, -90.0), lon + 3.0, min(lat + 0.1, 90.0))
    geodetic = like.geodetic_crs.name if like.geodetic_crs is not None else ""
    for datum in (geodetic, "WGS 84"):
        for info in query_utm_crs_info(datum_name=datum, area_of_interest=area):
            if info.name == f"{datum} / {name}":
                return CRS.from_authority(info.auth_name, info.code)
    raise CrsError(f"No {name} in the EPSG registry for {lon:.4f} E {lat:.4f} N; set inputs.working_crs.")


def utm_zone_number(lon: float, lat: float) -> int:
    """Zone of 6 degrees, with the wider zones 32V (Norway) and 31X, 33X, 35X, 37X (Svalbard).

    Raises CrsError outside 80 S to 84 N. Exceptions as in GeographicLib, `UTMUPS::StandardZone`.

    >>> utm_zone_number(5.5, 60.4), utm_zone_number(15.0, 78.0), utm_zone_number(180.0, 0.0)
    (32, 33, 1)
    """
    if not -80.0 <= lat <= 84.0:
        raise CrsError(f"Latitude {lat:.2f} is outside UTM (80 S to 84 N); set inputs.working_crs.")
    lon = (lon + 180.0) % 360.0 - 180.0
    zone = int((lon + 180.0) // 6.0) + 1
    if 56.0 <= lat < 64.0 and 3.0 <= lon < 6.0:
        return 32
    if lat >= 72.0 and 0.0 <= lon < 42.0:
        return 31 + 2 * int(np.searchsorted([9.0, 21.0, 33.0], lon, side="right"))
    return zone


Geometry = TypeVar("Geometry", bound=BaseGeometry)


@lru_cache(maxsize=64)
def _transformer(source: CRS, target: CRS) -> Transformer:
    return Transformer.from_crs(source, target, always_xy=True)


def transform_points(x: ArrayLike, y: ArrayLike, source: CRS, target: CRS) -> tuple[Floats, Floats]:
    """Move points from one CRS to another; easting/longitude first.

    Raises CrsError where a coordinate has no place in the target.
    """
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if same(source, target):
        return x, y
    try:
        out_x, out_y = _transformer(source, target).transform(x, y, errcheck=True)
    except ProjError as error:
        raise CrsError(
            f"Coordinates can't be brought from {name_of(source)} to {name_of(target)} ({error}). "
            "Check that the file's CRS is stated rightly and that x and y are not swapped."
        ) from error
    return np.asarray(out_x, dtype=float), np.asarray(out_y, dtype=float)


@overload
def transform_geometries(geometries: Shapes, source: CRS, target: CRS) -> Shapes: ...
@overload
def transform_geometries(geometries: Geometry, source: CRS, target: CRS) -> Geometry: ...
def transform_geometries(geometries: Shapes | Geometry, source: CRS, target: CRS) -> Shapes | Geometry:
    """Move a geometry or an array of them (vertices only) from one CRS to another."""
    if same(source, target):
        return geometries

    def move(xy: Floats) -> Floats:
        return np.column_stack(transform_points(xy[:, 0], xy[:, 1], source, target))

    return shapely.transform(geometries, move, include_z=False)


def transform_bounds(bounds: Bounds, source: CRS, target: CRS) -> Bounds:
    """Bounds in the target CRS that hold all of the box (its edges densified)."""
    if same(source, target):
        return bounds
    edge = shapely.segmentize(shapely.box(*bounds), max(bounds[2] - bounds[0], bounds[3] - bounds[1], 1e-12) / 20)
    west, south, east, north = transform_geometries(edge, source, target).bounds
    return west, south, east, north


def joining_accuracy_m(source: CRS, target: CRS, *, lon: float, lat: float) -> float:
    """How well the datums of two CRSs can be joined here, metres: 0 where they are the same, infinite where no way is known."""
    if same(source, target):
        return 0.0
    here = AreaOfInterest(lon, lat, lon + 1e-6, lat + 1e-6)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # a missing grid shows in the accuracy
        group = TransformerGroup(source, target, always_xy=True, area_of_interest=here)  # type: ignore[arg-type]
    best = group.transformers[0]
    return math.inf if "ballpark" in best.description.lower() else float(best.accuracy)


def to_lonlat(x: float, y: float, crs: CRS) -> tuple[Floats, Floats]:
    """Longitude and latitude in degrees on WGS 84, for files that want them."""
    return transform_points(x, y, crs, WGS84)


def inside_area_of_use(crs: CRS, lon: float, lat: float) -> bool:
    """Tell whether a place lies where the CRS is meant to be used (True where that isn't known)."""
    area = crs.area_of_use
    if area is None:
        return True
    wide = area.west <= lon <= area.east if area.west <= area.east else (lon >= area.west or lon <= area.east)
    return bool(wide and area.south <= lat <= area.north)


def geodesic_area_m2(polygon: BaseGeometry, crs: CRS) -> float:
    """Area on the ellipsoid of the CRS, square metres; holes are taken off.

    Edges are geodesics between vertices; edges drawn straight on a map plane are cut at every 100 m first.
    """
    rings = shapely.get_rings(shapely.get_parts([shapely.orient_polygons(polygon)]))
    geod, moved = _ellipsoid(crs), _on_ellipsoid(MultiLineString(list(rings)), crs)
    xy, number = shapely.get_coordinates(shapely.get_parts([moved]), return_index=True)
    # ring by ring as arrays: the library takes each corner of a polygon by itself
    each = np.split(xy, np.flatnonzero(np.diff(number)) + 1) if len(xy) else []
    return abs(float(sum(geod.polygon_area_perimeter(*ring.T)[0] for ring in each)))


def geodesic_length_m(line: BaseGeometry, crs: CRS) -> float:
    """Length on the ellipsoid of the CRS, metres (perimeter for a polygon)."""
    geod, moved = _ellipsoid(crs), _on_ellipsoid(line, crs)
    if moved.geom_type in ("Polygon", "MultiPolygon"):
        moved = moved.boundary
    return float(geod.geometry_length(moved))


def _on_ellipsoid(geometry: Geometry, crs: CRS) -> Geometry:
    if crs.is_geographic:
        return geometry
    fine = shapely.segmentize(geometry, _STEP_M / horizontal_metres(crs))

    def move(xy: Floats) -> Floats:
        return np.column_stack(_own_lonlat(crs, xy[:, 0], xy[:, 1]))

    return shapely.transform(fine, move)


def _ellipsoid(crs: CRS) -> Geod:
    geod = crs.get_geod()
    if geod is None:
        raise CrsError(f"{name_of(crs)} has no ellipsoid to measure on.")
    return geod


def _own_lonlat(crs: CRS, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Longitude and latitude on the CRS's own datum, so that no datum shift comes into areas."""
    geodetic = crs.geodetic_crs
    assert geodetic is not None  # an ellipsoid is there, so its CRS is too
    return transform_points(x, y, crs, geodetic)
