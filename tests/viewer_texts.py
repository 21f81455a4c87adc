"""All that a GIS viewer shows of a GeoPackage beside its cells: titles, groups, legends, columns' heads, lists of values."""

import io
import re
import sqlite3
import zipfile
from contextlib import closing
from xml.etree import ElementTree

SE = "{http://www.opengis.net/se}"
_TABLES = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'rtree%' AND name NOT LIKE 'sqlite%'"
_SHOWN = ("gpkg_contents", "gpkg_data_columns", "gpkg_data_column_constraints", "layer_styles", "qgis_projects")


def shown(path):
    """Each text with where it stands."""
    with closing(sqlite3.connect(path)) as database:
        for table, title, note in database.execute("SELECT table_name, identifier, description FROM gpkg_contents"):
            yield f"title of {table}", title
            yield f"note of {table}", note or ""
        columns = database.execute(
            "SELECT table_name, column_name, name, description FROM gpkg_data_columns"
        ).fetchall()
        yield from ((f"head of {table}.{column}", head) for table, column, head, _ in columns)
        yield from ((f"meaning of {table}.{column}", meaning) for table, column, _, meaning in columns)
        tables = {name for (name,) in database.execute(_TABLES)}
        if "gpkg_data_column_constraints" in tables:
            query = "SELECT constraint_name, description FROM gpkg_data_column_constraints"
            yield from ((f"value of {name}", text) for name, text in database.execute(query))
        if "layer_styles" in tables:
            for table, title, qml, sld in database.execute(
                "SELECT f_table_name, description, styleQML, styleSLD FROM layer_styles"
            ):
                yield f"title of the look of {table}", title
                yield from _of_qml(table, ElementTree.fromstring(qml.split("\n", 1)[1]))
                rules = ElementTree.fromstring(sld.encode()).iter(f"{SE}Rule") if sld else ()
                yield from ((f"rule of {table}", rule.findtext(f"{SE}Name")) for rule in rules)
        if "qgis_projects" in tables:
            yield from _of_project(database.execute("SELECT content FROM qgis_projects").fetchone()[0])


def _of_qml(table, root):
    for category in root.iter("category"):
        yield f"legend of {table}", category.get("label")
    for alias in root.iter("alias"):
        yield f"alias of {table}.{alias.get('field')}", alias.get("name")
    for widget in root.iter("editWidget"):
        if widget.get("type") == "ValueMap":
            lists = [option for option in widget.iter("Option") if option.get("type") == "QString"]
            yield from ((f"list of {table}", option.get("name")) for option in lists)


def _of_project(content):
    with zipfile.ZipFile(io.BytesIO(bytes.fromhex(content))) as archive:
        root = ElementTree.fromstring(archive.read(archive.namelist()[0]))
    for kind in ("layer-tree-group", "layer-tree-layer"):
        yield from ((f"{kind} of the project", one.get("name") or "") for one in root.iter(kind))
    for layer in root.iter("maplayer"):
        name = re.sub(".*layername=", "", layer.findtext("datasource"))
        yield f"layer {name} of the project", layer.findtext("layername")
        yield f"abstract of {name} in the project", layer.findtext("abstract") or ""
        yield from _of_qml(name, layer)


def cells(path):
    """Every table that isn't for viewers alone: its columns' names and kinds, and its rows."""
    with closing(sqlite3.connect(path)) as database:
        tables = [name for (name,) in database.execute(_TABLES) if name not in _SHOWN]
        return {
            table: (
                database.execute(f"PRAGMA table_info('{table}')").fetchall(),
                database.execute(f'SELECT * FROM "{table}"').fetchall(),
            )
            for table in sorted(tables)
        }
