"""The store of many fields in an organisation's database (PostgreSQL with PostGIS): updated by field, never doubled."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import geopandas as gpd
import pandas as pd
import shapely

from geoagro.errors import InputError, OutputError
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.results.field_result import FIELD_CROPS, FIELD_RESULTS

_TYPES = {"int": "bigint", "float": "double precision", "text": "text", "date": "date", "bool": "boolean"}


def write_database(fields: gpd.GeoDataFrame, crops: pd.DataFrame, connection: str, *, portfolio: str) -> int:
    """Put fields and their crops into the tables field_results and field_crops, in one transaction.

    A field that is there already (same portfolio and name) is replaced, with all its crops; others stay as they are. The
    tables are made where they are missing.

    Parameters
    ----------
    fields, crops
        Columns of FIELD_RESULTS (outline in longitude and latitude) and of FIELD_CROPS.
    connection
        Address of the database, e.g. postgresql://user@host/name.
    portfolio
        Name under which these fields stand, so that several programmes share a database.

    Returns the number of fields written.

    Raises
    ------
    InputError
        Where the driver isn't installed.
    OutputError
        Where the database can't be reached or refuses; nothing is changed then.
    """
    psycopg = _driver()
    try:
        with psycopg.connect(connection, connect_timeout=15) as database, database.cursor() as cursor:
            cursor.execute("CREATE EXTENSION IF NOT EXISTS postgis")
            for spec, key in ((FIELD_RESULTS, "field"), (FIELD_CROPS, "field, crop")):
                cursor.execute(_table(spec, key))
            _put(cursor, FIELD_RESULTS, _rows(fields, FIELD_RESULTS, portfolio, fields.geometry.to_numpy()))
            _delete(cursor, FIELD_CROPS, portfolio, fields["field"].tolist())
            _copy(cursor, FIELD_CROPS.name, _columns(FIELD_CROPS), _rows(crops, FIELD_CROPS, portfolio, None))
    except psycopg.Error as error:
        words = " ".join(str(error).split())
        raise OutputError(
            f"--to: the database can't take the fields ({words}); nothing in it was changed. Put it right and run again."
        ) from error
    return len(fields)


def _driver() -> Any:
    try:
        import psycopg  # noqa: PLC0415 -- an extra
    except ImportError as error:
        raise InputError(
            "--to: needs the driver of PostgreSQL. Install it with `pip install 'geoagro[many]'`."
        ) from error
    return psycopg


def _table(spec: LayerSpec, key: str) -> str:
    columns = ", ".join(f"{_quoted(field.name)} {_TYPES[field.kind]}" for field in spec.fields)
    outline = ", outline geometry(MultiPolygon, 4326)" if spec.geometry != "none" else ""
    return (
        f"CREATE TABLE IF NOT EXISTS {spec.name} (portfolio text, {columns}{outline}, PRIMARY KEY (portfolio, {key}))"
    )


def _columns(spec: LayerSpec) -> list[str]:
    return ["portfolio", *spec.columns, *(["outline"] if spec.geometry != "none" else [])]


def _put(cursor: Any, spec: LayerSpec, rows: Iterator[tuple[Any, ...]]) -> None:
    """Replace or add rows by their key: they come into a table of this transaction first."""
    new, columns = f"new_{spec.name}", ", ".join(map(_quoted, _columns(spec)))
    cursor.execute(f"CREATE TEMP TABLE {new} (LIKE {spec.name}) ON COMMIT DROP")
    _copy(cursor, new, _columns(spec), rows)
    own = ", ".join(f"{_quoted(name)} = excluded.{_quoted(name)}" for name in _columns(spec))
    cursor.execute(
        f"INSERT INTO {spec.name} ({columns}) SELECT {columns} FROM {new} ON CONFLICT (portfolio, field) DO UPDATE SET {own}"
    )


def _delete(cursor: Any, spec: LayerSpec, portfolio: str, names: list[str]) -> None:
    cursor.execute(f"DELETE FROM {spec.name} WHERE portfolio = %s AND field = ANY(%s)", (portfolio, names))


def _copy(cursor: Any, table: str, columns: list[str], rows: Iterator[tuple[Any, ...]]) -> None:
    with cursor.copy(f"COPY {table} ({', '.join(map(_quoted, columns))}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)


def _rows(frame: pd.DataFrame, spec: LayerSpec, portfolio: str, outlines: Any) -> Iterator[tuple[Any, ...]]:
    """Lines as the database takes them; unknown numbers and outlines are empty."""
    columns = [[_value(value, field) for value in frame[field.name]] for field in spec.fields]
    if outlines is not None:
        whole = shapely.set_srid(outlines, 4326)
        columns.append(
            [None if shape is None else shapely.to_wkb(shape, hex=True, include_srid=True) for shape in whole]
        )
    for row in zip(*columns, strict=True):
        yield portfolio, *row


def _value(value: Any, field: Field) -> Any:
    if pd.isna(value):
        return None
    return {"int": int, "float": float, "text": str}.get(field.kind, lambda v: v)(value)


def _quoted(name: str) -> str:
    return f'"{name}"'
