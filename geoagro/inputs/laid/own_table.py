"""Read a layer or table that the project wrote itself, with its texts looked through."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pyarrow as pa
import pyogrio

from geoagro.errors import InputError
from geoagro.frames import pd


def own_table(path: Path, layer: str, **some: Any) -> Any:
    """Read one layer; `some` goes to the reader.

    Texts are taken over as bytes and would fail far from here, without the file's name, where they aren't UTF-8.

    Raises
    ------
    InputError
        If a text isn't UTF-8.
    """
    frame = pyogrio.read_dataframe(path, layer=layer, use_arrow=True, **some)
    for name, column in frame.items():
        if isinstance(column.dtype, pd.StringDtype):
            try:
                pa.array(column.array).validate(full=True)
            except pa.ArrowInvalid as error:
                raise InputError(
                    f"{path}: column {name} of layer '{layer}' holds a text that isn't UTF-8: something else than geoagro wrote "
                    "into it, or the file is damaged. Write it anew with the command that made it."
                ) from error
    return frame
