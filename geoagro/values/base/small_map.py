"""A small map as inline SVG, for values shown in notebooks: no library, no file, at most a few hundred kilobytes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

_SIDE_PX = 420.0
_MOST_POINTS = 3000


@dataclass(frozen=True, eq=False)
class Drawn:
    """Geometries (an array of shapely objects in one CRS) and how they look; `width` in pixels, paint "none" for lines."""

    shapes: NDArray[np.object_]
    paint: str
    ink: str
    width: float


def small_map(layers: Sequence[Drawn]) -> str:
    """Draw layers from bottom to top, north up, 420 pixels on the longer side; empty text where there is nothing.

    >>> small_map([])
    ''
    >>> small_map([Drawn(np.array([shapely.box(0, 0, 2, 1)]), "#fff", "#000", 1.0)])[:54]
    '<svg xmlns="http://www.w3.org/2000/svg" width="420" he'
    """
    shown = [layer for layer in layers if len(layer.shapes)]
    if not shown:
        return ""
    west, south, east, north = shapely.total_bounds(np.concatenate([layer.shapes for layer in shown]))
    scale = _SIDE_PX / max(east - west, north - south, 1e-9)
    wide, high = (east - west) * scale, (north - south) * scale
    body = "".join(_path(layer, west, north, scale) for layer in shown)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.0f}" height="{high:.0f}" '
        f'viewBox="-2 -2 {wide + 4:.0f} {high + 4:.0f}">{body}</svg>'
    )


def _path(layer: Drawn, west: float, north: float, scale: float) -> str:
    parts = shapely.get_parts(layer.shapes)
    kind = shapely.get_type_id(parts)
    data = _dots(parts[kind == 0], west, north, scale)
    lines = [*parts[(kind == 1) | (kind == 2)], *shapely.get_rings(parts[kind == 3])]
    data += "".join(_line(line, west, north, scale) for line in shapely.simplify(lines, 0.4 / scale))
    return (
        f'<path d="{data}" fill="{layer.paint}" stroke="{layer.ink}" stroke-width="{layer.width:g}" '
        'fill-rule="evenodd" stroke-linecap="round"/>'
    )


def _line(line: shapely.LineString, west: float, north: float, scale: float) -> str:
    xy = (shapely.get_coordinates(line) - [west, north]) * [scale, -scale]
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in xy) + ("Z" if line.is_closed else "")


def _dots(points: NDArray[np.object_], west: float, north: float, scale: float) -> str:
    """Dots of zero length; of very many points every n-th."""
    xy = (shapely.get_coordinates(points) - [west, north]) * [scale, -scale]
    return "".join(f"M{x:.1f} {y:.1f}h0" for x, y in xy[:: len(xy) // _MOST_POINTS + 1])
