"""Read boundaries, lines and points from whatever vector file a design names."""

from __future__ import annotations

import difflib
from pathlib import Path

from pyproj import CRS

from geoagro.crs import name_of, parse_crs, same
from geoagro.errors import CrsError, InputError
from geoagro.inputs.files import checksums, find_file, is_given_to_command, reading, vector_parts
from geoagro.inputs.vector.features import Features, Nature, cleaned
from geoagro.inputs.vector.ogr import Layer, layer_crs, list_layers, read_layer, unzipped
from geoagro.inputs.vector.point_list import read_point_list
from geoagro.values.design import VectorSource
from geoagro.values.rules.renamed import new_name
from geoagro.values.site import SourceFile

_GPX_ORDER = ("tracks", "routes", "waypoints")


def read_features(source: VectorSource, *, key: str, folder: Path) -> Features:
    """Read the features that a design names.

    Parameters
    ----------
    source
        File, and where needed layer, CRS and a choice of features.
    key
        Place in the design file for messages, e.g. "inputs.boundary".
    folder
        Where the design file lies.

    Raises
    ------
    InputError
        If the file is missing, unreadable, empty, or has several layers and none is named.
    CrsError
        If the CRS is stated nowhere, or differently by file and design.
    """
    path = find_file(source.file, folder=folder, key=key)
    where = f"{key} ({source.file.name})"
    with reading(where):
        return _read(path, source, where=where, key=key)


def _read(path: Path, source: VectorSource, *, where: str, key: str) -> Features:
    suffix = path.suffix.lower()
    if suffix in (".csv", ".txt"):
        _refuse(where, source, "layer", "where")
        crs = resolved_crs(None, source.crs, where=where, key=key, hint="such as 'EPSG:4326' for points from a GPS")
        return cleaned(read_point_list(path, where=where, crs=crs))
    if suffix == ".gpx":
        return _gpx(path, source, where=where, key=key)
    if suffix == ".dxf":
        return _dxf(path, source, where=where, key=key)
    return _any(unzipped(path, where=where), source, where=where, key=key)


def vector_crs(source: VectorSource, *, key: str, folder: Path) -> CRS:
    """CRS of a source, without reading its features."""
    path = find_file(source.file, folder=folder, key=key)
    where = f"{key} ({source.file.name})"
    stated: CRS | None = None
    if path.suffix.lower() not in (".csv", ".txt", ".dxf"):
        with reading(where):
            file = unzipped(path, where=where)
            stated = _parsed(
                layer_crs(file, source.layer or list_layers(file, where=where)[0].name, where=where), where
            )
    return resolved_crs(stated, source.crs, where=where, key=key)


def source_files(source: VectorSource, *, key: str, folder: Path) -> tuple[SourceFile, ...]:
    """Checksums of the file(s) of a source."""
    path = find_file(source.file, folder=folder, key=key)
    return checksums(key.removeprefix("inputs."), source.file, path, vector_parts(path))


def resolved_crs(stated: CRS | None, given: str | None, *, where: str, key: str, hint: str = "") -> CRS:
    """CRS that a file states, or else the one that the design gives for it; never a guess."""
    if given is None and stated is None:
        hint = hint or "such as 'EPSG:32633'"
        raise CrsError(
            f"{where}: states no coordinate reference system. Find out which it is and {_stating(key, hint)}."
        )
    if given is None:
        assert stated is not None
        return stated
    crs = parse_crs(given, where=f"{key}.crs")
    if stated is not None and not same(stated, crs):
        said, out = ("--crs", "option") if is_given_to_command(key) else (f"{key}.crs", "key")
        raise CrsError(
            f"{where}: states {name_of(stated)}, but {said} says {name_of(crs)}. Take the {out} out, or correct the file."
        )
    return stated or crs


def _stating(key: str, hint: str) -> str:
    """How a CRS is given to a file that states none."""
    if key == "survey":
        return f"give its code ({hint}) with --crs"
    if is_given_to_command(key):
        return f"save the file with it ({hint}), as a GeoPackage does"
    return f"add `crs:` with its code ({hint}) under {key} in the design file"


def _naming_layer(key: str) -> str:
    return "--layer" if is_given_to_command(key) else f"`layer:` under {key}"


def _refuse(where: str, source: VectorSource, *names: str) -> None:
    for name in names:
        if getattr(source, name) is not None:
            raise InputError(f"{where}: a list of points has no `{name}`; take the key out.")


def _any(path: str, source: VectorSource, *, where: str, key: str) -> Features:
    layer = _chosen_layer(list_layers(path, where=where), source.layer, where=where, key=key)
    table, stated, findings = read_layer(path, layer.name, where=where, only=source.where)
    crs = resolved_crs(_parsed(stated, where), source.crs, where=where, key=key)
    return cleaned(Features(where, table.geometry.to_numpy(), table, crs, findings=findings))


def _parsed(stated: str | None, where: str) -> CRS | None:
    return parse_crs(stated, where=where) if stated else None


def _chosen_layer(layers: list[Layer], wanted: str | None, *, where: str, key: str) -> Layer:
    drawn = [layer for layer in layers if layer.geometry is not None]
    names = ", ".join(f"{layer.name} ({layer.geometry})" for layer in drawn)
    if not drawn:
        raise InputError(f"{where}: has no layer with geometry. Name another file.")
    if wanted is not None:
        for layer in drawn:
            if layer.name == wanted:
                return layer
        close = difflib.get_close_matches(wanted, [layer.name for layer in drawn], n=1)
        fix = f"Did you mean {close[0]}?" if close else "Name one of these."
        if moved := new_name("layer", wanted):
            fix = f"In results it {moved}"
        raise InputError(f"{where}: has no layer '{wanted}'; it has {names}. {fix}")
    if len(drawn) > 1:
        raise InputError(f"{where}: has several layers: {names}. Name one with {_naming_layer(key)}.")
    return drawn[0]


def _gpx(path: Path, source: VectorSource, *, where: str, key: str) -> Features:
    """Take tracks, or routes where there are no tracks, or waypoints where there is neither; or what `layer` says."""
    if source.layer is not None and source.layer not in _GPX_ORDER:
        raise InputError(
            f"{where}: {'--layer' if is_given_to_command(key) else f'{key}.layer'} must be one of {', '.join(_GPX_ORDER)} (got '{source.layer}')."
        )
    path = Path(unzipped(path, where=where))
    list_layers(str(path), where=where)
    crs = resolved_crs(CRS.from_epsg(4326), source.crs, where=where, key=key)
    for name in (source.layer,) if source.layer else _GPX_ORDER:
        table, _, findings = read_layer(str(path), name, where=where, only=None)
        if len(table) == 0:
            continue
        if source.where is not None:
            table, _, findings = read_layer(str(path), name, where=where, only=source.where)
        nature: Nature = "listed" if name == "waypoints" else "walked"
        return cleaned(Features(where, table.geometry.to_numpy(), table, crs, nature, findings=findings))
    raise InputError(f"{where}: holds no {source.layer or 'tracks, routes or waypoints'}.")


def _dxf(path: Path, source: VectorSource, *, where: str, key: str) -> Features:
    """`layer` names a layer of the drawing; a ring within a ring is a hole, since DXF can't draw one otherwise."""
    crs = resolved_crs(None, source.crs, where=where, key=key)
    path = Path(unzipped(path, where=where))
    list_layers(str(path), where=where)
    table, _, findings = read_layer(str(path), "entities", where=where, only=source.where, CLOSED_LINE_AS_POLYGON="YES")
    names = sorted(set(table["Layer"]))
    if source.layer is not None:
        table = table[table["Layer"] == source.layer]
        if len(table) == 0:
            raise InputError(f"{where}: the drawing has no layer '{source.layer}'; it has {', '.join(names)}.")
    elif len(names) > 1:
        raise InputError(
            f"{where}: the drawing has several layers: {', '.join(names)}. Name one with {_naming_layer(key)}."
        )
    return cleaned(Features(where, table.geometry.to_numpy(), table, crs, nested_are_holes=True, findings=findings))
