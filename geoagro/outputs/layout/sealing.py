"""Sealing a written layout: checksums of what the file holds, inside the file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import pandas as pd
import pyogrio
from pyproj import CRS

from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.values.results.seal import SEALS, Seal, seal_of, seal_of_parts
from geoagro.values.results.stored_plants import StoredCrop


def seal(path: Path, layers: Sequence[OutputLayer], crs: CRS) -> None:
    """Read every layer and table back from a GeoPackage and add the table of their seals.

    What is sealed is what a reader gets, so that no rounding on the way to the file can break a seal. Plants in blocks aren't
    read back, which would take as long as writing them: numbers go to the file unrounded, and a test holds both ways together.
    """
    seals = [
        seal_of_parts(layer.table, stored_parts(layer.frame), points="geometry")
        if isinstance(layer.frame, StoredCrop)
        else seal_of(layer.table, pyogrio.read_dataframe(path, layer=layer.table, use_arrow=True, fid_as_index=True))
        for layer in layers
    ]
    write_geopackage(path, [OutputLayer(SEALS, _frame([*seals, Seal.over(seals)]), note=_NOTE)], crs)


def stored_parts(crop: StoredCrop) -> Iterator[pd.DataFrame]:
    """Tables of a crop's blocks as a reader gets them, indexed by the feature numbers that they get in the file."""
    first = 1
    for batch in crop.batches():
        table = batch.to_pandas()
        table.index = pd.RangeIndex(first, first + len(table))
        first += len(table)
        yield table


_NOTE = "Opening the file in a viewer breaks no seal; editing a layer does. `geoagro verify` tells what was edited."


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
