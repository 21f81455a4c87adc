"""The kinds of numpy array that every room passes on, named once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Singles = NDArray[np.float32]
"""Half the memory, where millions of numbers need no more than six digits."""
Bools = NDArray[np.bool_]
