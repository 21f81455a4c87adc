"""A ready map inside the GeoPackage: groups, drawing order and looks, so that a desktop viewer opens it as one project.

Desktop viewers that keep projects in a GeoPackage look for the table `qgis_projects`: name, description, and the
project's file (XML in a zip archive) as hexadecimal text. Paths are relative to the GeoPackage, so it may be moved.
"""

from __future__ import annotations

import io
import json
import sqlite3
import zipfile
from collections.abc import Sequence
from xml.etree.ElementTree import Element, SubElement, tostring

import numpy as np
from pyproj import CRS

from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.style_qml import looks_and_table

FIXED_ZIP_DATE = (2000, 1, 1, 0, 0, 0)
_GEOMETRY = {
    "Point": "Point",
    "LineString": "Line",
    "Polygon": "Polygon",
    "MultiPolygon": "Polygon",
    "none": "No geometry",
}
_MARGIN = 0.04


def write_project(
    database: sqlite3.Connection, layers: Sequence[OutputLayer], crs: CRS, *, file: str, title: str
) -> None:
    """Add a project named after the file (without its ending) to an open GeoPackage.

    Parameters
    ----------
    layers
        As `spoken` gives them, in drawing order, the lowest first.
    file
        Name of the GeoPackage, for the paths of the layers.
    """
    name = file.rsplit(".", 1)[0]
    database.execute("CREATE TABLE qgis_projects (name TEXT PRIMARY KEY, metadata BLOB, content BLOB)")
    about = json.dumps({"last_modified_time": "2000-01-01T00:00:00", "last_modified_user": ""})
    content = _zipped(f"{name}.qgs", _document(layers, crs, file, title))
    database.execute("INSERT INTO qgis_projects VALUES (?, ?, ?)", (name, about, content.hex()))


def _zipped(name: str, text: bytes) -> bytes:
    """Pack without any clock, so that the same layout gives the same bytes."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(zipfile.ZipInfo(name, FIXED_ZIP_DATE), text, zipfile.ZIP_DEFLATED)
    return packed.getvalue()


def _document(layers: Sequence[OutputLayer], crs: CRS, file: str, title: str) -> bytes:
    root = Element("qgis", projectname=title, version="3.22.0")
    SubElement(root, "title").text = title
    SubElement(root, "projectCrs").append(_srs(crs))
    tree = SubElement(root, "layer-tree-group")
    _fill_tree(tree, layers, file)
    canvas = SubElement(root, "mapcanvas", name="theMapCanvas", annotationsVisible="1")
    SubElement(canvas, "units").text = "meters"
    _extent(SubElement(canvas, "extent"), layers)
    SubElement(canvas, "destinationsrs").append(_srs(crs))
    shown = SubElement(root, "projectlayers")
    shown.extend([_map_layer(layer, crs, file) for layer in layers])
    paths = SubElement(SubElement(root, "properties"), "Paths")
    SubElement(paths, "Absolute", type="bool").text = "false"
    text: bytes = tostring(root, encoding="utf-8")
    return b"<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n" + text


def _fill_tree(tree: Element, layers: Sequence[OutputLayer], file: str) -> None:
    """List groups with their layers, the highest first; tables in a group of their own at the end."""
    on_top = [*(x for x in reversed(layers) if not x.is_table), *(x for x in layers if x.is_table)]
    groups: dict[str, Element] = {}
    for layer in on_top:
        if layer.group not in groups:
            is_open = "0" if layer.is_table else "1"
            groups[layer.group] = SubElement(
                tree, "layer-tree-group", name=layer.group, checked="Qt::Checked", expanded=is_open
            )
        SubElement(
            groups[layer.group],
            "layer-tree-layer",
            id=_id(layer),
            name=layer.identifier,
            source=_source(layer, file),
            providerKey="ogr",
            checked="Qt::Unchecked" if layer.starts_hidden else "Qt::Checked",
            expanded="0",
        )


def _map_layer(layer: OutputLayer, crs: CRS, file: str) -> Element:
    kind = _GEOMETRY[layer.spec.geometry]
    element = Element("maplayer", type="vector", geometry=kind, autoRefreshEnabled="0")
    SubElement(element, "id").text = _id(layer)
    SubElement(element, "datasource").text = _source(layer, file)
    SubElement(element, "layername").text = layer.identifier
    SubElement(element, "abstract").text = layer.note
    if layer.spec.geometry != "none":
        SubElement(element, "srs").append(_srs(crs))
    SubElement(element, "provider", encoding="UTF-8").text = "ogr"
    attributes, parts = looks_and_table(layer.style, layer.spec, layer.columns)
    element.attrib |= attributes
    element.extend(parts)
    return element


def _id(layer: OutputLayer) -> str:
    """Identify the layer in the project; viewers give an id of ten letters or fewer a name of their own and lose it."""
    return f"geoagro_{layer.table}_layer"


def _source(layer: OutputLayer, file: str) -> str:
    return f"./{file}|layername={layer.table}"


def _srs(crs: CRS) -> Element:
    srs = Element("spatialrefsys", nativeFormat="Wkt")
    SubElement(srs, "wkt").text = crs.to_wkt()
    authority = crs.to_authority(min_confidence=100)
    SubElement(srs, "authid").text = ":".join(authority) if authority else ""
    return srs


def _extent(element: Element, layers: Sequence[OutputLayer]) -> None:
    bounds = np.array([x.frame.total_bounds for x in layers if x.spec.geometry != "none" and len(x.frame)]).reshape(
        -1, 4
    )
    if not len(bounds):
        return
    low, high = bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)
    margin = _MARGIN * float(np.max(high - low))
    edges = {"xmin": low[0] - margin, "ymin": low[1] - margin, "xmax": high[0] + margin, "ymax": high[1] + margin}
    for name, value in edges.items():
        SubElement(element, name).text = f"{value:.3f}"
