"""Numbers for the map page: whole centimetres, as differences, deflated and written in base64."""

from __future__ import annotations

import base64
import zlib
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from geoagro.arrays import Shapes
from geoagro.errors import OutputError

_KINDS: dict[str, Any] = {"i4": np.int32, "u2": np.uint16, "u1": np.uint8}
_FARTHEST_M = 2e7


@dataclass(eq=False)
class Pack:
    """Arrays under names, kept in the order in which they come.

    `delta` 1 stores each value as its difference from the one before, 2 from the one before that (for
    coordinates x, y, x, y, ...), 0 as it is.
    """

    heads: list[dict[str, Any]] = field(default_factory=list)
    bodies: list[bytes] = field(default_factory=list)

    def add(self, name: str, values: Any, kind: str, *, delta: int = 0) -> None:
        """Add an array; raises OutputError where a value doesn't fit its kind."""
        array = np.asarray(values)
        limits = np.iinfo(_KINDS[kind])
        if array.size and (array.min() < limits.min or array.max() > limits.max):
            raise OutputError(f"The map page can't hold {name}: {array.min()} to {array.max()} is out of range.")
        flat = array.astype(_KINDS[kind]).ravel()
        stored = flat.copy()
        if delta:
            stored[delta:] = flat[delta:] - flat[:-delta]
        self.heads.append({"name": name, "kind": kind, "length": len(flat), "delta": delta})
        self.bodies.append(stored.astype(stored.dtype.newbyteorder("<")).tobytes())

    def text(self) -> str:
        """All arrays as one text."""
        return base64.b64encode(zlib.compress(b"".join(self.bodies), 9)).decode("ascii")


def centimetres(values: Any, origin: float) -> NDArray[np.int32]:
    """Metres from `origin` in whole centimetres."""
    off = np.asarray(values, dtype=float) - origin
    if off.size and np.abs(off).max() > _FARTHEST_M:
        raise OutputError("The map page can't hold a field whose parts lie more than 20,000 km apart.")
    return np.round(off * 100).astype(np.int32)


def add_shapes(pack: Pack, key: str, shapes: Shapes, origin: tuple[float, float]) -> None:
    """Add lines or polygons: points, how many each ring or line has, and the feature that it belongs to."""
    parts, feature = shapely.get_parts(np.asarray(shapes, dtype=object), return_index=True)
    if len(parts) and parts[0].geom_type == "Polygon":
        parts, ring_of = shapely.get_rings(parts, return_index=True)
        feature = feature[ring_of]
    points = shapely.get_coordinates(parts)
    moved = np.column_stack([centimetres(points[:, k], origin[k]) for k in range(2)])
    pack.add(f"{key}.points", moved, "i4", delta=2)
    pack.add(f"{key}.counts", shapely.get_num_coordinates(parts), "i4")
    pack.add(f"{key}.owner", feature, "i4", delta=1)
