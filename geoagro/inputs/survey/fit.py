"""Check that a survey lies where the field is, and if not, which common mistake would put it there.

Nothing is put right unless the user asks for that repair by name.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
from pyproj import CRS
from shapely import Polygon

from geoagro.arrays import Floats
from geoagro.crs import WGS84, is_metric, name_of, transform_points
from geoagro.errors import CrsError, InputError
from geoagro.values.site import Finding, Site

NEAR_M = 100.0
_FITS, _CURED = 0.5, 0.8
REPAIRS = ("swapped", "feet", "us-feet", "zone", "degrees", "working", "east-west", "north-south")


@dataclass(frozen=True, eq=False)
class Numbers:
    """Coordinates as they stand in a file, and the CRS they are said to be in."""

    x: Floats
    y: Floats
    crs: CRS


@dataclass(frozen=True)
class Cure:
    """A common mistake, undone: the name of the repair, what was wrong, and the numbers after it."""

    name: str
    mistake: str
    numbers: Numbers


def fitted(numbers: Numbers, site: Site, *, where: str, repair: str | None) -> tuple[Floats, Floats, list[Finding]]:
    """Bring the points into the working CRS, with the repair that is asked for.

    Raises
    ------
    InputError
        If most points lie more than 100 m outside the field; the message names the mistake that would explain
        it. Or if the repair asked for doesn't bring them there.
    """
    near = shapely.buffer(site.boundary, NEAR_M)
    shapely.prepare(near)
    if repair is not None:
        return _repaired(numbers, site, near, where, repair)
    share = _share_near(numbers, site, near)
    if share >= _FITS:
        x, y = transform_points(numbers.x, numbers.y, numbers.crs, site.crs)
        return x, y, []
    raise _misplaced(numbers, site, near, where, share)


def _repaired(
    numbers: Numbers, site: Site, near: Polygon, where: str, repair: str
) -> tuple[Floats, Floats, list[Finding]]:
    chosen = [cure for cure in cures(numbers, site) if cure.name == repair]
    best = max(chosen, key=lambda cure: _share_near(cure.numbers, site, near), default=None)
    if best is None or _share_near(best.numbers, site, near) < _FITS:
        raise InputError(
            f"{where}: repair '{repair}' doesn't bring the points to the field. Run without --repair to see what would."
        )
    x, y = transform_points(best.numbers.x, best.numbers.y, best.numbers.crs, site.crs)
    return x, y, [Finding("repair", where, f"{best.mistake}; undone, as asked for.")]


def cures(numbers: Numbers, site: Site) -> Iterator[Cure]:
    """Undo common mistakes one at a time, the likeliest first."""
    x, y, crs = numbers.x, numbers.y, numbers.crs
    yield Cure("swapped", "east and north are swapped", Numbers(y, x, crs))
    if is_metric(crs):
        for name, unit, metres in (("feet", "feet", 0.3048), ("us-feet", "US survey feet", 1200 / 3937)):
            yield Cure(name, f"coordinates are in {unit}", Numbers(x * metres, y * metres, crs))
        if crs.utm_zone:
            yield from _other_zones(numbers, crs.utm_zone)
    if bool(np.all((np.abs(x) <= 180) & (np.abs(y) <= 90))):
        yield Cure("degrees", "coordinates are longitude and latitude in degrees", Numbers(x, y, WGS84))
        if crs.is_geographic:
            yield Cure("east-west", "longitude has the wrong sign", Numbers(-x, y, crs))
            yield Cure("north-south", "latitude has the wrong sign", Numbers(x, -y, crs))
    yield Cure("working", f"coordinates are in {name_of(site.crs)}", Numbers(x, y, site.crs))


def _other_zones(numbers: Numbers, stated: str) -> Iterator[Cure]:
    zone, south = int(stated[:-1]), stated.endswith("S")
    for step in (-1, 1, -2, 2):
        other = (zone + step - 1) % 60 + 1
        crs = CRS.from_epsg((32700 if south else 32600) + other)
        words = f"the UTM zone is {other}{'S' if south else 'N'}, not {stated}"
        yield Cure("zone", words, replace(numbers, crs=crs))
    words = f"the UTM zone is {zone}{'N' if south else 'S'}, not {stated}"
    yield Cure("zone", words, replace(numbers, crs=CRS.from_epsg((32600 if south else 32700) + zone)))


def _share_near(numbers: Numbers, site: Site, near: Polygon) -> float:
    try:
        x, y = transform_points(numbers.x, numbers.y, numbers.crs, site.crs)
    except CrsError:
        return 0.0
    return float(shapely.contains_xy(near, x, y).mean())


def _misplaced(numbers: Numbers, site: Site, near: Polygon, where: str, share: float) -> InputError:
    said = f"{where}: {share:.0%} of {len(numbers.x)} points lie in the field or within {NEAR_M:.0f} m of it{_off(numbers, site)}."
    fitting = {}
    for cure in cures(numbers, site):
        cured = _share_near(cure.numbers, site, near)
        if cured >= _CURED and cure.name not in fitting:
            fitting[cure.name] = f"if {cure.mistake}, {cured:.0%} would (--repair {cure.name})"
    if fitting:
        check = " Check a known point to tell which." if len(fitting) > 1 else ""
        return InputError(f"{said} But {'; or '.join(fitting.values())}. Put the file right, or run again so.{check}")
    return InputError(
        f"{said} Swapped axes, feet, another UTM zone, degrees or a wrong sign don't explain it. State the right CRS "
        "with --crs, or check that this is the survey of this field."
    )


def _off(numbers: Numbers, site: Site) -> str:
    try:
        x, y = transform_points(numbers.x, numbers.y, numbers.crs, site.crs)
    except CrsError:
        return ""
    away = shapely.distance(site.boundary, shapely.points(np.median(x), np.median(y)))
    return f" (their middle is {away / 1000:,.1f} km away)"
