"""Loops over many small neighbourhoods, compiled to machine code and kept on disk between runs."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import numba

Loop = TypeVar("Loop", bound=Callable[..., object])


def compiled(loop: Loop) -> Loop:
    """Compile a function of plain numbers and arrays at its first call; it sets the interpreter free while it runs.

    Arithmetic is that of numpy (nothing is reordered or fused), so that results are the same on every run. The code is
    kept beside the module or in the user's cache folder; where neither can be written it is compiled anew in each run. What is
    kept is held for true until the function's own file changes: constants and functions that it takes from other files are
    part of it, so a change there needs a change here, or the kept code (*.nbi, *.nbc) cleared away.
    """
    try:
        kept: Loop = numba.njit(cache=True, nogil=True)(loop)
    except RuntimeError:
        kept = numba.njit(nogil=True)(loop)
    return kept
