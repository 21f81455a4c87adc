"""A layout that this process has just written, as a reader of its file would get it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pyproj import CRS

from geoagro.values.results.seal import Seal


@dataclass(frozen=True, eq=False)
class AsWritten:
    """What lies in a layout file, without opening it.

    Attributes
    ----------
    path
        The GeoPackage.
    crs
        The working CRS of all layers; None where no authority numbers it, as files then spell it in their own way.
    layers
        Names of all layers and tables, in the order of the file.
    seals
        By layer, as they lie in the file.
    frames
        By layer: makes what reading it gives, features in the order of the file, placed in the CRS that it is called with.
    """

    path: Path
    crs: CRS | None
    layers: tuple[str, ...]
    seals: Mapping[str, Seal]
    frames: Mapping[str, Callable[[CRS], Any]]
