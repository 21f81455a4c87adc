"""Where the parts of a field are, as public rules on deforestation and restoration ask: GeoJSON in WGS 84.

RFC 7946: longitude before latitude, outer rings counter-clockwise and holes clockwise, rings closed. Seven
decimals (about 1 cm), also where the last are zeros; the rules ask for at least six, and GDAL's writer drops zeros at
the end, so the outlines are written here.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from geoagro.arrays import Shapes
from geoagro.crs import WGS84, transform_geometries
from geoagro.errors import OutputError
from geoagro.reports.records.account import Account
from geoagro.values.words import halves_up

DECIMALS = 7
_STEP = 10.0**-DECIMALS


def write_parts(accounts: Sequence[tuple[str, Account]], path: Path) -> None:
    """Write one feature per part of each account; the text before an account goes before its parts' ids.

    Raises
    ------
    OutputError
        Where a part crosses the 180th meridian, or isn't a valid polygon once rounded.
    """
    features = [feature for prefix, account in accounts for feature in _features(prefix, account)]
    body = ",\n".join(features)
    path.write_text(f'{{"type": "FeatureCollection", "features": [\n{body}\n]}}\n', encoding="utf-8")


def write_field_outlines(fields: Any, outlines: Any, path: Path) -> None:
    """Write one feature per separate part of each field, from outlines in longitude and latitude.

    Areas are those of whole fields on the ellipsoid, under a name that says so. Raises OutputError as `write_parts`.
    """
    parts, owner = shapely.get_parts(outlines, return_index=True)
    features = []
    for number, shape in zip(owner.tolist(), lonlat(parts, WGS84, "a field"), strict=True):
        row = fields.iloc[number]
        properties = {
            "field": row["field"],
            "field_geodesic_ha": halves_up(row["field_geodesic_m2"] / 10_000, 4),
            "field_geodesic_m2": halves_up(row["field_geodesic_m2"], 1),
            "plants": int(row["plants"]),
            "trees": int(row["trees"]),
        }
        features.append(
            f'{{"type": "Feature", "properties": {json.dumps(properties, ensure_ascii=False)}, '
            f'"geometry": {{"type": "Polygon", "coordinates": {coordinates_text(shape)}}}}}'
        )
    body = ",\n".join(features)
    path.write_text(f'{{"type": "FeatureCollection", "features": [\n{body}\n]}}\n', encoding="utf-8")


def _features(prefix: str, account: Account) -> Iterator[str]:
    shapes = lonlat(account.parts.geometry.to_numpy(), account.parts.crs, account.name)
    for row, shape in zip(account.parts.itertuples(index=False), shapes, strict=True):
        properties = {
            "part": f"{prefix}{row.part}",
            "field": account.name,
            "geodesic_area_ha": halves_up(row.geodesic_area_m2 / 10_000, 4),
            "geodesic_area_m2": row.geodesic_area_m2,
            "area_m2": row.area_m2,
            "plants": int(row.plants),
            "trees": int(row.trees),
        }
        yield (
            f'{{"type": "Feature", "properties": {json.dumps(properties, ensure_ascii=False)}, '
            f'"geometry": {{"type": "Polygon", "coordinates": {coordinates_text(shape)}}}}}'
        )


def lonlat(polygons: Shapes, crs: Any, name: str) -> Any:
    """Bring polygons to WGS 84, rounded, each ring turned as RFC 7946 asks."""
    moved = transform_geometries(polygons, crs, WGS84)
    rounded = shapely.transform(moved, lambda points: np.round(points, DECIMALS))
    rounded = shapely.orient_polygons(shapely.set_precision(rounded, _STEP, mode="valid_output"), exterior_cw=False)
    west, _, east, _ = shapely.total_bounds(rounded)
    if east - west > 180:
        raise OutputError(f"{name}: the field crosses the 180th meridian, where GeoJSON must be cut; split the field.")
    if (shapely.get_type_id(rounded) != shapely.GeometryType.POLYGON).any() or not shapely.is_valid(rounded).all():
        raise OutputError(
            f"{name}: a part of the field is thinner than {_STEP:g} degrees (about 1 cm) somewhere, so its outline crosses itself "
            "once rounded; draw the boundary wider there."
        )
    return rounded


def coordinates_text(polygon: Any) -> str:
    """Write a polygon's rings with fixed decimals.

    >>> coordinates_text(shapely.box(0, 0, 1, 1)).startswith("[[[1.0000000, 0.0000000], [1.0000000, 1.0000000]")
    True
    """
    rings = (shapely.get_coordinates(ring) for ring in shapely.get_rings(polygon))
    written = (", ".join(f"[{x:.{DECIMALS}f}, {y:.{DECIMALS}f}]" for x, y in ring) for ring in rings)
    return "[" + ", ".join(f"[{ring}]" for ring in written) + "]"
