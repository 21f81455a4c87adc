"""From longitude and latitude to metres on the map, and back, without a library of projections in the page."""

from __future__ import annotations

from typing import Any

import numpy as np

from geoagro.crs import WGS84, transform_points
from geoagro.values.report import LaidOut

_REACH_M = 5000.0  # own position is exact this far around the field


def own_position(laid: LaidOut, origin: tuple[float, float]) -> dict[str, Any]:
    """Fit longitude and latitude to metres on the map by a polynomial of third degree (0.1 mm within 5 km), and back."""
    west, south, east, north = laid.boundary.bounds
    x, y = (
        a.ravel()
        for a in np.meshgrid(
            np.linspace(west - _REACH_M, east + _REACH_M, 15), np.linspace(south - _REACH_M, north + _REACH_M, 15)
        )
    )
    lon, lat = transform_points(x, y, laid.crs, WGS84)
    u, v = lon - lon.mean(), lat - lat.mean()
    fits = _cubics(u, v, (x - origin[0], y - origin[1]))
    east, north = x.mean() - origin[0], y.mean() - origin[1]
    back = _cubics((x - origin[0] - east) / _REACH_M, (y - origin[1] - north) / _REACH_M, (u, v))
    return {
        "lon0": float(lon.mean()), "lat0": float(lat.mean()), "x": fits[0], "y": fits[1],
        "x0": float(east), "y0": float(north), "unit": _REACH_M, "lon": back[0], "lat": back[1],
    }  # fmt: skip


def _cubics(u: Any, v: Any, wanted: tuple[Any, Any]) -> list[list[float]]:
    """Coefficients of both polynomials of third degree, in the order that tools.js adds them up."""
    terms = np.column_stack([u**0, u, v, u * u, u * v, v * v, u**3, u * u * v, u * v * v, v**3])
    return [np.linalg.lstsq(terms, values, rcond=None)[0].tolist() for values in wanted]
