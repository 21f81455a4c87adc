"""The kinds of numpy array that every room passes on, named once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from shapely import LineString

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Singles = NDArray[np.float32]
"""Half the memory, where millions of numbers need no more than six digits."""
Bools = NDArray[np.bool_]
Shapes = NDArray[np.object_]
"""Geometries of shapely; None where a place has none."""
Texts = NDArray[np.object_]
"""Words; None where there is none."""
Days = NDArray[np.datetime64]
"""Dates; NaT where there is none."""
Lines: TypeAlias = "Sequence[LineString] | Shapes"
"""LineStrings, in a list or an array."""
