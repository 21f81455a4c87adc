"""Features as they stand in a file: geometries, their attributes and their CRS."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from geoagro.arrays import Ints, Shapes
from geoagro.crs import name_of, transform_geometries
from geoagro.errors import CrsError, InputError
from geoagro.values.site import Finding, Level
from geoagro.values.words import Sentence

Nature = Literal["drawn", "walked", "listed"]


@dataclass(frozen=True, eq=False)
class Features:
    """What was read from one file.

    Attributes
    ----------
    where
        Key and file, for messages: "inputs.boundary (field.gpkg)".
    geometries
        Array of shapely geometries, without collections; z as in the file.
    table
        Attributes, one line per geometry.
    crs
        CRS of the coordinates.
    nature
        "walked" for GPS tracks, which don't close by themselves; "listed" for points in the order of a
        list, which may stand for the corners of a field; else "drawn".
    nested_are_holes
        True where the format can't draw holes (DXF), so that a ring within a ring is meant as one.
    findings
        What reading found.
    """

    where: str
    geometries: Shapes
    table: pd.DataFrame
    crs: CRS
    nature: Nature = "drawn"
    nested_are_holes: bool = False
    findings: tuple[Finding, ...] = ()

    def finding(self, level: Level, text: str) -> Finding:
        """Make a finding about this file."""
        return Finding(level, self.where, text)

    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east, north in the file's CRS."""
        west, south, east, north = (float(v) for v in shapely.total_bounds(self.geometries))
        return west, south, east, north

    def flat_in(self, crs: CRS) -> Shapes:
        """Geometries without z in another CRS."""
        return transform_geometries(shapely.force_2d(self.geometries), self.crs, crs)

    def kinds(self) -> str:
        """Count geometries by type, in words."""
        names, counts = np.unique([g.geom_type for g in self.geometries], return_counts=True)
        return ", ".join(f"{n} {name}" for name, n in zip(names, counts, strict=True))


def cleaned(features: Features) -> Features:
    """Take collections apart, drop features without geometry (reported), refuse none and impossible coordinates."""
    geometries = np.asarray(features.geometries, dtype=object)
    missing = shapely.is_missing(geometries) | shapely.is_empty(geometries)
    findings = features.findings
    if missing.any():
        text = Sentence("{n} {n:feature|features} without geometry left out", n=int(missing.sum()))
        findings += (features.finding("repair", text),)
    parts, index = _without_collections(geometries[~missing])
    if len(parts) == 0:
        raise InputError(f"{features.where}: holds no geometry. Name the right file, `layer` or `where`.")
    table = features.table[~missing].iloc[index].reset_index(drop=True)
    result = replace(features, geometries=parts, table=table, findings=findings)
    _check_coordinates(result)
    return result


def _without_collections(geometries: Shapes) -> tuple[Shapes, Ints]:
    index = np.arange(len(geometries))
    while len(geometries) and (shapely.get_type_id(geometries) == shapely.GeometryType.GEOMETRYCOLLECTION).any():
        geometries, inner = shapely.get_parts(geometries, return_index=True)
        index = index[inner]
    return geometries, index


def refuse_endless(geometries: Shapes, *, where: str) -> None:
    """Raise InputError where a coordinate isn't a finite number, naming the first feature that has one."""
    xy, index = shapely.get_coordinates(geometries, return_index=True)
    endless = ~np.isfinite(xy).all(axis=1)
    if endless.any():
        raise InputError(
            f"{where}: {int(endless.sum())} corner(s) or point(s) have coordinates that aren't finite numbers, the first of "
            f"them in feature {int(index[endless.argmax()]) + 1}. Put the feature right, or draw it again."
        )


def _check_coordinates(features: Features) -> None:
    refuse_endless(features.geometries, where=features.where)
    west, south, east, north = features.bounds()
    if not features.crs.is_geographic:
        return
    extent = f"x {west:.6g} to {east:.6g}, y {south:.6g} to {north:.6g}"
    if max(abs(west), abs(east)) > 360 or max(abs(south), abs(north)) > 360:
        raise CrsError(
            f"{features.where}: is said to be in degrees ({name_of(features.crs)}), but holds {extent}. The "
            "coordinates look projected; state their real CRS in the file."
        )
    if max(abs(south), abs(north)) > 90:
        raise CrsError(
            f"{features.where}: latitude can't be above 90 degrees, but the file holds {extent}. Longitude and "
            "latitude look swapped; x is longitude, y latitude."
        )


def empty_table(count: int) -> pd.DataFrame:
    """Make a table with no columns, for geometries without attributes."""
    return pd.DataFrame(index=range(count))
