"""What was found in a design's files, in words and numbers, for a person to look over before the layout."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

import numpy as np
from numpy.typing import NDArray
from rasterio import Affine
from rasterio.features import geometry_mask
from scipy import ndimage

from geoagro.arrays import Floats
from geoagro.cli.columns import broken
from geoagro.crs import geodesic_area_m2, to_lonlat
from geoagro.outputs.report.cell_words import about_words
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.design import Design
from geoagro.values.grid import Grid
from geoagro.values.ground import Ground
from geoagro.values.reasons import reason_of
from geoagro.values.recipe import Crop
from geoagro.values.rules.bed_kinds import BED_KINDS
from geoagro.values.site import Exclusion, Finding, Site
from geoagro.values.terrain import Difficulty, GroundSource, Terrain
from geoagro.values.words import meant, say

SLOPE_EDGES_PCT = (0.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, np.inf)
_BAR = 40
_NORTH_SOUTH = (say("{degrees:.6f} N"), say("{degrees:.6f} S"))
_EAST_WEST = (say("{degrees:.6f} E"), say("{degrees:.6f} W"))
_WIDTH = 110
_HEADINGS = {"repair": say("Changed while reading"), "warning": say("Look at"), "note": say("Notes")}
_METHODS = {
    "contour": say("along the contour"),
    "straight": meant("rows", "straight"),
    "guide": say("beside a guide"),
    "drawn": say("as drawn"),
}


def describe_site(design: Design, site: Site, words: Words = ENGLISH) -> list[str]:
    """Lines about the place, the areas and what is drawn on the field."""
    return list(_facts(_site_facts(design, site, words), words))


def describe_crops(crops: Mapping[str, Crop], design: Design, words: Words = ENGLISH) -> list[str]:
    """Lines about what is planted where, and what own crops take from the crop that they are like."""
    beds = Counter(planting.bed for planting in design.plantings)
    kinds = [words(say("{bed}: {n}"), bed=words(BED_KINDS[bed].many), n=n) for bed, n in beds.items()]
    none, nothing = words(say("none")), words(say("nothing"))
    taken = [
        words(
            say("{crop}: {keys} as in {other}"), crop=code, keys=", ".join(crop.inherited) or nothing, other=crop.like
        )
        for code, crop in crops.items()
        if crop.like
    ]
    facts = [
        (say("plantings"), ", ".join(kinds) or none),
        (say("crops"), words.crops(crop.name or code for code, crop in crops.items()) or none),
    ]
    return list(_facts([*facts, *([(say("taken over"), words.listed(taken))] if taken else [])], words))


def describe_ground(site: Site, source: GroundSource, words: Words = ENGLISH) -> list[str]:
    """Lines about the ground as it was read: cells, heights, and what is missing inside the field."""
    return list(_facts(_ground_facts(site, source, words), words))


def describe_slope(design: Design, site: Site, terrain: Terrain, words: Words = ENGLISH) -> list[str]:
    """Lines about the slope inside the field: percentiles and a histogram by share of the area."""
    slope = 100.0 * known_in_field(terrain.slope, site)
    if len(slope) == 0:
        return list(_facts([(say("slope"), words(say("unknown inside the field")))], words))
    low, middle, high = (float(one) for one in np.percentile(slope, (5, 50, 95)))
    spread = say(
        "median {middle:.1f} %; nine tenths of the field between {low:.1f} and {high:.1f} %; steepest {steepest:.1f} %"
    )
    steep = say("{share:.1f} % of the field is steeper than ground.max_slope_pct {most:g}")
    most = design.ground.max_slope_pct
    smoothing = say("{length:.1f} m (standard deviation) before slope is taken")
    facts = [
        (say("slope"), words(spread, middle=middle, low=low, high=high, steepest=float(slope.max()))),
        (say("too steep"), words(steep, share=100 * float((slope > most).mean()), most=most)),
        (say("smoothing"), words(smoothing, length=terrain.smoothing_m)),
    ]
    return [*_facts(facts, words), *histogram(slope, words)]


def describe_plantable(ground: Ground, sd_m2: float, words: Words = ENGLISH) -> list[str]:
    """Lines about the ground that may be planted and what takes the rest; `sd_m2` is that of the field's area."""
    lost = ground.unplanted.groupby("reason", sort=False)["area_m2"].sum().sort_values(ascending=False)
    one = say("{reason} {area:.0f} m²")
    taken = [
        words(one, reason=words(reason_of(str(code)).words).lower(), area=float(area)) for code, area in lost.items()
    ]
    plantable = words(
        say("{area} ha ({share:.1f} %) before rows are laid"),
        area=words.hectares(ground.plantable.area, sd_m2),
        share=100.0 * ground.plantable.area / ground.boundary.area,
    )
    told = ", ".join(taken) or words(say("nothing"))
    return list(_facts([(say("plantable"), plantable), (say("not planted"), told)], words))


def describe_difficulty(difficulty: Difficulty, words: Words = ENGLISH) -> list[str]:
    """Lines about which limit of the rows the ground will reach first."""
    return list(_facts([(say("for rows"), words.again(difficulty.sentence))], words))


def describe_findings(findings: Iterable[Finding], words: Words = ENGLISH) -> list[str]:
    """Lines about what was changed while reading, and what to look at."""
    lines: list[str] = []
    told = list(dict.fromkeys(f for f in findings if f.where != "working CRS"))
    line = say("{name}: {text}")
    for level, heading in _HEADINGS.items():
        found = [
            words(line, name=about_words(f.where, words), text=words.again(f.text)) for f in told if f.level == level
        ]
        if found:
            lines += ["", words(say("{head}:"), head=words(heading)), *(f"  {text}" for text in found)]
    return lines


def known_in_field(grid: Grid, site: Site) -> Floats:
    """Values of the cells whose centre lies in the field, without the unknown ones."""
    values: Floats = grid.values[cells_inside(grid, site)]
    return values[np.isfinite(values)]


def cells_inside(grid: Grid, site: Site) -> NDArray[np.bool_]:
    """Tell which cells have their centre in the field."""
    transform = Affine(grid.cell_m, 0.0, grid.west, 0.0, -grid.cell_m, grid.north)
    inside: NDArray[np.bool_] = geometry_mask([site.boundary], grid.values.shape, transform, invert=True)
    return inside


def histogram(slope_pct: Floats, words: Words = ENGLISH) -> list[str]:
    """Text bars of the share of the field in each class of slope, up to the steepest class that occurs.

    >>> histogram(np.array([1.0, 1.0, 1.0, 3.0]))[0].split()
    ['0', '-', '2', '%', '##############################', '75.0', '%']
    """
    counts, _ = np.histogram(slope_pct, bins=SLOPE_EDGES_PCT)
    share = counts / counts.sum()
    lines = []
    for i in range(int(np.nonzero(counts)[0].max()) + 1):
        low, high = SLOPE_EDGES_PCT[i : i + 2]
        percent = say("{number} %")
        label = (
            words(percent, number=f"{low:3.0f} -{high:3.0f}")
            if np.isfinite(high)
            else words(say("over {low:.0f} %"), low=low)
        )
        told = words(percent, number=words.number(share[i] * 100, 1).rjust(5))
        lines.append(f"    {label:<10} {'#' * round(share[i] * _BAR):<{_BAR}} {told}")
    return lines


def _facts(facts: Iterable[tuple[str, str]], words: Words) -> Iterator[str]:
    for name, text in facts:
        first, *more = broken(text, _WIDTH - 14) or [""]
        yield f"{words(name):<13} {first}"
        yield from (f"{'':<13} {line}" for line in more)


def _site_facts(design: Design, site: Site, words: Words) -> Iterator[tuple[str, str]]:
    yield say("field"), site.name
    for finding in site.findings:
        if finding.where == "working CRS":
            yield say("CRS"), words.again(finding.text)
    point = site.boundary.representative_point()
    lon, lat = to_lonlat(point.x, point.y, site.crs)
    yield say("place"), f"{_degrees(float(lat), _NORTH_SOUTH, words)}, {_degrees(float(lon), _EAST_WEST, words)}"
    yield say("area"), _area(site, words)
    yield say("boundary"), _shape(site, words)
    for one in site.exclusions:
        yield _drawn(one, site, words)
    if site.guides:
        yield say("guides"), ", ".join(words("{length:.0f} m", length=line.length) for line in site.guides)
    if site.outlet is not None:
        away = say("{shape}, {distance:.0f} m from the field")
        yield say("outlet"), words(away, shape=site.outlet.geom_type, distance=site.outlet.distance(site.boundary))
    every = say("{method}, every {spacing:g} m")
    yield say("rows"), words(every, method=words(_METHODS[design.rows.method]), spacing=design.rows.spacing_m)


def _drawn(one: Exclusion, site: Site, words: Words) -> tuple[str, str]:
    """Say what is drawn on the field, how wide it is, and what it takes of the field."""
    if one.kind == "track":
        kind, message = say("track"), say("'{name}', {width:g} m wide, {area:.0f} m² of the field")
    else:
        kind = say("exclusion")
        message = say("'{name}', {width:g} m kept free around it, {area:.0f} m² of the field")
    width = 2 * one.buffer_m if one.kind == "track" else one.buffer_m
    return kind, words(message, name=one.name, width=width, area=one.area.intersection(site.boundary).area)


def _degrees(value: float, sides: tuple[str, str], words: Words) -> str:
    """Write degrees with the side of the equator or the first meridian.

    >>> _degrees(-15.5, _NORTH_SOUTH, ENGLISH)
    '15.500000 S'
    """
    return words(sides[0] if value >= 0 else sides[1], degrees=abs(value))


def _area(site: Site, words: Words) -> str:
    message = say("{area} ha: {plane:.0f} m² on the map plane, {geodesic:.0f} m² on the ellipsoid")
    plane, geodesic = (round(area, 1) for area in (site.boundary.area, geodesic_area_m2(site.boundary, site.crs)))
    return words(message, area=words.hectares(plane, site.area_sd_m2), plane=plane, geodesic=geodesic)


def _shape(site: Site, words: Words) -> str:
    parts = site.boundary.geoms
    holes = sum(len(part.interiors) for part in parts)
    message = say("{parts} {parts:part|parts}, {holes} {holes:hole|holes}, perimeter {length:.0f} m")
    return words(message, parts=len(parts), holes=holes, length=site.boundary.length)


def _ground_facts(site: Site, source: GroundSource, words: Words) -> Iterator[tuple[str, str]]:
    yield meant("heights", "ground"), words.again(source.description)
    if source.contours is not None:
        heights = source.contours["elevation_m"]
        message = say("{n} {n:line|lines}, {levels} {levels:level|levels} from {low:g} to {high:g} m")
        told = {"n": len(heights), "levels": heights.nunique(), "low": heights.min(), "high": heights.max()}
        yield say("contours"), words(message, **told)
    grid = source.heights if source.heights is not None else source.slope
    if grid is None:
        return
    yield from _cell_facts(site, grid, words)
    known = known_in_field(grid, site)
    if source.heights is not None and len(known):
        message = say("{low:.2f} to {high:.2f} m in the field ({apart:.2f} m apart)")
        yield say("heights"), words(message, low=known.min(), high=known.max(), apart=np.ptp(known))
    if source.slope is not None:
        given = say("given") if source.aspect_deg is not None else say("not given: slope carries no direction")
        yield say("aspect"), words(given)


def _cell_facts(site: Site, grid: Grid, words: Words) -> Iterator[tuple[str, str]]:
    inside = cells_inside(grid, site)
    unknown = inside & ~np.isfinite(grid.values)
    share = 100.0 * unknown.sum() / max(int(inside.sum()), 1)
    message = say("{cell:g} m wide, {n} in the field, {share:.2f} % of them without data")
    yield say("cells"), words(message, cell=grid.cell_m, n=int(inside.sum()), share=share)
    for text in largest_gaps(grid, unknown, words):
        yield say("gap"), text


def largest_gaps(grid: Grid, unknown: NDArray[np.bool_], words: Words = ENGLISH, most: int = 5) -> list[str]:
    """Say where in the field data are missing, the largest places first."""
    labels, count = ndimage.label(unknown, structure=np.ones((3, 3)))
    if count == 0:
        return []
    sizes = np.bincount(labels.ravel())[1:]
    places = ndimage.find_objects(labels)
    told = []
    for label in np.argsort(-sizes, kind="stable")[:most]:
        rows, columns = places[label]
        height, width = (s.stop - s.start for s in (rows, columns))
        x, y = grid.x[columns].mean(), grid.y[rows].mean()
        lon, lat = to_lonlat(x, y, grid.known_crs)
        message = say(
            "around {x} E {y} N ({lat}, {lon}): {area:.0f} m², {width:.0f} m wide and {height:.0f} m from north to south"
        )
        told.append(
            words(
                message, x=f"{x:.0f}", y=f"{y:.0f}", lat=_degrees(float(lat), _NORTH_SOUTH, words),
                lon=_degrees(float(lon), _EAST_WEST, words), area=sizes[label] * grid.cell_m**2,
                width=width * grid.cell_m, height=height * grid.cell_m,
            )
        )  # fmt: skip
    if count > most:
        told.append(words(say("and {n} more"), n=count - most))
    return told
