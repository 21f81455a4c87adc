"""Read the field: choose the working CRS, then bring boundary and drawings into it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import shapely
from pyproj import CRS
from shapely import LineString, MultiPolygon

from geoagro.crs import (
    WorkingCrs,
    choose_working_crs,
    inside_area_of_use,
    name_of,
    parse_crs,
    to_lonlat,
)
from geoagro.inputs.crs_words import crs_words, datum_doubt
from geoagro.inputs.files import checksums, find_file, reading, vector_parts
from geoagro.inputs.raster.file import raster_crs, raster_source_files
from geoagro.inputs.vector import drawn
from geoagro.inputs.vector.boundary import read_boundary
from geoagro.inputs.vector.drawn_rows import drawn_rows, only_where
from geoagro.inputs.vector.features import Features
from geoagro.inputs.vector.file import read_features, source_files, vector_crs
from geoagro.planar.area_error import writing_sd
from geoagro.planar.margins import grown
from geoagro.values.base.findings import tell
from geoagro.values.design import Design, RasterSource, VectorSource
from geoagro.values.places import NamedArea
from geoagro.values.site import DrawnRows, Exclusion, Finding, Site, SourceFile
from geoagro.values.words import Sentence


def read_site(design: Design) -> Site:
    """Read boundary, exclusions, tracks, guides and outlet of a design into one working CRS.

    The working CRS is inputs.working_crs, or that of the raster (so that it needn't be resampled) or of the
    boundary if it is projected, in metres and true to scale here, else the UTM zone. Doubts about the files are
    warned of (FindingWarning), and all findings stand in the value.

    Raises
    ------
    InputError, CrsError
        With key and file, where something is missing, unreadable or not what it should be.

    >>> from pathlib import Path
    >>> from geoagro import read_design, read_site, write_example
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     site = read_site(read_design(write_example(Path(folder))))
    >>> site.crs.to_epsg(), round(site.boundary.area)  # longitude and latitude come in metres
    (32633, 2703)
    """
    boundary = read_features(design.inputs.boundary, key="inputs.boundary", folder=design.folder)
    with reading(boundary.where):
        lon, lat = _middle(boundary)
    chosen = _working_crs(design, boundary, lon, lat)
    with reading(boundary.where):
        area, findings = read_boundary(boundary, chosen.crs)
    findings = (
        Finding("note", "working CRS", crs_words(chosen)),
        *findings,
        *_place_doubts(boundary, chosen.crs, lon, lat),
    )
    exclusions, found = _exclusions(design, chosen.crs, area)
    water = _water_bodies(design, chosen.crs)
    wet, wet_findings = _water_setbacks(design, water, area)
    guides, guide_findings = _guides(design, chosen.crs)
    areas, area_findings = _areas(design, chosen.crs, area)
    rows, row_findings = _rows(design, chosen.crs)
    site = Site(
        name=design.name,
        boundary=area,
        exclusions=(*exclusions, *wet),
        guides=guides,
        crs=chosen.crs,
        findings=(*findings, *found, *wet_findings, *guide_findings, *area_findings, *row_findings),
        areas=areas,
        sources=_sources(design),
        outlet=_outlet(design, chosen.crs),
        drawn=rows,
        outlets=_outlets(design, chosen.crs),
        water_bodies=shapely.union_all([shape for _, shape in water]) if water else None,
        latitude_deg=lat,
        area_sd_m2=writing_sd(area, design.report.boundary_error_m, correlation_m=design.report.boundary_correlation_m),
    )
    tell(site.findings)
    return site


def _middle(features: Features) -> tuple[float, float]:
    west, south, east, north = features.bounds()
    lon, lat = to_lonlat((west + east) / 2, (south + north) / 2, features.crs)
    return float(lon), float(lat)


def _working_crs(design: Design, boundary: Features, lon: float, lat: float) -> WorkingCrs:
    forced = design.inputs.working_crs
    candidates: list[tuple[str, CRS]] = []
    key, ground = design.inputs.ground()
    if isinstance(ground, RasterSource):
        crs = raster_crs(ground, key=f"inputs.{key}", folder=design.folder)
        candidates.append((f"the {key} raster", crs))
    candidates.append(("the boundary", boundary.crs))
    if isinstance(ground, VectorSource):
        candidates.append((f"the {key}", vector_crs(ground, key=f"inputs.{key}", folder=design.folder)))
    return choose_working_crs(
        candidates,
        lon=lon,
        lat=lat,
        forced=parse_crs(forced, where="inputs.working_crs") if forced is not None else None,
    )


def _place_doubts(features: Features, working: CRS, lon: float, lat: float) -> tuple[Finding, ...]:
    found = []
    if not inside_area_of_use(features.crs, lon, lat):
        text = Sentence(
            "lies at {lon:.4f} E {lat:.4f} N, outside the area that {crs} is meant for; check its CRS, and that x and y are not "
            "swapped",
            lon=lon,
            lat=lat,
            crs=name_of(features.crs),
        )
        found.append(features.finding("warning", text))
    doubt = datum_doubt(features.crs, working, lon=lon, lat=lat)
    if doubt is not None:
        found.append(features.finding("warning", doubt))
    return tuple(found)


def _exclusions(design: Design, crs: CRS, boundary: MultiPolygon) -> tuple[tuple[Exclusion, ...], tuple[Finding, ...]]:
    kept: list[Exclusion | None] = []
    findings: list[Finding] = []
    for number, source in enumerate(design.inputs.exclusions, start=1):
        features = read_features(source, key=f"inputs.exclusions[{number}]", folder=design.folder)
        with reading(features.where):
            one, found = drawn.exclusion(features, source, crs=crs, boundary=boundary)
        kept.append(one)
        findings += found
    for number, road in enumerate(design.inputs.tracks, start=1):
        features = read_features(road, key=f"inputs.tracks[{number}]", folder=design.folder)
        with reading(features.where):
            one, found = drawn.track(features, road, crs=crs, boundary=boundary)
        kept.append(one)
        findings += found
    return tuple(one for one in kept if one is not None), tuple(findings)


def _guides(design: Design, crs: CRS) -> tuple[tuple[LineString, ...], tuple[Finding, ...]]:
    lines: list[LineString] = []
    findings: list[Finding] = []
    for number, source in enumerate(design.inputs.guides, start=1):
        features = read_features(source, key=f"inputs.guides[{number}]", folder=design.folder)
        with reading(features.where):
            lines += drawn.guide_lines(features, crs=crs)
        findings += features.findings
    return tuple(lines), tuple(findings)


def _areas(design: Design, crs: CRS, boundary: MultiPolygon) -> tuple[tuple[NamedArea, ...], tuple[Finding, ...]]:
    areas: list[NamedArea] = []
    findings: list[Finding] = []
    for number, source in enumerate(design.inputs.areas, start=1):
        features = read_features(source, key=f"inputs.areas[{number}]", folder=design.folder)
        one, found = drawn.named_area(features, source, crs=crs, boundary=boundary)
        areas.append(one)
        findings += found
    return tuple(areas), tuple(findings)


def _rows(design: Design, crs: CRS) -> tuple[DrawnRows | None, tuple[Finding, ...]]:
    if design.inputs.rows is None:
        return None, ()
    features = read_features(design.inputs.rows, key="inputs.rows", folder=design.folder)
    rows, findings = drawn_rows(features, crs=crs)
    if design.rows.only_where is None:
        return rows, findings
    around = read_features(design.rows.only_where, key="rows.only_where", folder=design.folder)
    area, found = only_where(around, crs=crs)
    return replace(rows, only_where=area), (*findings, *found)


def _outlet(design: Design, crs: CRS) -> Any | None:
    if design.rows.outlet is None:
        return None
    return drawn.outlet(read_features(design.rows.outlet, key="rows.outlet", folder=design.folder), crs=crs)


def _outlets(design: Design, crs: CRS) -> Any | None:
    drawn_ones = [
        drawn.outlet(read_features(source, key=f"inputs.outlets[{number}]", folder=design.folder), crs=crs)
        for number, source in enumerate(design.inputs.outlets, start=1)
    ]
    return shapely.union_all(drawn_ones) if drawn_ones else None


def _water_bodies(design: Design, crs: CRS) -> list[tuple[str, Any]]:
    """Name and drawn geometry of each source of open water."""
    return [
        (
            source.name,
            drawn.outlet(read_features(source, key=f"inputs.water_bodies[{k}]", folder=design.folder), crs=crs),
        )
        for k, source in enumerate(design.inputs.water_bodies, start=1)
    ]


def _water_setbacks(
    design: Design, water: list[tuple[str, Any]], boundary: MultiPolygon
) -> tuple[list[Exclusion], list[Finding]]:
    """Ground kept off open water, as exclusions; water too far away to matter is told."""
    reach = design.ground.water_setback_m
    kept, findings = [], []
    for name, shape in water:
        area = grown(shape, reach) if reach > 0 else shape
        parts = [part for part in shapely.get_parts(area) if part.geom_type == "Polygon" and part.intersects(boundary)]
        if parts:
            kept.append(Exclusion(name, "exclusion", MultiPolygon(parts), reach))
        else:
            text = Sentence(
                "'{name}' lies {distance:.0f} m from the field; its setback keeps nothing free",
                name=name,
                distance=shape.distance(boundary),
            )
            findings.append(Finding("note", "inputs.water_bodies", text))
    return kept, findings


def _files(design: Design) -> Iterator[tuple[str, VectorSource | RasterSource]]:
    """Every vector file with its key, then every raster."""
    given = list(design.inputs.files())
    yield from ((key, source) for key, source in given if isinstance(source, VectorSource))
    for key in ("outlet", "only_where"):
        source = getattr(design.rows, key)
        if source is not None:
            yield f"rows.{key}", source
    yield from ((key, source) for key, source in given if isinstance(source, RasterSource))


def named_files(design: Design) -> tuple[Path, ...]:
    """Every file that a design names, with the parts that belong to it, whether it is there or not."""
    files = [source.file for _, source in _files(design)]
    paths = [design.folder / file.expanduser() for file in (*design.recipes, *files)]
    return tuple(part for path in paths for part in (vector_parts(path) if path.exists() else [path]))


def _sources(design: Design) -> tuple[SourceFile, ...]:
    told: list[SourceFile] = []
    for number, recipe in enumerate(design.recipes, start=1):
        path = find_file(recipe, folder=design.folder, key=f"recipes[{number}]")
        told += checksums("recipe", recipe, path, [path])
    for key, source in _files(design):
        if isinstance(source, VectorSource):
            told += source_files(source, key=key, folder=design.folder)
        else:
            told += raster_source_files(source, key=key, folder=design.folder)
    return tuple(told)
