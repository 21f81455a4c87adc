"""DXF for drawing programs and machine guidance: one layer per kind of thing, in the unit of the CRS asked for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from ezdxf import bbox, options, units  # type: ignore[attr-defined]
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new as new_drawing
from ezdxf.layouts.layout import Modelspace
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Shapes
from geoagro.crs import transform_geometries
from geoagro.outputs.stakes.dxf_words import NoteLine, layer_words, marks_layer, note_lines
from geoagro.outputs.stakes.places import Places
from geoagro.outputs.stakes.walk_legs import walk_legs
from geoagro.outputs.tables.plain_text import printable
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.stakeout.records.stakes import StakeOut
from geoagro.values.base.records import records
from geoagro.values.beds import Beds
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.stakeout import STAKE_KINDS

_TEXT_M = 0.8
_TITLE_TIMES, _LINE_TIMES = 1.5, 1.7
"""Of the title against other notes, and from line to line, in heights of text."""
# layer -> colour number of the format's own palette (7 is black on white)
_COLOURS = {
    "FIELD": 7, "EXCLUSIONS": 8, "TREE_BEDS": 94, "VEGETABLE_BEDS": 32, "ROWS": 3, "ROW_NUMBERS": 3, "WALK": 4, "WAYS_TO_WALK": 4, "NAMES": 7, "NOTES": 7,
}  # fmt: skip
_US_SURVEY_FOOT = 21  # of $INSUNITS in the format's reference (from memory); the library has no name for it
_UNITS: dict[float, int] = {1.0: units.M, 0.3048: units.FT, 1200 / 3937: _US_SURVEY_FOOT}
_CROSS, _POINT_SIZE_M = 34, 0.3  # $PDMODE: a cross in a circle; by default points are a single dot on the screen


def write_dxf(
    path: Path,
    stakes: StakeOut,
    rows: TreeRows,
    site: Site,
    places: Places,
    *,
    beds: Beds | None = None,
    words: Words = ENGLISH,
) -> None:
    """Write field, ground kept free, beds, rows with their numbers, walk, and per kind the marks as 3D points with names.

    Layers are named alike in every language; what they hold (their descriptions) and the notes under the field are said.
    `places` are in a projected CRS, since drawings have no degrees. Marks lie at their height where that is known; those
    without one lie on layers of their own (`..._NO_HEIGHT`) at 0, so that none is taken for sea level.
    """
    with _without_clock():
        drawing = new_drawing("R2010", setup=False)
    drawing.header["$INSUNITS"] = _unit(places.metres)
    drawing.header["$PDMODE"], drawing.header["$PDSIZE"] = _CROSS, _POINT_SIZE_M / places.metres
    for name, colour in _COLOURS.items():
        drawing.layers.add(name, color=colour)
    drawing.layers.get("WAYS_TO_WALK").off()  # from one start to every part's first stake: a fan over all rows
    space = drawing.modelspace()

    def moved(geometries: Iterable[BaseGeometry]) -> Shapes:
        return transform_geometries(np.array(list(geometries), dtype=object), site.crs, places.crs)

    _add_rings(space, moved([site.boundary]), "FIELD")
    _add_rings(space, moved(exclusion.area for exclusion in site.exclusions), "EXCLUSIONS")
    if beds is not None:
        _add_rings(space, moved(beds.tree_beds.geometry), "TREE_BEDS")
        _add_rings(space, moved(beds.beds.geometry), "VEGETABLE_BEDS")
    legs = list(walk_legs(stakes.walk, stakes.marks))
    ways, walks = [way for _, way, _ in legs if not way.is_empty], [walk for _, _, walk in legs if not walk.is_empty]
    for layer, lines in (("ROWS", rows.frame.geometry), ("WALK", walks), ("WAYS_TO_WALK", ways)):
        for line in moved(lines):
            space.add_lwpolyline(shapely.get_coordinates(line), dxfattribs={"layer": layer})
    _add_row_numbers(space, moved(rows.frame.geometry), stakes.marks.drop_duplicates("row")["label"], places)
    _add_marks(drawing, stakes.marks, places)
    _add_notes(space, note_lines(stakes, places, site.name, words), places)
    for entry in drawing.layers:
        if entry.dxf.name in _COLOURS or entry.dxf.name.startswith("STAKES_"):
            entry.description = layer_words(entry.dxf.name, words)
    _set_extents(drawing, space)
    _order_classes(drawing)
    with path.open("w", encoding="utf-8") as out, _without_clock():
        drawing.write(out)


@contextmanager
def _without_clock() -> Iterator[None]:
    """Have the drawing carry no time of writing and no number drawn by chance, so that it stays the same."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _order_classes(drawing: Drawing) -> None:
    """Have the classes stand in the order of their names; the library takes them from a set, in another order each run."""
    drawing.classes.add_required_classes(drawing.dxfversion)
    classes = sorted(drawing.classes.classes.items())
    drawing.classes.classes.clear()
    drawing.classes.classes.update(classes)


def _add_rings(space: Modelspace, areas: Shapes, layer: str) -> None:
    for area in areas:
        for part in shapely.get_parts(area):
            for ring in (part.exterior, *part.interiors):
                space.add_lwpolyline(shapely.get_coordinates(ring), close=True, dxfattribs={"layer": layer})


def _unit(metres: float) -> int:
    """Code of the drawing's unit; 0 (none) where the format knows no such unit."""
    return next((code for size, code in _UNITS.items() if abs(size - metres) < 1e-9), 0)


def _add_row_numbers(space: Modelspace, lines: Shapes, labels: pd.Series, places: Places) -> None:
    """Write each row's number before its start."""
    height = 1.5 * _TEXT_M / places.metres
    for line, label in zip(lines, labels, strict=True):
        (x, y), (ahead_x, ahead_y) = shapely.get_coordinates(line)[:2]
        far = max(float(np.hypot(ahead_x - x, ahead_y - y)), 1e-9)
        text = space.add_text(str(label), height=height, dxfattribs={"layer": "ROW_NUMBERS"})
        text.set_placement(
            (x - 1.5 * height * (ahead_x - x) / far, y - 1.5 * height * (ahead_y - y) / far),
            align=TextEntityAlignment.MIDDLE_CENTER,
        )


def _set_extents(drawing: Drawing, space: Modelspace) -> None:
    """Say where the drawing lies, so that programs open on it, and turn the first view there."""
    box = bbox.extents(space)
    drawing.header["$EXTMIN"], drawing.header["$EXTMAX"] = box.extmin, box.extmax
    space.dxf.extmin, space.dxf.extmax = box.extmin, box.extmax
    drawing.set_modelspace_vport(height=1.05 * float(max(box.size.x, box.size.y)), center=(box.center.x, box.center.y))


def _add_marks(drawing: Drawing, marks: gpd.GeoDataFrame, places: Places) -> None:
    space = drawing.modelspace()
    for code, kind in STAKE_KINDS.items():
        drawing.layers.add(marks_layer(code), color=kind.drawing_colour)
        if marks.loc[marks["kind"] == code, "z"].isna().any():
            drawing.layers.add(marks_layer(code, height_known=False), color=kind.drawing_colour)
    height = _TEXT_M / places.metres
    z = marks["z"].to_numpy() / places.metres
    for x, y, up, mark in zip(places.east, places.north, z, records(marks), strict=True):
        layer = marks_layer(mark.text("kind"), height_known=bool(np.isfinite(up)))
        space.add_point((x, y, up if np.isfinite(up) else 0.0), dxfattribs={"layer": layer})
        text = space.add_text(mark.text("stake"), height=height, dxfattribs={"layer": "NAMES"})
        text.set_placement((x + height / 2, y + height / 2), align=TextEntityAlignment.LEFT)


def _add_notes(space: Modelspace, lines: Iterable[NoteLine], places: Places) -> None:
    """Write the notes under all that is drawn, the first line larger."""
    box, height = bbox.extents(space), _TEXT_M / places.metres
    x, y = box.extmin.x, box.extmin.y - height
    for number, line in enumerate(lines):
        size = height * (1 if number else _TITLE_TIMES)
        y -= _LINE_TIMES * size
        text = space.add_text(_plain(line.text), height=size, dxfattribs={"layer": "NOTES"})
        text.set_placement((x, y), align=TextEntityAlignment.LEFT)
        if line.colour is not None:
            text.dxf.color = line.colour


def _plain(text: str) -> str:
    """Take out what drawing programs read as a code, or can't write in one line."""
    return " ".join(printable(text).split()).replace("%%", "% %").replace("^", " ")
