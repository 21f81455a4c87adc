"""Print a digest of each layer, table and file of a result folder, to compare two versions of the program by hand.

python scripts/output_digests.py FOLDER [FOLDER OF ANOTHER VERSION]

Coordinates count to a millimetre and other numbers to six significant digits, so that versions of libraries don't show.
With two folders only what differs is printed, column by column. Cells that hold words are kept apart from figures
(`words` beside `figures`), since words may change where figures must not. Files that aren't GeoPackages (reports, lists,
pictures, calendars) are digested byte by byte: the same input gives the same bytes with the same versions of libraries.
"""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyogrio
import shapely

GRID_M = 1e-3
VOLATILE = {"layer_styles"}  # looks, with the time of writing
INNER = ".geoagro"  # the program's own notes beside the results


def main() -> None:
    """Digest one folder, or tell in what two differ."""
    folders = [Path(word) for word in sys.argv[1:3]]
    if not folders:
        sys.exit(__doc__)
    found = [digests(folder) | file_digests(folder) for folder in folders]
    if len(found) == 1:
        for name, digest in found[0].items():
            print(f"{digest}  {name}")
        return
    names = list(dict.fromkeys([*found[0], *found[1]]))
    unlike = [name for name in names if found[0].get(name) != found[1].get(name)]
    for name in unlike:
        print("  ".join([*(one.get(name, "-" * 12) for one in found), name]))
    print(f"{len(names) - len(unlike)} of {len(names)} alike")


def digests(folder: Path) -> dict[str, str]:
    """Digest every column of every layer and table of the GeoPackages in a folder and the folders in it."""
    out: dict[str, str] = {}
    for path in sorted(folder.rglob("*.gpkg")):
        for layer, _ in pyogrio.list_layers(path):
            if layer in VOLATILE:
                continue
            frame = pyogrio.read_dataframe(path, layer=layer, fid_as_index=False)
            out |= _of_frame(f"{path.relative_to(folder)}/{layer}", frame)
    return out


def file_digests(folder: Path) -> dict[str, str]:
    """Digest every other file of a folder and the folders in it by its bytes."""
    paths = [path for path in sorted(folder.rglob("*")) if path.is_file() and path.suffix != ".gpkg"]
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()[:12]
        for path in paths
        if INNER not in path.relative_to(folder).parts
    }


def _of_frame(name: str, frame: Any) -> dict[str, str]:
    out = {name: _digest([str(len(frame))])}
    for column in frame.columns:
        out[f"{name}.{column} ({_kind(frame[column])})"] = _digest(_cells(frame[column]))
    return out


def _kind(column: Any) -> str:
    if column.dtype == "geometry":
        return "geometry"
    return "figures" if pd.api.types.is_numeric_dtype(column) else "words"


def _cells(column: Any) -> Iterable[str]:
    if column.dtype == "geometry":
        rounded = shapely.transform(column.to_numpy(), lambda xy: np.round(xy / GRID_M))
        return [shapely.to_wkt(shape, rounding_precision=0) for shape in rounded]
    if _kind(column) == "figures":
        return [f"{value:.6g}" for value in column.to_numpy(dtype=float, na_value=np.nan)]
    return [str(value) for value in column]


def _digest(cells: Iterable[str]) -> str:
    return hashlib.sha256("\n".join(cells).encode()).hexdigest()[:12]


if __name__ == "__main__":
    main()
