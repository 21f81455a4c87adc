"""DXF for drawing programs and machine guidance: one layer per kind of thing, in the unit of the CRS asked for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely
from ezdxf import options, units  # type: ignore[attr-defined]
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new as new_drawing
from ezdxf.layouts.layout import Modelspace
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Shapes
from geoagro.crs import transform_geometries
from geoagro.outputs.stakes.places import Places
from geoagro.stakeout.records.stakes import StakeOut
from geoagro.values.base.records import records
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.stakeout import STAKE_KINDS

_TEXT_M = 0.8
# layer -> colour number of the format's own palette (7 is black on white)
_COLOURS = {"FIELD": 7, "KEPT_FREE": 8, "ROWS": 3, "WALK": 4, "NAMES": 7}
_UNITS: dict[float, int] = {1.0: units.M, 0.3048: units.FT}  # others are left without a unit


def write_dxf(path: Path, stakes: StakeOut, rows: TreeRows, site: Site, places: Places) -> None:
    """Write field, ground kept free, rows, walk, and per kind the marks as 3D points with their names.

    `places` are in a projected CRS, since drawings have no degrees.
    """
    with _without_clock():
        drawing = new_drawing("R2010", setup=False)
    drawing.units = _UNITS.get(places.metres, 0)
    for name, colour in _COLOURS.items():
        drawing.layers.add(name, color=colour)
    space = drawing.modelspace()

    def moved(geometries: Iterable[BaseGeometry]) -> Shapes:
        return transform_geometries(np.array(list(geometries), dtype=object), site.crs, places.crs)

    _add_rings(space, moved([site.boundary]), "FIELD")
    _add_rings(space, moved(exclusion.area for exclusion in site.exclusions), "KEPT_FREE")
    for layer, lines in (("ROWS", rows.frame.geometry), ("WALK", stakes.walk.geometry)):
        for line in moved(lines):
            space.add_lwpolyline(shapely.get_coordinates(line), dxfattribs={"layer": layer})
    _add_marks(drawing, stakes.marks, places)
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


def _add_marks(drawing: Drawing, marks: gpd.GeoDataFrame, places: Places) -> None:
    space = drawing.modelspace()
    for code, kind in STAKE_KINDS.items():
        drawing.layers.add(f"MARKS_{code.upper()}", color=kind.drawing_colour)
    height = _TEXT_M / places.metres
    z = np.nan_to_num(marks["z"].to_numpy()) / places.metres
    for x, y, up, mark in zip(places.east, places.north, z, records(marks), strict=True):
        space.add_point((x, y, up), dxfattribs={"layer": f"MARKS_{mark.text('kind').upper()}"})
        text = space.add_text(mark.text("mark"), height=height, dxfattribs={"layer": "NAMES"})
        text.set_placement((x + height / 2, y + height / 2), align=TextEntityAlignment.LEFT)
