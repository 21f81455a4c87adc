"""A layer as a stream of Arrow record batches: a field of millions of plants is turned into bytes block by block.

Only one block stands in memory beside the frame, and points never become a Python object each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow as pa
import shapely
from pyproj import CRS

from geoagro.arrays import Shapes
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.values.layers import Field
from geoagro.values.results.stored_plants import InBatches

GEOMETRY_COLUMN = "geom"
BLOCK_ROWS = 200_000
"""About 40 MB of plants."""

_ARROW_TYPES = {
    "int": pa.int64(),
    "float": pa.float64(),
    "text": pa.string(),
    "date": pa.date32(),
    "bool": pa.bool_(),
}
_MULTI = {"MultiPolygon": shapely.MultiPolygon}
_WKB_POINT = np.dtype([("order", "u1"), ("kind", "<u4"), ("x", "<f8"), ("y", "<f8")])
_LITTLE_ENDIAN, _POINT = 1, 1


def layer_stream(layer: OutputLayer, *, rows: int = BLOCK_ROWS) -> pa.RecordBatchReader:
    """Columns in the order of the spec, each with its title and meaning, and the geometry as WKB, in blocks of `rows`.

    A layer without rows is one empty block, so that its columns are known.
    """
    told = layer.columns
    schema = _schema(layer, [_meaning(*both) for both in zip(told.heads, told.meanings, strict=True)])
    return pa.RecordBatchReader.from_batches(schema, _blocks(layer, schema, rows))


def frame_read(layer: OutputLayer, crs: CRS) -> Any:
    """Make the table that reading the layer's file gives, out of the same blocks: kinds of columns, empty cells, outlines.

    It takes the way that pyogrio takes from Arrow to a table; tests hold it against files. `crs` as the file has it.
    """
    schema = _schema(layer, [{}] * len(layer.spec.fields))
    table = pa.Table.from_batches(_blocks(layer, schema, BLOCK_ROWS), schema).to_pandas()
    if GEOMETRY_COLUMN not in table.columns:
        return table
    shapes = shapely.from_wkb(table.pop(GEOMETRY_COLUMN).to_numpy())
    return gpd.GeoDataFrame(table, geometry=shapes, crs=crs)


@dataclass(frozen=True, eq=False)
class PointsInBatches:
    """A layer of points, whose places stand in its columns `x` and `y` too, in record batches without geometry."""

    layer: OutputLayer

    def __len__(self) -> int:
        return len(self.layer.frame)

    def batches(self) -> Iterator[pa.RecordBatch]:
        """Give blocks of rows, one after another."""
        spec, frame = self.layer.spec, self.layer.frame
        for start in range(0, len(frame), BLOCK_ROWS):
            part = slice(start, start + BLOCK_ROWS)
            arrays = [_column(frame[field.name].array[part], field) for field in spec.fields]
            yield pa.RecordBatch.from_arrays(arrays, names=[field.name for field in spec.fields])


def _blocks(layer: OutputLayer, schema: pa.Schema, rows: int) -> Iterator[pa.RecordBatch]:
    if isinstance(layer.frame, InBatches):
        return (_written(batch, schema) for batch in layer.frame.batches())
    return _blocks_of_frame(layer, schema, rows)


def _written(batch: pa.RecordBatch, schema: pa.Schema) -> pa.RecordBatch:
    """Give a block of stored plants as it goes to the file: texts spelled out, points as well-known binary."""
    columns = {field.name: batch[field.name].cast(field.type) for field in schema if field.name != GEOMETRY_COLUMN}
    xy = np.column_stack([batch["x"].to_numpy(), batch["y"].to_numpy()])
    return pa.RecordBatch.from_arrays([*columns.values(), points_wkb(xy)], schema=schema)


def _blocks_of_frame(layer: OutputLayer, schema: pa.Schema, rows: int) -> Iterator[pa.RecordBatch]:
    spec, frame = layer.spec, layer.frame
    shapes = None if spec.geometry == "none" else frame.geometry.to_numpy()
    for start in range(0, max(len(frame), 1), rows):
        part = slice(start, start + rows)
        arrays = [_column(frame[field.name].array[part], field) for field in spec.fields]
        if shapes is not None:
            arrays.append(_wkb(shapes[part], spec.geometry))
        yield pa.RecordBatch.from_arrays(arrays, schema=schema)


def _schema(layer: OutputLayer, meanings: Sequence[dict[str, str]]) -> pa.Schema:
    fields = [
        pa.field(f.name, _ARROW_TYPES[f.kind], metadata=meaning)
        for f, meaning in zip(layer.spec.fields, meanings, strict=True)
    ]
    if layer.spec.geometry != "none":
        fields.append(pa.field(GEOMETRY_COLUMN, pa.binary(), metadata={"ARROW:extension:name": "geoarrow.wkb"}))
    return pa.schema(fields)


def _column(column: Any, field: Field) -> pa.Array:
    as_it_is = field.kind == "text" and not isinstance(column, pd.arrays.NumpyExtensionArray)
    values = column if as_it_is else np.asarray(column)  # Arrow takes over texts that are its own
    if field.kind == "float":
        values = np.where(np.isfinite(values), values, np.nan)
    if field.kind == "date":
        values = values.astype("datetime64[D]")
    found = pa.array(values, type=_ARROW_TYPES[field.kind], from_pandas=True)
    return found.combine_chunks() if isinstance(found, pa.ChunkedArray) else found


def _meaning(head: str, meaning: str) -> dict[str, str]:
    return {"GDAL:OGR:alternative_name": head, "GDAL:OGR:comment": meaning}


def _wkb(shapes: Shapes, kind: str) -> pa.Array:
    """Geometries as well-known binary of two dimensions."""
    if kind == "Point" and not shapely.is_empty(shapes).any():
        return points_wkb(shapely.get_coordinates(shapes))
    return pa.array(shapely.to_wkb(written_shapes(shapes, kind), output_dimension=2), type=pa.binary())


def points_wkb(xy: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> pa.Array:
    """Points of shape (n, 2) as well-known binary (OGC 06-103r4, 8.2), all of them written at once."""
    records = np.empty(len(xy), dtype=_WKB_POINT)
    records["order"], records["kind"] = _LITTLE_ENDIAN, _POINT
    records["x"], records["y"] = xy[:, 0], xy[:, 1]
    offsets = np.arange(len(xy) + 1, dtype=np.int32) * _WKB_POINT.itemsize
    return pa.Array.from_buffers(pa.binary(), len(xy), [None, pa.py_buffer(offsets), pa.py_buffer(records)])


def written_shapes(geometries: Shapes, kind: str) -> Shapes:
    """Give every geometry the layer's kind, outer rings running counter-clockwise, holes clockwise."""
    if kind in ("Polygon", "MultiPolygon"):
        geometries = shapely.orient_polygons(geometries)
    if kind not in _MULTI:
        return geometries
    return np.array([g if g.geom_type == kind else _MULTI[kind]([g]) for g in geometries], dtype=object)
