"""A folder with a design and an outline for each field of a layer, so that every command works on each of them."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
from pyproj import CRS

from geoagro.errors import OutputError
from geoagro.inputs.design.own_file import BOUNDARY, DESIGN, FieldAsked, own_design, read_fields
from geoagro.outputs.geopackage.writer import write_plain
from geoagro.outputs.tables.plain_text import file_stem
from geoagro.values.design import VectorSource


def designs_of_layer(source: VectorSource, shared: Path, folder: Path, *, name_column: str) -> list[Path]:
    """Write a folder with design and outline for each field; what is the same as before keeps its time of change.

    Returns the design files, in the order of the layer.

    Raises
    ------
    InputError, DesignError
        Where the layer or a field's settings can't be used; nothing is written then.
    OutputError
        Where a folder can't be written to, or two names give one folder.
    """
    layer = read_fields(source, folder=Path(), name_column=name_column)
    places = _places([field.name for field in layer.fields], folder)
    texts = [own_design(shared, field, place) for field, place in zip(layer.fields, places, strict=True)]
    for field, place, text in zip(layer.fields, places, texts, strict=True):
        _write(field, place, text, layer.crs)
    return [place / DESIGN for place in places]


def _places(names: list[str], folder: Path) -> list[Path]:
    """Give each field a folder, named so that every system takes it."""
    stems = [file_stem(name) for name in names]
    taken: dict[str, str] = {}
    for stem, name in zip(stems, names, strict=True):
        other = taken.setdefault(stem.casefold(), name)
        if other != name:
            raise OutputError(f"fields '{other}' and '{name}' would share the folder {stem}; rename one of them.")
    return [folder / stem for stem in stems]


def _write(field: FieldAsked, place: Path, text: str, crs: CRS) -> None:
    try:
        place.mkdir(parents=True, exist_ok=True)
        outline = gpd.GeoDataFrame({"name": [field.name]}, geometry=[field.outline], crs=crs)
        new = place / f"new-{BOUNDARY}"
        new.unlink(missing_ok=True)
        write_plain(new, outline, layer="boundary")
        _keep_or_replace(new, place / BOUNDARY)
        (place / f"new-{DESIGN}").write_text(text, encoding="utf-8")
        _keep_or_replace(place / f"new-{DESIGN}", place / DESIGN)
    except OSError as error:
        raise OutputError(f"{place} can't be written: {error.strerror}. Choose another --output.") from error


def _keep_or_replace(new: Path, old: Path) -> None:
    if old.is_file() and old.read_bytes() == new.read_bytes():
        new.unlink()
    else:
        new.replace(old)
