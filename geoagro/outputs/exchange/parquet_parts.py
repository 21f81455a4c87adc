"""GeoParquet of a layer that comes in parts: a row group for each, the extent told when all are written."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import shapely

from geoagro.version import __version__

_VERSION = "1.0.0"  # of the GeoParquet specification


def write_parquet_parts(parts: Iterable[gpd.GeoDataFrame], path: Path) -> int:
    """Write the parts of a layer into one file, one after another; gives the number of features.

    Geometry is well-known binary in the column `geometry`, in the CRS of the first part.
    """
    writer: pq.ParquetWriter | None = None
    count, bounds, kinds = 0, np.array([np.inf, np.inf, -np.inf, -np.inf]), set[str]()
    crs = None
    try:
        for frame in parts:
            table = _table(frame)
            if writer is None:
                writer, crs = pq.ParquetWriter(path, table.schema, compression="snappy"), frame.crs
            writer.write_table(table.cast(writer.schema), row_group_size=len(table) or None)
            count += len(frame)
            if len(frame):
                low_high = frame.total_bounds
                bounds = np.concatenate([np.minimum(bounds[:2], low_high[:2]), np.maximum(bounds[2:], low_high[2:])])
                kinds |= set(frame.geom_type.unique())
        if writer is not None:
            writer.add_key_value_metadata({"geo": _about(crs, bounds, kinds)})
    finally:
        if writer is not None:
            writer.close()
    return count


def _table(frame: gpd.GeoDataFrame) -> pa.Table:
    plain = pa.Table.from_pandas(pd.DataFrame(frame.drop(columns=frame.geometry.name)), preserve_index=False)
    wkb = pa.array(shapely.to_wkb(frame.geometry.to_numpy(), output_dimension=2), type=pa.binary())
    return plain.replace_schema_metadata().append_column("geometry", wkb)


def _about(crs: object, bounds: np.ndarray[tuple[int], np.dtype[np.float64]], kinds: set[str]) -> str:
    column = {"encoding": "WKB", "geometry_types": sorted(kinds), "bbox": bounds.tolist()}
    if hasattr(crs, "to_json_dict"):
        column["crs"] = crs.to_json_dict()
    about = {"version": _VERSION, "primary_column": "geometry", "columns": {"geometry": column}}
    return json.dumps(about | {"creator": {"library": "geoagro", "version": __version__}})
