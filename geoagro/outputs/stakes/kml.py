"""KML 2.2 for globes and phones: stakes with a look per kind, rows as lines, named as in the field.

Colours are aabbggrr. No picture is named: a viewer would fetch it from a server, and tell that where the field lies.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import shapely

from geoagro.outputs.stakes.mark_words import kind_and_notes
from geoagro.outputs.stakes.places import Places, lonlat_lines
from geoagro.outputs.tables.plain_text import as_markup, printable
from geoagro.outputs.words.say import Words
from geoagro.stakeout.records.stakes import StakeOut
from geoagro.values.base.one_crs import crs_of
from geoagro.values.base.records import Record, records
from geoagro.values.rows import TreeRows
from geoagro.values.stakeout import STAKE_KINDS, TAPE
from geoagro.values.words import say

_SPACE = "http://www.opengis.net/kml/2.2"
_COLOURS = ("ff1e26b3", "ffb3641d", "ff5c6f1f", "ff0080ff", "ff8a2f7a", "ffffffff")
_ROW = "ff406f1f"


def write_kml(path: Path, stakes: StakeOut, rows: TreeRows, places: Places, words: Words, *, title: str) -> None:
    """Write folders `stakes` and `rows`; a line's or point's name is what maps show."""
    root = ET.Element("kml", xmlns=_SPACE)
    document = ET.SubElement(root, "Document")
    _text(document, "name", title)
    for code, colour in zip(STAKE_KINDS, _COLOURS, strict=True):
        _style(document, code, colour, scale=0.6 if code == TAPE else 1.0)
    line = ET.SubElement(ET.SubElement(document, "Style", id="row"), "LineStyle")
    _text(line, "color", _ROW)
    _text(line, "width", "3")
    folder = _folder(document, "stakes", words(say("Stakes")))
    for lon, lat, mark in zip(places.lon, places.lat, records(stakes.marks), strict=True):
        place = _placemark(folder, mark.text("stake"), f"#{mark.text('kind')}", _description(mark, words))
        _text(ET.SubElement(place, "Point"), "coordinates", f"{lon:.8f},{lat:.8f}")
    folder = _folder(document, "rows", words(say("Rows")))
    labels = stakes.marks.drop_duplicates("row")["label"]
    for label, shape in zip(labels, lonlat_lines(rows.frame.geometry, crs_of(rows.frame)), strict=True):
        place = _placemark(folder, words(say("Row {row}"), row=label), "#row", "")
        drawn = ET.SubElement(place, "LineString")
        _text(drawn, "tessellate", "1")
        _text(drawn, "coordinates", " ".join(f"{x:.8f},{y:.8f}" for x, y in shapely.get_coordinates(shape)))
    ET.indent(root)
    ET.ElementTree(root).write(path, encoding="utf-8", xml_declaration=True)


def _style(document: ET.Element, name: str, colour: str, *, scale: float) -> None:
    style = ET.SubElement(document, "Style", id=name)
    icon = ET.SubElement(style, "IconStyle")
    _text(icon, "color", colour)
    _text(icon, "scale", f"{scale:g}")
    _text(ET.SubElement(style, "LabelStyle"), "scale", f"{0.8 * scale:g}")


def _folder(document: ET.Element, key: str, name: str) -> ET.Element:
    folder = ET.SubElement(document, "Folder", id=key)
    _text(folder, "name", name)
    return folder


def _placemark(folder: ET.Element, name: str, style: str, description: str) -> ET.Element:
    place = ET.SubElement(folder, "Placemark")
    _text(place, "name", name)
    if description:
        _text(place, "description", as_markup(description))
    _text(place, "styleUrl", style)
    return place


def _text(parent: ET.Element, tag: str, text: str) -> None:
    ET.SubElement(parent, tag).text = printable(text)


def _description(mark: Record, words: Words) -> str:
    z = mark.number("z")
    message = (
        say("Row {row}, {along:.1f} m along it, height {height:.2f} m: {what}")
        if np.isfinite(z)
        else say("Row {row}, {along:.1f} m along it: {what}")
    )
    what = kind_and_notes(mark.text("kind"), mark.text("note"), words)
    return words(message, row=mark.text("label"), along=mark.number("station_m"), height=z, what=what)
