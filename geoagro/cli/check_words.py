"""What was found in a design's files, in words and numbers, for a person to look over before the layout."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

import numpy as np
from numpy.typing import NDArray
from rasterio import Affine
from rasterio.features import geometry_mask
from scipy import ndimage

from geoagro.arrays import Floats
from geoagro.crs import geodesic_area_m2, to_lonlat
from geoagro.values.design import Design
from geoagro.values.grid import Grid
from geoagro.values.ground import Ground
from geoagro.values.measures import hectares_text
from geoagro.values.reasons import reason_of
from geoagro.values.recipe import Crop
from geoagro.values.site import Finding, Site
from geoagro.values.terrain import Difficulty, GroundSource, Terrain
from geoagro.values.words import english_number

SLOPE_EDGES_PCT = (0.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, np.inf)
_BAR = 40
_WIDTH = 110
_HEADINGS = {"repair": "Changed while reading", "warning": "Look at", "note": "Notes"}


def describe_site(design: Design, site: Site) -> list[str]:
    """Lines about the place, the areas and what is drawn on the field."""
    return list(_facts(_site_facts(design, site)))


def describe_crops(crops: Mapping[str, Crop], design: Design) -> list[str]:
    """Lines about what is planted where, and what own crops take from the crop that they are like."""
    beds = Counter(planting.bed for planting in design.plantings)
    kinds = ", ".join(f"{n} in {bed} beds" for bed, n in beds.items())
    taken = [
        f"{code}: {', '.join(crop.inherited) or 'nothing'} as in {crop.like}"
        for code, crop in crops.items()
        if crop.like
    ]
    facts = [("plantings", kinds or "none"), ("crops", ", ".join(crops) or "none")]
    return list(_facts([*facts, *([("taken over", "; ".join(taken))] if taken else [])]))


def describe_ground(site: Site, source: GroundSource) -> list[str]:
    """Lines about the ground as it was read: cells, heights, and what is missing inside the field."""
    return list(_facts(_ground_facts(site, source)))


def describe_slope(design: Design, site: Site, terrain: Terrain) -> list[str]:
    """Lines about the slope inside the field: percentiles and a histogram by share of the area."""
    slope = 100.0 * known_in_field(terrain.slope, site)
    if len(slope) == 0:
        return ["slope         unknown inside the field"]
    low, middle, high = np.percentile(slope, (5, 50, 95))
    spread = f"median {middle:.1f} %; nine tenths of the field between {low:.1f} and {high:.1f} %"
    steep = float((slope > design.ground.max_slope_pct).mean()) * 100
    facts = [
        ("slope", f"{spread}; steepest {slope.max():.1f} %"),
        (
            "too steep",
            f"{steep:.1f} % of the field is steeper than ground.max_slope_pct {design.ground.max_slope_pct:g}",
        ),
        ("smoothing", f"{terrain.smoothing_m:.1f} m (standard deviation) before slope is taken"),
    ]
    return [*_facts(facts), *histogram(slope)]


def describe_plantable(ground: Ground, sd_m2: float) -> list[str]:
    """Lines about the ground that may be planted and what takes the rest; `sd_m2` is that of the field's area."""
    whole = ground.boundary.area
    lost = ground.unplanted.groupby("reason", sort=False)["area_m2"].sum().sort_values(ascending=False)
    taken = ", ".join(f"{reason_of(str(code)).words.lower()} {english_number(area)} m²" for code, area in lost.items())
    share = 100.0 * ground.plantable.area / whole
    plantable = f"{hectares_text(ground.plantable.area, sd_m2)} ({share:.1f} %) before rows are laid"
    return list(_facts([("plantable", plantable), ("not planted", taken or "nothing")]))


def describe_difficulty(difficulty: Difficulty) -> list[str]:
    """Lines about which limit of the rows the ground will reach first."""
    return list(_facts([("for rows", difficulty.sentence)]))


def describe_findings(findings: Iterable[Finding]) -> list[str]:
    """Lines about what was changed while reading, and what to look at."""
    lines: list[str] = []
    told = list(dict.fromkeys(f for f in findings if f.where != "working CRS"))
    for level, heading in _HEADINGS.items():
        found = [f for f in told if f.level == level]
        if found:
            lines += ["", f"{heading}:", *(f"  {f.where}: {f.text}" for f in found)]
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


def histogram(slope_pct: Floats) -> list[str]:
    """Text bars of the share of the field in each class of slope, up to the steepest class that occurs.

    >>> histogram(np.array([1.0, 1.0, 1.0, 3.0]))[0].split()
    ['0', '-', '2', '%', '##############################', '75.0', '%']
    """
    counts, _ = np.histogram(slope_pct, bins=SLOPE_EDGES_PCT)
    share = counts / counts.sum()
    lines = []
    for i in range(int(np.nonzero(counts)[0].max()) + 1):
        low, high = SLOPE_EDGES_PCT[i : i + 2]
        label = f"{low:3.0f} -{high:3.0f} %" if np.isfinite(high) else f"over{low:3.0f} %"
        lines.append(f"    {label:<10} {'#' * round(share[i] * _BAR):<{_BAR}} {share[i] * 100:5.1f} %")
    return lines


def _facts(facts: Iterable[tuple[str, str]]) -> Iterator[str]:
    for name, text in facts:
        first, *more = textwrap.wrap(text, _WIDTH - 14) or [""]
        yield f"{name:<13} {first}"
        yield from (f"{'':<13} {line}" for line in more)


def _site_facts(design: Design, site: Site) -> Iterator[tuple[str, str]]:
    yield "field", site.name
    for finding in site.findings:
        if finding.where == "working CRS":
            yield "CRS", finding.text
    point = site.boundary.representative_point()
    lon, lat = to_lonlat(point.x, point.y, site.crs)
    yield "place", f"{_degrees(float(lat), 'NS')}, {_degrees(float(lon), 'EW')}"
    yield "area", _area(site)
    yield "boundary", _shape(site)
    for one in site.exclusions:
        inside = one.area.intersection(site.boundary).area
        size = f"{2 * one.buffer_m:g} m wide" if one.kind == "track" else f"{one.buffer_m:g} m kept free around it"
        yield one.kind, f"'{one.name}', {size}, {english_number(inside)} m² of the field"
    if site.guides:
        yield "guides", ", ".join(f"{line.length:.0f} m" for line in site.guides)
    if site.outlet is not None:
        yield "outlet", f"{site.outlet.geom_type}, {site.outlet.distance(site.boundary):.0f} m from the field"
    yield "rows", f"{design.rows.method}, every {design.rows.spacing_m:g} m"


def _degrees(value: float, sides: str) -> str:
    """Write degrees with the side of the equator or the first meridian.

    >>> _degrees(-15.5, "NS")
    '15.500000 S'
    """
    return f"{abs(value):.6f} {sides[0] if value >= 0 else sides[1]}"


def _area(site: Site) -> str:
    plane, geodesic = site.boundary.area, geodesic_area_m2(site.boundary, site.crs)
    told = f"{english_number(plane)} m² on the map plane, {english_number(geodesic)} m² on the ellipsoid"
    return f"{hectares_text(plane, site.area_sd_m2)}: {told}"


def _shape(site: Site) -> str:
    parts = site.boundary.geoms
    holes = sum(len(part.interiors) for part in parts)
    return f"{len(parts)} part(s), {holes} hole(s), perimeter {site.boundary.length:.0f} m"


def _ground_facts(site: Site, source: GroundSource) -> Iterator[tuple[str, str]]:
    yield "ground", source.description
    if source.contours is not None:
        heights = source.contours["elevation_m"]
        yield (
            "contours",
            (f"{len(heights)} line(s), {heights.nunique()} level(s) from {heights.min():g} to {heights.max():g} m"),
        )
    grid = source.heights if source.heights is not None else source.slope
    if grid is None:
        return
    yield from _cell_facts(site, grid)
    known = known_in_field(grid, site)
    if source.heights is not None and len(known):
        yield "heights", f"{known.min():.2f} to {known.max():.2f} m in the field ({np.ptp(known):.2f} m apart)"
    if source.slope is not None:
        yield "aspect", "given" if source.aspect_deg is not None else "not given: slope carries no direction"


def _cell_facts(site: Site, grid: Grid) -> Iterator[tuple[str, str]]:
    inside = cells_inside(grid, site)
    unknown = inside & ~np.isfinite(grid.values)
    share = 100.0 * unknown.sum() / max(int(inside.sum()), 1)
    yield "cells", f"{grid.cell_m:g} m wide, {int(inside.sum())} in the field, {share:.2f} % of them without data"
    for text in largest_gaps(grid, unknown):
        yield "gap", text


def largest_gaps(grid: Grid, unknown: NDArray[np.bool_], most: int = 5) -> list[str]:
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
        told.append(
            f"around {x:.0f} E {y:.0f} N ({_degrees(float(lat), 'NS')}, {_degrees(float(lon), 'EW')}): {english_number(sizes[label] * grid.cell_m**2)} m², "
            f"{width * grid.cell_m:.0f} m wide and {height * grid.cell_m:.0f} m high"
        )
    if count > most:
        told.append(f"and {count - most} more")
    return told
