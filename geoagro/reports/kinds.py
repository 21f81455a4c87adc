"""The field's area by kind of ground, measured once; every table and file shows these numbers."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from geoagro.crs import geodesic_area_m2
from geoagro.reports.areas import LEAST_KNOWN_SHARE, ground_areas
from geoagro.reports.records.kinds import ground_kind
from geoagro.values.beds import Beds
from geoagro.values.ground import Ground
from geoagro.values.site import Site
from geoagro.values.terrain import Terrain


@dataclass(frozen=True)
class Areas:
    """One area on the map plane, on the slope (NaN if slope is unknown) and on the ellipsoid, m2."""

    plan_m2: float
    ground_m2: float
    geodesic_m2: float

    def __add__(self, other: Areas) -> Areas:
        """Add, and round away what binary fractions leave."""
        return Areas(*(round(a + b, 1) for a, b in zip(self.triple, other.triple, strict=True)))

    def __neg__(self) -> Areas:
        """Turn the sign, for differences."""
        return Areas(*(-a for a in self.triple))

    @property
    def triple(self) -> tuple[float, float, float]:
        """Plan, ground, geodesic."""
        return self.plan_m2, self.ground_m2, self.geodesic_m2


NOTHING = Areas(0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Kind:
    """A kind of ground, the kind it is a part of (empty for the field), and its area."""

    item: str
    part_of: str
    areas: Areas

    @property
    def definition(self) -> str:
        """What is counted."""
        return ground_kind(self.item).definition


def measure_kinds(
    site: Site, terrain: Terrain, ground: Ground, beds: Beds, unplanted: pd.DataFrame
) -> tuple[Kind, ...]:
    """Measure the field and every part of it: field = excluded + plantable, plantable = beds + paths + rest.

    Each part is measured on its own and rounded to 0.1 m2; `excluded`, `plantable` and `unplanted` are sums
    of rounded figures, so they add up to the last digit. What overlaps or slivers leave shows as `difference`.
    """
    excluded = list(dict.fromkeys(ground.unplanted["reason"]))
    left = [reason for reason in dict.fromkeys(unplanted["reason"]) if reason not in set(excluded)]
    by_reason = {reason: unplanted.geometry[unplanted["reason"] == reason] for reason in (*excluded, *left)}
    shapes = {
        "field": gpd.GeoSeries([site.boundary], crs=site.crs),
        "tree_beds": beds.tree_beds.geometry,
        "vegetable_beds": beds.beds.geometry,
        "paths": beds.paths.geometry,
        **by_reason,
    }
    measured = dict(zip(shapes, measure(list(shapes.values()), terrain, site.crs), strict=True))
    return _tree(measured, excluded, left)


def _tree(measured: dict[str, Areas], excluded: list[str], left: list[str]) -> tuple[Kind, ...]:
    out = sum((measured[reason] for reason in excluded), NOTHING)
    rest = sum((measured[reason] for reason in left), NOTHING)
    plantable = measured["field"] + -out
    difference = plantable + -sum((measured[k] for k in ("tree_beds", "vegetable_beds", "paths")), rest)
    return (
        Kind("field", "", measured["field"]),
        Kind("excluded", "field", out),
        *(Kind(reason, "excluded", measured[reason]) for reason in excluded),
        Kind("plantable", "field", plantable),
        *(Kind(item, "plantable", measured[item]) for item in ("tree_beds", "vegetable_beds", "paths")),
        Kind("unplanted", "plantable", rest),
        *(Kind(reason, "unplanted", measured[reason]) for reason in left),
        Kind("difference", "plantable", difference),
    )


def measure(layers: list[gpd.GeoSeries], terrain: Terrain, crs: CRS) -> list[Areas]:
    """Measure each layer (GeoSeries) as a whole; the first is the field, which decides if slope is known."""
    whole = np.array([_one(layer) for layer in layers], dtype=object)
    slopes, known = ground_areas(whole, terrain.slope)
    if known[0] < LEAST_KNOWN_SHARE:
        slopes = np.full(len(whole), np.nan)
    geodesic = [0.0 if shape.is_empty else geodesic_area_m2(shape, crs) for shape in whole]
    columns = np.round(np.column_stack([shapely.area(whole), slopes, geodesic]), 1)
    return [Areas(*row) for row in columns.tolist()]


def _one(layer: gpd.GeoSeries) -> BaseGeometry:
    """All polygons of a layer as one; areas add up even if two of them touch."""
    parts = shapely.get_parts(np.asarray(layer, dtype=object))
    return MultiPolygon(list(parts[~shapely.is_empty(parts)]))
