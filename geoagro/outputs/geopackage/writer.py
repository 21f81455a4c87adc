"""A GeoPackage from a list of layers: a stream of Arrow blocks per layer, then default styles in the same file.

The file carries no clock: the same layers give the same bytes (with the same library versions).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pyogrio
from pyogrio.errors import DataLayerError, DataSourceError
from pyproj import CRS

from geoagro.errors import OutputError
from geoagro.outputs.geopackage.blocks import GEOMETRY_COLUMN, layer_stream
from geoagro.outputs.geopackage.layer import OutputLayer, spoken
from geoagro.outputs.geopackage.project import write_project
from geoagro.outputs.geopackage.style_qml import qml
from geoagro.outputs.geopackage.style_sld import sld
from geoagro.outputs.staging import unwritten
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.progress import Progress, silent
from geoagro.values.results.stored_plants import InBatches
from geoagro.values.words import Sentence, say

FIXED_DATE = "2000-01-01T00:00:00.000Z"  # in place of the time of writing, for identical files


def write_geopackage(
    path: Path,
    layers: Sequence[OutputLayer],
    crs: CRS | None,
    *,
    project: str = "",
    begun: Collection[str] = (),
    words: Words = ENGLISH,
    progress: Progress = silent,
) -> None:
    """Write a new GeoPackage 1.3; `layers` come in drawing order, the lowest first, tables last.

    In the file the highest comes first, since viewers that load all layers lay them in the order of the file, the first
    on top. Tables are written before layers (readers list them after these all the same): the file is opened anew for
    each, which takes longer the more spatial indices are in it. Only the largest of the layers goes before them, if it is
    large: the library makes the index of a file's first layer in a thread of its own. Some layers may be there already (`begun`, their
    names), written by `write_layers_alone`. With `project`, a title, the file carries a ready project of that title too. Titles, legends and columns' heads
    are in the language of `words`; names of layers and columns, and what they hold, are the same in all.

    Infinite numbers are written as empty, as GIS viewers can't show them.

    Raises
    ------
    OutputError
        Where two layers share a name, a frame lacks a column, or the file can't be written.
    """
    _refuse_shared_names(layers)
    layers = spoken(layers, words)
    rows = sum(len(layer.frame) for layer in layers) or 1
    done = 0
    try:
        with _writing_options():
            for layer in _in_turn(layers):
                progress(Sentence("writing {file}", file=path.name), done / rows)
                if layer.table not in begun:
                    _write_layer(path, layer, crs)
                done += len(layer.frame)
        with closing(sqlite3.connect(path)) as database, database:
            _put_in_order(database, layers)
            _write_styles(database, in_file_order(layers), words)
            _write_value_lists(database, layers)
            if project:
                write_project(database, layers, _known(crs), file=path.name, title=project)
    except (DataSourceError, sqlite3.Error, OSError) as error:
        raise OutputError(unwritten(Path(path.name), error, room=path.parent)) from error
    progress(Sentence("writing {file}", file=path.name), 1.0)


def write_plain(path: Path, frame: Any, *, layer: str) -> None:
    """Write one layer without looks or columns' meanings, e.g. an outline to be read again; raises OutputError."""
    try:
        with _writing_options():
            pyogrio.write_dataframe(frame, path, layer=layer, driver="GPKG")
    except (DataSourceError, DataLayerError, OSError) as error:
        path.unlink(missing_ok=True)
        raise OutputError(unwritten(Path(path.name), error, room=path.parent)) from error


def write_layers_alone(path: Path, layers: Sequence[OutputLayer], crs: CRS | None) -> None:
    """Write layers that are spoken into a new GeoPackage, to which `write_geopackage` adds the others."""
    with _writing_options():
        for layer in layers:
            _write_layer(path, layer, crs)


LARGE = 100_000
"""From so many features on the library makes the index of a new file's first layer in a thread."""


def _in_turn(layers: Sequence[OutputLayer]) -> list[OutputLayer]:
    """Tables, then layers from the highest down, but a large layer before all."""
    turn = sorted(in_file_order(layers), key=lambda layer: not layer.is_table)
    largest = max(turn, key=lambda layer: len(layer.frame), default=None)
    if largest is None or largest.is_table or len(largest.frame) < LARGE:
        return turn
    return [largest, *(layer for layer in turn if layer is not largest)]


def _put_in_order(database: sqlite3.Connection, layers: Sequence[OutputLayer]) -> None:
    """List layers in the order of the file, in whatever order they were written, with their titles and notes."""
    turn = sorted(in_file_order(layers), key=lambda layer: not layer.is_table)
    place = {layer.table: number for number, layer in enumerate(turn)}
    for table in ("gpkg_contents", "gpkg_geometry_columns"):
        lines = database.execute(f"SELECT * FROM {table} ORDER BY rowid").fetchall()
        in_order = sorted(lines, key=lambda line: place.get(line[0], -1))
        if in_order != lines:
            database.execute(f"DELETE FROM {table}")
            marks = ", ".join("?" * len(lines[0]))
            database.executemany(f"INSERT INTO {table} VALUES ({marks})", in_order)
    for layer in layers:
        database.execute(
            "UPDATE gpkg_contents SET identifier = ?, description = ? WHERE table_name = ?",
            (layer.identifier, layer.note, layer.table),
        )


def in_file_order(layers: Sequence[OutputLayer]) -> list[OutputLayer]:
    """Layers from the highest down, those that start hidden under all others, then the tables."""
    drawn = [layer for layer in reversed(layers) if layer.spec.geometry != "none"]
    return [
        *(layer for layer in drawn if not layer.starts_hidden),
        *(layer for layer in drawn if layer.starts_hidden),
        *(layer for layer in layers if layer.spec.geometry == "none"),
    ]


_CACHE_MB = "256"
"""Pages that the database may keep: the index of a large layer grows in many places at once. A fifth less time, same bytes."""


@contextmanager
def _writing_options() -> Iterator[None]:
    """Have GDAL write a fixed time of change and not wait for the disk; what was set before is put back.

    The caller moves the file into place only when it is whole and flushed, so waiting would gain nothing.
    """
    wanted = {"OGR_CURRENT_DATE": FIXED_DATE, "OGR_SQLITE_SYNCHRONOUS": "OFF", "OGR_SQLITE_CACHE": _CACHE_MB}
    before = {name: pyogrio.get_gdal_config_option(name) for name in wanted}
    pyogrio.set_gdal_config_options(wanted)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)


def _refuse_shared_names(layers: Sequence[OutputLayer]) -> None:
    seen: dict[str, str] = {}
    for layer in layers:
        key = layer.table.lower()
        if key in seen:
            raise OutputError(
                f"Layers '{seen[key]}' ({layer.identifier}) would share one name in the GeoPackage, which doesn't tell "
                "capital from small letters or sign from sign; give one of them another name in the design file."
            )
        seen[key] = layer.table


def _write_layer(path: Path, layer: OutputLayer, crs: CRS | None) -> None:
    spec = layer.spec
    if not isinstance(layer.frame, InBatches):  # made with the columns of its spec
        spec.check(layer.frame)
    options = {"IDENTIFIER": layer.identifier, "DESCRIPTION": layer.note}
    geometry: dict[str, Any] = {}
    if spec.geometry != "none":
        options |= {"GEOMETRY_NAME": GEOMETRY_COLUMN, "SPATIAL_INDEX": "YES"}
        geometry = {
            "geometry_name": GEOMETRY_COLUMN,
            "geometry_type": spec.geometry,
            "crs": _crs_text(_known(crs)),
        }
    pyogrio.write_arrow(
        layer_stream(layer),
        path,
        layer=layer.table,
        driver="GPKG",
        dataset_options=None if path.exists() else {"VERSION": "1.3"},
        layer_options=options,
        **geometry,
    )


def _known(crs: CRS | None) -> CRS:
    if crs is None:
        raise OutputError("Layers without CRS can't be written: nobody could place them on the ground.")
    return crs


def _crs_text(crs: CRS) -> str:
    authority = crs.to_authority(min_confidence=100)
    return ":".join(authority) if authority else str(crs.to_wkt())


_STYLES_TABLE = """
CREATE TABLE IF NOT EXISTS layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256),
  styleName TEXT(30), styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN,
  description TEXT, owner TEXT(30), ui TEXT(30), update_time DATETIME
)"""


def _write_styles(database: sqlite3.Connection, layers: Sequence[OutputLayer], words: Words) -> None:
    """Fill `layer_styles`, from which desktop viewers take the default look of each layer, and heads of all columns.

    They don't read heads from the standard's own `gpkg_data_columns` (seen in QGIS 3.22), so tables have an entry, too.
    """
    told = [layer for layer in layers if layer.style is not None or layer.is_table]
    if not told:
        return
    database.execute(_STYLES_TABLE)
    database.execute(
        "INSERT OR IGNORE INTO gpkg_contents (table_name, data_type, identifier, description, last_change) "
        "VALUES ('layer_styles', 'attributes', ?, ?, ?)",
        (words(say("Styles")), words(say("Default look of the layers.")), FIXED_DATE),
    )
    rows = [
        (layer.table, "" if layer.is_table else GEOMETRY_COLUMN, layer.table[:30],
         qml(layer.style, layer.spec, layer.columns),
         "" if layer.style is None else sld(layer.style, layer.spec, layer.table, words), layer.identifier, FIXED_DATE)
        for layer in told
    ]  # fmt: skip
    database.executemany(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, "
        "styleQML, styleSLD, useAsDefault, description, owner, update_time) VALUES ('', '', ?, ?, ?, ?, ?, 1, ?, '', ?)",
        rows,
    )


_CONSTRAINTS_TABLE = """
CREATE TABLE IF NOT EXISTS gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT, min NUMERIC, min_is_inclusive BOOLEAN,
  max NUMERIC, max_is_inclusive BOOLEAN, description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value)
)"""


def _write_value_lists(database: sqlite3.Connection, layers: Sequence[OutputLayer]) -> None:
    """Tell which values a column may hold, by the schema extension of the GeoPackage standard."""
    listed = [
        (layer.table, field, said)
        for layer in layers
        for field, said in zip(layer.spec.fields, layer.columns.values, strict=True)
        if field.values
    ]
    if not listed:
        return
    database.execute(_CONSTRAINTS_TABLE)
    for table, field, said in listed:
        name = f"{field.name}_of_{table}"
        database.executemany(
            "INSERT INTO gpkg_data_column_constraints (constraint_name, constraint_type, value, description) "
            "VALUES (?, 'enum', ?, ?)",
            [(name, value, text) for value, text in zip(field.values, said, strict=True)],
        )
        database.execute(
            "UPDATE gpkg_data_columns SET constraint_name = ? WHERE table_name = ? AND column_name = ?",
            (name, table, field.name),
        )
    database.execute(
        "INSERT INTO gpkg_extensions (table_name, extension_name, definition, scope) SELECT 'gpkg_data_column_constraints', "
        "'gpkg_schema', 'http://www.geopackage.org/spec120/#extension_schema', 'read-write' WHERE NOT EXISTS (SELECT 1 FROM "
        "gpkg_extensions WHERE table_name = 'gpkg_data_column_constraints')"
    )
