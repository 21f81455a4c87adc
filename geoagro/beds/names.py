"""Ids of beds and paths."""

from __future__ import annotations

from typing import Any

import pandas as pd

from geoagro.arrays import Ints


def tree_names(row: Ints) -> list[str]:
    """Id of tree beds from their row, and a letter from the second piece on.

    >>> import numpy as np
    >>> tree_names(np.array([12, 12, 13]))
    ['R012-T', 'R012-Tb', 'R013-T']
    """
    piece = pd.DataFrame({"row": row}).groupby("row").cumcount()
    return [f"R{r:03d}-T{_piece(int(n))}" for r, n in zip(row, piece, strict=True)]


def bed_names(row: Ints, sign: Ints, order: Ints) -> list[str]:
    """Id from row, side, order from the row, and a letter from the second piece on.

    >>> import numpy as np
    >>> bed_names(np.array([12, 12, 12]), np.array([1, -1, -1]), np.array([1, 1, 1]))
    ['R012-U1', 'R012-D1', 'R012-D1b']
    """
    piece = pd.DataFrame({"row": row, "sign": sign, "order": order}).groupby(["row", "sign", "order"]).cumcount()
    parts = zip(row, sign, order, piece, strict=True)
    return [f"R{r:03d}-{_letter(s)}{k}{_piece(int(n))}" for r, s, k, n in parts]


def path_names(row: Ints, sign: Ints) -> list[str]:
    """Id from row, side, P and a number that counts the paths of that side.

    >>> import numpy as np
    >>> path_names(np.array([12, 12, 12]), np.array([1, -1, -1]))
    ['R012-UP1', 'R012-DP1', 'R012-DP2']
    """
    piece = pd.DataFrame({"row": row, "sign": sign}).groupby(["row", "sign"]).cumcount() + 1
    return [f"R{r:03d}-{_letter(s)}P{n}" for r, s, n in zip(row, sign, piece, strict=True)]


def _letter(sign: Any) -> str:
    return "U" if sign > 0 else "D"


def _piece(number: int) -> str:
    """'' for the first, then b, c, ... z, ba, bb, ..."""
    text = ""
    while number > 0:
        number, digit = divmod(number, 26)
        text = chr(ord("a") + digit) + text
    return text
