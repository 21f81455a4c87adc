"""The store of many fields that `geoagro batch` wrote: read and added up by a database engine, part by part."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import shapely

from geoagro.crs import WGS84
from geoagro.errors import InputError

FIELDS, CROPS = "fields", "crops"
_FIELDS_SQL = """
    SELECT field, folder, status, problem, field_m2, field_geodesic_m2, plantable_m2, planted_m2, trees, plants, crops, rows,
           row_length_m, trees_per_ha_planted, crs, geometry
    FROM read_parquet(?) ORDER BY field
"""
_CROPS_SQL = """
    SELECT crop, any_value(name ORDER BY field) AS name, any_value(habit ORDER BY field) AS habit, count(*) AS fields,
           sum(plants)::BIGINT AS plants, round(sum(share_area_m2), 1) AS share_area_m2
    FROM read_parquet(?) GROUP BY crop ORDER BY share_area_m2 DESC, crop
"""


@dataclass(frozen=True, eq=False)
class Store:
    """What the store holds: a line per field (outline in longitude and latitude), and crops added up over all."""

    fields: gpd.GeoDataFrame
    crops: pd.DataFrame


def is_store(folder: Path) -> bool:
    """Tell whether a folder is one that `geoagro batch` wrote its store into."""
    return (folder / FIELDS).is_dir() and (folder / CROPS).is_dir()


def read_store(folder: Path) -> Store:
    """Read a store; raises InputError where it can't be read, or the engine isn't installed."""
    duckdb = _engine()
    with duckdb.connect(config={"enable_external_access": "true", "autoinstall_known_extensions": "false"}) as engine:
        try:
            fields = engine.execute(_FIELDS_SQL, [_parts(folder / FIELDS)]).df()
            crops = engine.execute(_CROPS_SQL, [_parts(folder / CROPS)]).df()
        except duckdb.Error as error:
            raise InputError(
                f"{folder}: can't be read as the store of many fields ({error}). Run `geoagro batch` again."
            ) from error
    outlines = shapely.from_wkb([None if pd.isna(blob) else bytes(blob) for blob in fields.pop("geometry")])
    return Store(gpd.GeoDataFrame(fields, geometry=gpd.GeoSeries(outlines, crs=WGS84), crs=WGS84), crops)


def read_store_lines(folder: Path) -> Store:
    """Read a store as it is, crops by field too, for another store; errors as `read_store`."""
    fields = pd.concat([gpd.read_parquet(part) for part in _parts(folder / FIELDS)], ignore_index=True)
    crops = pd.concat([pd.read_parquet(part) for part in _parts(folder / CROPS)], ignore_index=True)
    return Store(gpd.GeoDataFrame(fields, crs=WGS84), crops)


def _parts(folder: Path) -> list[str]:
    parts = [str(path) for path in sorted(folder.glob("*.parquet"))]
    if not parts:
        raise InputError(f"{folder}: holds no parts (*.parquet). Run `geoagro batch` again.")
    return parts


def _engine() -> Any:
    try:
        import duckdb  # noqa: PLC0415 -- an extra
    except ImportError as error:
        raise InputError(
            "Adding up many fields needs DuckDB. Install it with `pip install 'geoagro[many]'`, or name design files instead."
        ) from error
    return duckdb
