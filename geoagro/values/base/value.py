"""What the large values share: they print in a few lines, show a small map in notebooks, and compare without raising."""

from __future__ import annotations

import html
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import ClassVar

import numpy as np
from pydantic import BaseModel
from pyproj import CRS
from shapely.geometry.base import BaseGeometry

from geoagro.frames import gpd, pd
from geoagro.values.base.small_map import Drawn, small_map
from geoagro.values.layers import LayerSpec

_WIDE = 100
_MOST_LINES = 6


class Value:
    """Base of frozen dataclasses that hold frames, arrays or geometry (declare them with eq=False, repr=False).

    Two values are equal where all their fields are: arrays by shape and numbers (NaN equals NaN), frames by columns,
    rows and CRS, geometry by its coordinates. They can't be hashed. `LAYERS` declares the layers and tables among the
    fields; the doors of the public steps check them.
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {}

    def __eq__(self, other: object) -> bool:
        if type(self) is not type(other):
            return NotImplemented
        return all(same(getattr(self, name), getattr(other, name)) for name in _names(self))

    __hash__ = None  # type: ignore[assignment]  # equal by contents that can be changed in place

    def __repr__(self) -> str:
        text = f"{type(self).__name__}: " + "; ".join(f"{name} {told}" for name, told in self.in_short().items())
        return "\n".join(textwrap.wrap(text, _WIDE, subsequent_indent="  ", max_lines=_MOST_LINES, placeholder=" ..."))

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><th style='text-align:left'>{html.escape(name)}</th><td style='text-align:left'>{html.escape(told)}</td></tr>"
            for name, told in self.in_short().items()
        )
        return f"<div><b>{type(self).__name__}</b><table>{rows}</table>{small_map(self.map_layers())}</div>"

    def in_short(self) -> dict[str, str]:
        """Name and short text of what a reader wants to know first; each field unless a value says otherwise."""
        return {name: brief(getattr(self, name)) for name in _names(self)}

    def map_layers(self) -> tuple[Drawn, ...]:
        """Give what the small map shows, from bottom to top; nothing unless a value says otherwise."""
        return ()


def _names(value: object) -> list[str]:
    return [field.name for field in fields(value)] if is_dataclass(value) else []


def same(a: object, b: object) -> bool:
    """Tell whether two fields hold the same, whatever they are; never raises for arrays and frames.

    >>> same(np.array([1.0, np.nan]), np.array([1.0, np.nan])), same((1, "a"), (1, "b"))
    (True, False)
    """
    if isinstance(a, pd.DataFrame | pd.Series) or isinstance(b, pd.DataFrame | pd.Series):
        return _same_frames(a, b)
    if isinstance(a, np.ndarray) or isinstance(b, np.ndarray):
        return _same_arrays(a, b)
    if isinstance(a, Mapping) and isinstance(b, Mapping):
        return a.keys() == b.keys() and all(same(a[key], b[key]) for key in a)
    if isinstance(a, tuple | list) and isinstance(b, tuple | list):
        return len(a) == len(b) and all(same(x, y) for x, y in zip(a, b, strict=True))
    if isinstance(a, float) and isinstance(b, float) and np.isnan(a) and np.isnan(b):
        return True
    return bool(a == b)


def _same_frames(a: object, b: object) -> bool:
    if type(a) is not type(b) or getattr(a, "crs", None) != getattr(b, "crs", None):
        return False
    return bool(a.equals(b))  # type: ignore[attr-defined]


def _same_arrays(a: object, b: object) -> bool:
    if not (isinstance(a, np.ndarray) and isinstance(b, np.ndarray)) or a.shape != b.shape or a.dtype != b.dtype:
        return False
    return bool(np.array_equal(a, b, equal_nan=bool(np.issubdtype(a.dtype, np.inexact))))


def brief(value: object) -> str:  # noqa: PLR0911  # one line per kind
    """Tell a field in a few words.

    >>> from shapely import box
    >>> brief(box(0, 0, 30, 40)), brief(np.zeros((2, 3))), brief(("a", "b"))
    ('Polygon of 1,200 m²', '2 x 3 float64', '2')
    """
    if isinstance(value, pd.DataFrame):
        return f"{len(value):,} rows"
    if isinstance(value, np.ndarray):
        return f"{' x '.join(str(n) for n in value.shape)} {value.dtype}"
    if isinstance(value, BaseGeometry):
        size = f"{value.area:,.0f} m²" if value.area else f"{value.length:,.0f} m"
        return f"{value.geom_type} of {size}"
    if isinstance(value, CRS):
        return crs_name(value)
    if isinstance(value, Value | BaseModel):
        return type(value).__name__
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, Mapping | Sequence) and not isinstance(value, str):
        return f"{len(value):,}"
    return textwrap.shorten(str(value), 60, placeholder=" ...") if value is not None else "none"


def crs_name(crs: CRS | None) -> str:
    """Code of a CRS where it has one, else its name."""
    if crs is None:
        return "no CRS"
    code = crs.to_authority()
    return ":".join(code) if code else str(crs.name)


def layer(frame: gpd.GeoDataFrame, paint: str, ink: str, width: float = 0.5) -> Drawn:
    """Make a layer of the small map from a frame."""
    return Drawn(np.asarray(frame.geometry.to_numpy(), dtype=object), paint, ink, width)


def shape(geometry: BaseGeometry, paint: str, ink: str, width: float = 0.5) -> Drawn:
    """Make a layer of the small map from one geometry."""
    return Drawn(np.array([geometry], dtype=object), paint, ink, width)
