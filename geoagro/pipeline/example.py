"""A small invented field in memory, to try the steps on without any file."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
from pyproj import CRS
from shapely import MultiPolygon, box

from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.pipeline.whole_layout import lay_out
from geoagro.values.design import Design, GroundRule, Inputs, RasterSource, RowRule, VectorSource
from geoagro.values.grid import Grid
from geoagro.values.layout import Layout
from geoagro.values.recipe import Planting
from geoagro.values.site import Site
from geoagro.values.terrain import GroundSource
from geoagro.values.words import Sentence

_WEST, _SOUTH, _WIDE_M, _HIGH_M = 500_000.0, 5_000_000.0, 56.0, 28.0
_SLOPE, _MARGIN_M = 0.08, 20.0


class ExampleField(NamedTuple):
    """What the first steps ask for: the design, the field and its ground.

    >>> from geoagro import example_field
    >>> example_field().design
    Design: Example field; rows straight, every 5 m; plantings apple, lettuce
    """

    design: Design
    site: Site
    source: GroundSource


def example_field() -> ExampleField:
    """Return a field of 56 by 28 m on an even slope of 8 %, apples in straight rows and lettuce between them.

    Place, ground and recipe are invented; the working CRS is UTM zone 33 N. The file names in its design stand for
    nothing on the disk.

    >>> round(example_field().site.boundary.area)
    1568
    """
    crs = CRS.from_epsg(32633)
    design = Design(
        name="Example field",
        inputs=Inputs(
            boundary=VectorSource(file=Path("in-memory.gpkg")), elevation=RasterSource(file=Path("in-memory.tif"))
        ),
        ground=GroundRule(setback_m=1.0),
        rows=RowRule(method="straight", bearing_deg=90.0, spacing_m=5.0),
        plantings=(
            Planting(crop="apple", bed="tree", spacing_m=3.5),
            Planting(crop="lettuce", bed="vegetable", lines=3),
        ),
    )
    field = MultiPolygon([box(_WEST, _SOUTH, _WEST + _WIDE_M, _SOUTH + _HIGH_M)])
    grid = _slope(crs)
    return ExampleField(
        design,
        Site("Example field", field, (), (), crs),
        GroundSource(
            heights=grid, contours=None, slope=None, aspect_deg=None, description=Sentence("an invented even slope")
        ),
    )


@cache
def example_layout() -> Layout:
    """Return the finished layout of the example field, made once in a program.

    >>> example_layout().rows.frame["row"].tolist()
    [1, 2, 3, 4, 5, 6]
    """
    return lay_out(*example_field(), read_crop_library())


def _slope(crs: CRS) -> Grid:
    """Heights that rise evenly to the north, cells of 1 m, 20 m farther than the field on all sides."""
    columns, rows = int(_WIDE_M + 2 * _MARGIN_M), int(_HIGH_M + 2 * _MARGIN_M)
    grid = Grid(np.zeros((rows, columns)), _WEST - _MARGIN_M, _SOUTH + _HIGH_M + _MARGIN_M, 1.0, crs)
    return grid.with_values(np.repeat(200.0 + _SLOPE * (grid.y - _SOUTH)[:, None], columns, axis=1))
