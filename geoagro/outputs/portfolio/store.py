"""Results of many fields as tables: CSV to watch, GeoPackage to look at, GeoParquet in parts for engines that add up."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from geoagro.crs import WGS84
from geoagro.outputs.drawing.looks import FIELD, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.staging import staged
from geoagro.outputs.tables.plain_text import guarded
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.layers import LayerSpec
from geoagro.values.results.field_result import FIELD_CROPS, FIELD_RESULTS, FIGURES, FieldResult
from geoagro.values.words import say

TABLE, GEOPACKAGE = "fields.csv", "portfolio.gpkg"
STORE = "portfolio"
PART = 1000
"""Fields in one part of the store (our choice: some megabytes)."""


def write_progress(results: Sequence[FieldResult], root: Path) -> Path:
    """Write the table of results so far, to be watched while others run."""
    with staged(root, [TABLE]) as new, (new / TABLE).open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(FIELD_RESULTS.columns)
        for result in results:
            writer.writerow([_cell(value) for value in _line(result).values()])
    return root / TABLE


def write_store(results: Sequence[FieldResult], root: Path, words: Words = ENGLISH) -> list[Path]:
    """Write table, GeoPackage and the store of all fields anew; what stood there stays until each is finished.

    The store has a folder per table, `fields` (GeoParquet, longitude and latitude) and `crops`, in parts of PART fields.
    """
    written = [write_progress(results, root)]
    with staged(root, [GEOPACKAGE]) as new:
        layers = [
            OutputLayer(
                FIELD_RESULTS, fields_frame([r for r in results if r.outline]), Style.plain(say("Field"), FIELD)
            ),
            OutputLayer(FIELD_CROPS, crops_frame(results)),
        ]
        write_geopackage(new / GEOPACKAGE, layers, WGS84, words=words)
    written.append(root / GEOPACKAGE)
    parts = [results[first : first + PART] for first in range(0, len(results), PART)]
    written += _write_parts(root / STORE / "fields", [fields_frame(part) for part in parts])
    written += _write_parts(root / STORE / "crops", [crops_frame(part) for part in parts])
    return written


def _write_parts(folder: Path, frames: Sequence[pd.DataFrame]) -> list[Path]:
    names = [f"part-{number:05d}.parquet" for number in range(1, len(frames) + 1)]
    with staged(folder, names) as new:
        for name, frame in zip(names, frames, strict=True):
            frame.to_parquet(new / name, index=False)
    for old in set(folder.glob("part-*.parquet")) - {folder / name for name in names}:
        old.unlink()
    return [folder / name for name in names]


def fields_frame(results: Sequence[FieldResult]) -> gpd.GeoDataFrame:
    """Layer FIELD_RESULTS; a field whose outline is unknown has no geometry."""
    lines = [_line(result) for result in results]
    table = pd.DataFrame({name: _column(lines, name) for name in FIELD_RESULTS.columns})
    outlines = shapely.from_wkb(np.array([r.outline or None for r in results], dtype=object))
    return gpd.GeoDataFrame(table, geometry=gpd.GeoSeries(outlines, crs=WGS84), crs=WGS84)


def crops_frame(results: Sequence[FieldResult]) -> pd.DataFrame:
    """Table FIELD_CROPS over all fields."""
    rows = [{"field": result.field, **crop} for result in results for crop in result.crops]
    return FIELD_CROPS.frame({name: [row[name] for row in rows] for name in FIELD_CROPS.columns})


def _line(result: FieldResult) -> dict[str, Any]:
    figures = {name: result.figures.get(name, np.nan) for name in FIGURES}
    values = result.data() | figures
    return {name: values[name] for name in FIELD_RESULTS.columns}


def _column(lines: Sequence[dict[str, Any]], name: str) -> Any:
    kind = _kinds(FIELD_RESULTS)[name]
    return np.array([line[name] for line in lines], dtype={"int": "int64", "float": "float64"}.get(kind, object))


def _kinds(spec: LayerSpec) -> dict[str, str]:
    return {field.name: field.kind for field in spec.fields}


def _cell(value: Any) -> str:
    if isinstance(value, float):
        return "" if np.isnan(value) else f"{value:.10g}"
    return guarded(str(value))
