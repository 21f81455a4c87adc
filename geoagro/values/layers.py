"""What a layer or table of the result holds: its columns, their units and their meaning.

One declaration serves the check when a value is built, the field descriptions inside the GeoPackage and
the tables of the guide.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, overload

import numpy as np
import shapely
from pyproj import CRS

from geoagro.errors import LayoutError
from geoagro.frames import gpd, pd
from geoagro.values.words import CropName, Sentence

Kind = Literal["int", "float", "text", "date", "bool"]
GeometryKind = Literal["Point", "LineString", "Polygon", "MultiPolygon", "none"]

_DTYPES: dict[str, str] = {
    "int": "int64",
    "float": "float64",
    "text": "str",
    "date": "datetime64[s]",
    "bool": "bool",
}


@dataclass(frozen=True)
class Field:
    """A column: its name (with the unit as suffix), kind, and one sentence of meaning.

    `values` lists all that a text may be, where that is fixed.
    """

    name: str
    kind: Kind
    description: str
    unit: str = ""
    values: tuple[str, ...] = ()

    @property
    def head(self) -> str:
        """Words for the column head, without the unit.

        >>> Field("balance_p50", "float", "Median balance of the simulated runs.", "money").head
        'Balance p50'
        """
        suffix = "_" + {"%": "pct", "1/ha": "per_ha"}.get(self.unit, self.unit)
        words = (self.name.removesuffix(suffix) if self.unit else self.name).replace("_", " ")
        return words[:1].upper() + words[1:]


@dataclass(frozen=True)
class LayerSpec:
    """A layer (or a table, where geometry is "none") and its columns in order.

    `placed` is False for a layer whose features may lie nowhere (an empty geometry), such as what was seen without a
    position.
    """

    name: str
    title: str
    geometry: GeometryKind
    fields: tuple[Field, ...]
    placed: bool = True

    @property
    def columns(self) -> list[str]:
        """The column names, in order, without the geometry."""
        return [field.name for field in self.fields]

    @overload
    def frame(self, columns: Mapping[str, Any], *, geometry: None = None, crs: None = None) -> pd.DataFrame: ...
    @overload
    def frame(self, columns: Mapping[str, Any], *, geometry: Any, crs: CRS | None = None) -> gpd.GeoDataFrame: ...
    def frame(
        self, columns: Mapping[str, Any], *, geometry: Any = None, crs: CRS | None = None
    ) -> pd.DataFrame | gpd.GeoDataFrame:
        """Build a checked frame of this layer from arrays, one per column.

        Rings of polygons run one way: outer ones counter-clockwise, holes clockwise. Raises LayoutError where a column is
        missing, unknown or of another kind, or where a geometry is empty or of another type.
        """
        missing = [name for name in self.columns if name not in columns]
        unknown = [name for name in columns if name not in self.columns]
        if missing or unknown:
            raise LayoutError(f"Layer {self.name}: missing columns {missing}, unknown columns {unknown}.")
        table = pd.DataFrame({f.name: _typed(columns[f.name], f.kind) for f in self.fields})
        if self.geometry == "none":
            return table
        shapes = np.asarray(geometry, dtype=object)
        if self.geometry.endswith("Polygon"):
            shapes = shapely.orient_polygons(shapes)
        elif crs is None:
            crs = getattr(geometry, "crs", None)
        if len(shapes):
            self._check_shapes(shapes)
        return gpd.GeoDataFrame(table, geometry=gpd.array.from_shapely(shapes), crs=crs)

    def of(self, table: pd.DataFrame) -> pd.DataFrame:
        """Build the checked table from another one that holds its columns; raises LayoutError as `frame` does."""
        return self.frame({str(name): table[name] for name in table.columns})

    @overload
    def empty(self) -> pd.DataFrame: ...
    @overload
    def empty(self, crs: CRS | None) -> gpd.GeoDataFrame: ...
    def empty(self, crs: CRS | None = None) -> pd.DataFrame | gpd.GeoDataFrame:
        """Build the layer (given its CRS, or None) or the table (without) with no rows."""
        return self.frame({name: [] for name in self.columns}, geometry=[], crs=crs)

    def check(self, frame: pd.DataFrame) -> None:
        """Raise LayoutError unless `frame` has this layer's columns and sound geometries."""
        missing = [name for name in self.columns if name not in frame.columns]
        if missing:
            raise LayoutError(f"Layer {self.name}: missing columns {missing}.")
        if self.geometry == "none" or len(frame) == 0:
            return
        assert isinstance(frame, gpd.GeoDataFrame)
        self._check_shapes(frame.geometry.to_numpy())

    def _check_shapes(self, shapes: Any) -> None:
        _, first = np.unique(shapely.get_type_id(shapes), return_index=True)
        kinds = {str(getattr(shapes[at], "geom_type", "none")) for at in first}
        allowed = {self.geometry} | ({"Polygon"} if self.geometry == "MultiPolygon" else set())
        if not kinds <= allowed:
            raise LayoutError(f"Layer {self.name} takes {self.geometry}, found {sorted(kinds)}.")
        if self.placed and bool(shapely.is_empty(shapes).any()):
            raise LayoutError(f"Layer {self.name} holds an empty geometry.")


def _typed(values: Iterable[Any], kind: Kind) -> Any:
    if kind == "text" and isinstance(values, pd.api.extensions.ExtensionArray):
        return values  # already texts, made without a Python object for each
    if kind == "text":
        texts = np.array([None if v is None else str(v) for v in values], dtype=object)
        kept = any(isinstance(text, Sentence | CropName) for text in texts)
        return pd.Series(texts, dtype=object) if kept else texts  # else pandas takes what they remember from them
    if kind == "date":
        return pd.to_datetime(pd.Series(values)).astype("datetime64[s]")
    return np.asarray(values, dtype=_DTYPES[kind])
