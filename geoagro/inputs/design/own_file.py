"""A design of its own for each field of a layer, made from one design that they share."""

from __future__ import annotations

import io
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from pyproj import CRS
from ruamel.yaml import YAML
from shapely import Geometry

from geoagro.errors import DesignError, InputError
from geoagro.inputs.design.file import read_alone
from geoagro.inputs.vector.file import read_features
from geoagro.values.design import Design, VectorSource
from geoagro.values.model import plain_name

BOUNDARY = "boundary.gpkg"
DESIGN = "design.yaml"
_SECTIONS = tuple(name for name in Design.model_fields if name not in ("name", "folder"))


@dataclass(frozen=True, eq=False)
class FieldAsked:
    """One field of a layer: its name, outline (CRS of the layer) and the settings that its columns give."""

    name: str
    outline: Geometry
    settings: Mapping[str, str]


@dataclass(frozen=True)
class FieldsLayer:
    """All fields of a layer and its CRS."""

    fields: tuple[FieldAsked, ...]
    crs: CRS


def read_fields(source: VectorSource, *, folder: Path, name_column: str) -> FieldsLayer:
    """Read fields and their settings: a column that is called like a key, such as `rows.spacing_m`, sets it.

    Empty cells leave the shared design's value.

    Raises
    ------
    InputError
        Where the layer can't be read, holds no polygons, lacks the column of names, or two fields have one name.
    """
    features = read_features(source, key="SOURCE", folder=folder)
    table, where = features.table, features.where
    if name_column not in table.columns:
        known = ", ".join(map(str, table.columns)) or "none"
        raise InputError(
            f"{where}: no column '{name_column}' with the fields' names; its columns are {known}. Name another."
        )
    names = _names(table[name_column], where)
    keys = [column for column in table.columns if str(column).partition(".")[0] in _SECTIONS]
    rows = table[keys].to_dict("records") if keys else [{}] * len(names)
    fields = tuple(
        FieldAsked(name, outline, {str(k): _text(v) for k, v in row.items() if not pd.isna(v)})
        for name, outline, row in zip(names, features.geometries, rows, strict=True)
    )
    return FieldsLayer(fields, features.crs)


def _names(column: Any, where: str) -> list[str]:
    try:
        names = [plain_name("" if pd.isna(name) else _text(name)) for name in column]
    except ValueError as error:
        raise InputError(f"{where}: a field's name {error}.") from error
    twice = next((name for name in names if names.count(name) > 1), None) if len(set(names)) < len(names) else None
    if twice:
        raise InputError(f"{where}: two fields are called '{twice}'; give each a name of its own.")
    return names


def _text(value: Any) -> str:
    if isinstance(value, bool | np.bool_):
        return "true" if value else "false"
    return f"{value:.0f}" if isinstance(value, float | np.floating) and float(value).is_integer() else str(value)


def own_design(shared: Path, asked: FieldAsked, folder: Path) -> str:
    """Text of a field's own design file: the shared one with the field's name, outline and settings.

    Paths are rewritten so that they hold from `folder`, where BOUNDARY is to lie; the result folder is beside it.

    Raises DesignError, as `read_design`, where a setting doesn't fit.
    """
    changes = dict(asked.settings) | {"name": _quoted(asked.name), "inputs.boundary": f"{{file: {BOUNDARY}}}"}
    try:
        design = read_alone(shared, changes=changes)
    except DesignError as error:
        raise DesignError("\n".join(f"field '{asked.name}': {line}" for line in str(error).splitlines())) from error
    data = design.model_dump(exclude_unset=True, by_alias=True)
    data.get("output", {}).pop("folder", None)
    data = _from_folder(data, Path(shared).parent, folder)
    data["inputs"] = data["inputs"] | {"boundary": {"file": BOUNDARY}}
    text = io.StringIO()
    writer = YAML(typ="safe")
    writer.default_flow_style = None
    writer.width = 120
    writer.sort_base_mapping_type_on_output = False  # type: ignore[assignment]
    writer.dump(_plain(data), text)
    return f"# Made from {Path(shared).name} for one field of many.\n{text.getvalue()}"


def _quoted(name: str) -> str:
    return "'" + name.replace("'", "''") + "'"


def _from_folder(node: Any, old: Path, new: Path) -> Any:
    """Turn paths that count from one folder into paths that count from another."""
    if isinstance(node, Mapping):
        return {key: _from_folder(value, old, new) for key, value in node.items()}
    if isinstance(node, list | tuple):
        return [_from_folder(value, old, new) for value in node]
    if isinstance(node, Path):
        return node if node.is_absolute() else Path(os.path.relpath((old / node).absolute(), new.absolute()))
    return node


def _plain(node: Any) -> Any:
    """Only what YAML knows."""
    if isinstance(node, Mapping):
        return {key: _plain(value) for key, value in node.items()}
    if isinstance(node, list | tuple):
        return [_plain(value) for value in node]
    return node.as_posix() if isinstance(node, Path) else node


def design_files(folder: Path) -> Iterator[Path]:
    """Designs in a folder of designs: `design.yaml` of each folder below it, and other YAML files that lie in it."""
    found = {*folder.glob(f"*/{DESIGN}"), *folder.glob("*.yaml"), *folder.glob("*.yml")}
    yield from sorted(found)
