"""What `geoagro water` wrote beside a layout, read back where it is about these very rows."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import pyogrio
from pyogrio.errors import DataLayerError, DataSourceError

from geoagro.errors import EditedError
from geoagro.inputs.files import reading
from geoagro.inputs.laid.layout_file import LayoutFile
from geoagro.inputs.laid.sealed import Sealed
from geoagro.inputs.local_only import check_vector
from geoagro.values.layers import LayerSpec
from geoagro.values.results.water import (
    ROW_WATER,
    WATER_BALANCE,
    WATER_CRITERIA,
    WATER_FINDINGS,
    WATER_GEOPACKAGE,
    WATER_PICTURE,
    WATER_SOURCE,
    WaterLeft,
    WaterSeen,
)
from geoagro.values.rules.water import WaterRule, checksum_of

_TABLES = (WATER_FINDINGS, WATER_CRITERIA, WATER_BALANCE, ROW_WATER)


def read_water(laid: LayoutFile, rule: WaterRule | None) -> WaterSeen | WaterLeft:
    """Read water.gpkg and water.png beside a layout, or say why they don't tell of it and of this section of the design."""
    file, picture = laid.path.with_name(WATER_GEOPACKAGE), laid.path.with_name(WATER_PICTURE)
    if not (file.is_file() and picture.is_file()):
        return "none"
    check_vector(file, where=str(file))
    try:
        with reading(str(file), but=(DataSourceError, DataLayerError)):
            return _told(laid, rule, file, picture)
    except (DataSourceError, DataLayerError, EditedError):
        return "edited"


def _told(laid: LayoutFile, rule: WaterRule | None, file: Path, picture: Path) -> WaterSeen | WaterLeft:
    sealed = Sealed.read(file, tuple(str(name) for name, _ in pyogrio.list_layers(file)))
    sealed.require_whole()
    made_from = dict(sealed.frame(WATER_SOURCE.name)[["item", "sha256"]].itertuples(index=False))
    if made_from["rows"] != laid.rows_checksum():
        return "other rows"
    if made_from["water"] != checksum_of(rule):
        return "other water"
    as_written = all(
        set(spec.columns) <= set(sealed.frame(spec.name).columns) for spec in _TABLES
    )  # not by another version
    return _seen(sealed, picture) if as_written and _sha256(picture) == made_from["picture"] else "edited"


def _seen(sealed: Sealed, picture: Path) -> WaterSeen:
    return WaterSeen(
        picture=picture,
        findings=_table(sealed, WATER_FINDINGS),
        criteria=_table(sealed, WATER_CRITERIA),
        balance=_table(sealed, WATER_BALANCE),
        rows=_table(sealed, ROW_WATER),
    )


def _table(sealed: Sealed, spec: LayerSpec) -> Any:
    table = sealed.frame(spec.name)
    texts = table.select_dtypes(include=["object", "string"]).columns
    return table.assign(**{name: table[name].fillna("").astype(object) for name in texts})


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
