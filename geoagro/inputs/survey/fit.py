"""Check that a survey lies where the field is, and if not, which common mistake would put it there.

Nothing is put right unless the user asks for that repair by name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
from pyproj import CRS
from scipy.spatial import cKDTree
from shapely import Polygon

from geoagro.arrays import Floats, Texts
from geoagro.crs import WGS84, is_metric, name_of, transform_points
from geoagro.errors import CrsError, InputError
from geoagro.values.site import Finding, Site
from geoagro.values.words import Sentence

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


@dataclass(frozen=True, eq=False)
class Known:
    """Names and places (n, 2) of the design, in the working CRS."""

    names: Texts
    xy: Floats


@dataclass(frozen=True, eq=False)
class Fit:
    """Easting and northing in the working CRS, what is to be said of them, and the repair that was needed, if one was."""

    x: Floats
    y: Floats
    findings: tuple[Finding, ...] = ()
    repairs: frozenset[str] = frozenset()


def fitted(
    numbers: Numbers,
    site: Site,
    *,
    where: str,
    repairs: tuple[str, ...] = (),
    several: bool = False,
    names: Texts | None = None,
    places: Callable[[], Known] | None = None,
) -> Fit:
    """Bring the points of a file into the working CRS, with the repair that is asked for.

    `names` of the points and `places` of the design tell apart mistakes that both would put the points at the field. Among
    `several` files, one that lies at the field as it stands needs no repair: each has a device of its own.

    Raises
    ------
    InputError
        If most points lie more than 100 m outside the field; the message names the mistake that would explain
        it. Or if the repair asked for doesn't bring them there, or more than one of those does.
    """
    near = shapely.buffer(site.boundary, NEAR_M)
    shapely.prepare(near)
    if repairs:
        repaired = _repaired(numbers, site, near, where, repairs)
        if repaired is not None:
            return repaired
        if not several:
            raise InputError(
                f"{where}: repair '{repairs[0]}' doesn't bring the points to the field. Run without --repair to see what would."
            )
    share = _share_near(numbers, site, near)
    if share >= _FITS:
        x, y = transform_points(numbers.x, numbers.y, numbers.crs, site.crs)
        text = Sentence("lies at the field as it stands; nothing undone")
        return Fit(x, y, (Finding("note", where, text),) if repairs else ())
    judge = None if places is None else _judge(places(), site, names)
    said = f"{where}: {share:.0%} of {len(numbers.x)} points lie in the field or within {NEAR_M:.0f} m of it"
    raise _misplaced(numbers, site, near, f"{said}{_off(numbers, site)}.", judge)


def _repaired(numbers: Numbers, site: Site, near: Polygon, where: str, repairs: tuple[str, ...]) -> Fit | None:
    """Undo the one mistake of those asked for that brings the points to the field; None where none does."""
    best = [cure for name in repairs if (cure := _best(numbers, site, near, name)) is not None]
    if len(best) > 1:
        raise InputError(
            f"{where}: repair '{best[0].name}' brings the points to the field, and so does '{best[1].name}'. Ask for one of "
            "them; if another file needs the other, correct that file."
        )
    if not best:
        return None
    one = best[0]
    x, y = transform_points(one.numbers.x, one.numbers.y, one.numbers.crs, site.crs)
    told = Finding("repair", where, Sentence("{mistake}; undone, as asked for.", mistake=one.mistake))
    return Fit(x, y, (told,), frozenset([one.name]))


def _best(numbers: Numbers, site: Site, near: Polygon, repair: str) -> Cure | None:
    """Give the cure of this name that brings most points to the field, if it brings enough."""
    chosen = [cure for cure in cures(numbers, site) if cure.name == repair]
    best = max(chosen, key=lambda cure: _share_near(cure.numbers, site, near), default=None)
    return best if best is not None and _share_near(best.numbers, site, near) >= _FITS else None


def cures(numbers: Numbers, site: Site) -> Iterator[Cure]:
    """Undo common mistakes one at a time, the likeliest first."""
    x, y, crs = numbers.x, numbers.y, numbers.crs
    yield Cure("swapped", Sentence("east and north are swapped"), Numbers(y, x, crs))
    if is_metric(crs):
        for name, words, metres in (
            ("feet", Sentence("coordinates are in feet"), 0.3048),
            ("us-feet", Sentence("coordinates are in US survey feet"), 1200 / 3937),
        ):
            yield Cure(name, words, Numbers(x * metres, y * metres, crs))
        if crs.utm_zone:
            yield from _other_zones(numbers, crs.utm_zone)
    if bool(np.all((np.abs(x) <= 180) & (np.abs(y) <= 90))):
        yield Cure("degrees", Sentence("coordinates are longitude and latitude in degrees"), Numbers(x, y, WGS84))
        if crs.is_geographic:
            yield Cure("east-west", Sentence("longitude has the wrong sign"), Numbers(-x, y, crs))
            yield Cure("north-south", Sentence("latitude has the wrong sign"), Numbers(x, -y, crs))
    yield Cure("working", Sentence("coordinates are in {crs}", crs=name_of(site.crs)), Numbers(x, y, site.crs))


def _other_zones(numbers: Numbers, stated: str) -> Iterator[Cure]:
    zone, south = int(stated[:-1]), stated.endswith("S")
    for step in (-1, 1, -2, 2):
        other = (zone + step - 1) % 60 + 1
        crs = CRS.from_epsg((32700 if south else 32600) + other)
        words = Sentence("the UTM zone is {zone}, not {stated}", zone=f"{other}{'S' if south else 'N'}", stated=stated)
        yield Cure("zone", words, replace(numbers, crs=crs))
    words = Sentence("the UTM zone is {zone}, not {stated}", zone=f"{zone}{'N' if south else 'S'}", stated=stated)
    yield Cure("zone", words, replace(numbers, crs=CRS.from_epsg((32600 if south else 32700) + zone)))


def _share_near(numbers: Numbers, site: Site, near: Polygon) -> float:
    try:
        x, y = transform_points(numbers.x, numbers.y, numbers.crs, site.crs)
    except CrsError:
        return 0.0
    return float(shapely.contains_xy(near, x, y).mean())


def _judge(known: Known, site: Site, names: Texts | None) -> Callable[[Numbers], float]:
    """Make a judge of repairs: the median distance of the points from their named places, or else from the nearest."""
    at = {str(name): place for name, place in zip(known.names, known.xy, strict=True)}
    own = [at.get(str(name)) for name in (names if names is not None else [])]
    named = np.array([k for k, place in enumerate(own) if place is not None], dtype=np.int64)
    tree = cKDTree(known.xy)

    def away(numbers: Numbers) -> float:
        xy = np.column_stack(transform_points(numbers.x, numbers.y, numbers.crs, site.crs))
        if 2 * len(named) >= len(xy):
            return float(np.median(np.hypot(*(xy[named] - np.array([own[k] for k in named])).T)))
        return float(np.median(np.asarray(tree.query(xy)[0])))

    return away


def _misplaced(
    numbers: Numbers, site: Site, near: Polygon, said: str, judge: Callable[[Numbers], float] | None
) -> InputError:
    fitting: dict[str, tuple[str, Cure]] = {}
    for cure in cures(numbers, site):
        cured = _share_near(cure.numbers, site, near)
        if cured >= _CURED and cure.name not in fitting:
            fitting[cure.name] = (f"if {cure.mistake}, {cured:.0%} would (--repair {cure.name})", cure)
    if fitting:
        check = _told_apart([cure for _, cure in fitting.values()], judge) if len(fitting) > 1 else ""
        words = "; or ".join(text for text, _ in fitting.values())
        return InputError(f"{said} But {words}. Correct the file, or run again with that option.{check}")
    return InputError(
        f"{said} Swapped axes, feet, another UTM zone, degrees or a wrong sign don't explain it. State the right CRS "
        "with --crs, or check that this is the survey of this field."
    )


def _told_apart(cures: list[Cure], judge: Callable[[Numbers], float] | None) -> str:
    """Say which of several repairs fits the places of the design best, if one does clearly."""
    if judge is None:
        return " Check a known point to tell which."
    away = sorted((judge(cure.numbers), cure.name) for cure in cures)
    told = ", ".join(f"{metres:.2f} m with {name}" for metres, name in away)
    best = f" So it is {away[0][1]}." if away[0][0] < 0.5 * away[1][0] else " Check a known point to tell which."
    return f" Half of the points then lie nearer to places of the design than {told}.{best}"


def _off(numbers: Numbers, site: Site) -> str:
    try:
        x, y = transform_points(numbers.x, numbers.y, numbers.crs, site.crs)
    except CrsError:
        return ""
    away = shapely.distance(site.boundary, shapely.points(np.median(x), np.median(y)))
    return f" (their middle is {away / 1000:,.1f} km away)"
