"""The ground in light and shade, as a picture inside a map page."""

from __future__ import annotations

import base64
import io
from typing import Any

import numpy as np
from PIL import Image

from geoagro.outputs.drawing.ground import light_and_shade, relief_light
from geoagro.outputs.map.parts import Box
from geoagro.values.grid import Grid
from geoagro.values.terrain import Terrain

_RELIEF_PIXELS = 700


def relief(terrain: Terrain | None, bounds: Box) -> dict[str, Any] | None:
    """Shade the ground in and a little around these bounds; None where there is no terrain."""
    if terrain is None:
        return None
    grid = _around(terrain.heights or terrain.slope, bounds)
    image = np.round(light_and_shade(relief_light(grid, is_height=terrain.heights is not None)) * 255).astype(np.uint8)
    file = io.BytesIO()
    Image.fromarray(image, "RGBA").quantize(64).save(file, "PNG", optimize=True)
    source = "data:image/png;base64," + base64.b64encode(file.getvalue()).decode()
    return {"source": source, "box": list(grid.bounds)}


def _around(grid: Grid, bounds: Box) -> Grid:
    west, south, east, north = bounds
    room = 0.06 * max(east - west, north - south)
    columns = np.flatnonzero((grid.x >= west - room) & (grid.x <= east + room))
    rows = np.flatnonzero((grid.y >= south - room) & (grid.y <= north + room))
    step = max(1, round(max(len(columns), len(rows)) / _RELIEF_PIXELS))
    values = grid.values[rows[0] : rows[-1] + 1 : step, columns[0] : columns[-1] + 1 : step]
    corner = grid.west + columns[0] * grid.cell_m, grid.north - rows[0] * grid.cell_m
    return Grid(values, *corner, grid.cell_m * step, grid.crs)
