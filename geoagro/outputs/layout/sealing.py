"""Sealing a written layout: checksums of what the file holds, inside the file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from geopandas.array import from_shapely
from pyproj import CRS

from geoagro.outputs.geopackage.blocks import frame_read, written_shapes
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import in_file_order, write_geopackage
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.results.as_written import AsWritten
from geoagro.values.results.seal import SEALS, Seal, seal_of, seal_of_parts
from geoagro.values.results.stored_plants import StoredCrop
from geoagro.values.words import say


def seal(path: Path, layers: Sequence[OutputLayer], crs: CRS, words: Words = ENGLISH) -> None:
    """Add the table of seals of every layer and table to a GeoPackage that was just written from them."""
    write_seals(path, seals_of(layers), crs, words)


def seals_of(layers: Sequence[OutputLayer]) -> list[Seal]:
    """Seal layers and tables that are, or will be, written.

    What is sealed is what a reader gets. Reading it back would take as long as writing it, so it is told from the layers
    (`as_read`), whose numbers go to the file unrounded; tests hold it against files.
    """
    return [
        seal_of_parts(layer.table, stored_parts(layer.frame), points="geometry")
        if isinstance(layer.frame, StoredCrop)
        else seal_of(layer.table, as_read(layer))
        for layer in layers
    ]


def write_seals(path: Path, seals: Sequence[Seal], crs: CRS, words: Words = ENGLISH) -> None:
    """Add the table of seals to a GeoPackage."""
    write_geopackage(path, [OutputLayer(SEALS, _frame([*seals, Seal.over(seals)]), note=_NOTE)], crs, words=words)


def as_written(path: Path, layers: Sequence[OutputLayer], seals: Sequence[Seal], crs: CRS | None) -> AsWritten | None:
    """Give a sealed GeoPackage as it is read back, without reading it; None where plants lie in blocks."""
    if any(isinstance(layer.frame, StoredCrop) for layer in layers):
        return None
    authority = crs.to_authority(min_confidence=100) if crs else None
    return AsWritten(
        path=path,
        crs=CRS.from_authority(*authority) if authority else None,
        layers=(*(layer.table for layer in in_file_order(layers)), "layer_styles", SEALS.name),
        seals={one.layer: one for one in seals},
        frames={layer.table: partial(frame_read, layer) for layer in layers},
    )


def as_read(layer: OutputLayer) -> Any:
    """Give a layer as it is read back from a GeoPackage, indexed by the feature numbers that it gets there."""
    spec, frame = layer.spec, layer.frame
    columns: dict[str, Any] = {field.name: frame[field.name].array for field in spec.fields}
    for field in spec.fields:
        if field.kind == "float":  # infinite numbers are written as empty
            values = np.asarray(columns[field.name], dtype=np.float64)
            columns[field.name] = np.where(np.isfinite(values), values, np.nan)
    if spec.geometry != "none":
        columns["geometry"] = from_shapely(written_shapes(frame.geometry.to_numpy(), spec.geometry))
    return pd.DataFrame(columns, index=pd.RangeIndex(1, len(frame) + 1), copy=False)


def stored_parts(crop: StoredCrop) -> Iterator[pd.DataFrame]:
    """Tables of a crop's blocks as a reader gets them, indexed by the feature numbers that they get in the file."""
    first = 1
    for batch in crop.batches():
        table = batch.to_pandas()
        table.index = pd.RangeIndex(first, first + len(table))
        first += len(table)
        yield table


_NOTE = say(
    "Opening the file in a viewer breaks no seal; editing a layer does. `geoagro verify` tells what was edited."
)


def _frame(seals: Sequence[Seal]) -> pd.DataFrame:
    return SEALS.frame(
        {
            "layer": [one.layer for one in seals],
            "features": [one.features for one in seals],
            "columns": [",".join(one.columns) for one in seals],
            "sha256": [one.sha256 for one in seals],
            "marks": [one.text for one in seals],
        }
    )
