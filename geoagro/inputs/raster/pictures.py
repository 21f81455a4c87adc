"""Tell pictures from measurements."""

from __future__ import annotations

from typing import Any

import numpy as np
from rasterio.enums import ColorInterp

from geoagro.errors import InputError

_COLOURS = (
    ColorInterp.red,
    ColorInterp.green,
    ColorInterp.blue,
    ColorInterp.cyan,
    ColorInterp.magenta,
    ColorInterp.yellow,
)


def refuse_picture(dataset: Any, band: int, *, where: str) -> None:
    """Raise InputError for a photo, a picture with a table of colours, and a band that its scale makes all alike."""
    meaning, kind = dataset.colorinterp[band - 1], dataset.dtypes[band - 1]
    if meaning == ColorInterp.palette:
        raise InputError(
            f"{where}: band {band} holds numbers of colours (a palette), not measurements. Give the raster that the picture "
            "was drawn from."
        )
    colours = sum(other in _COLOURS for other in dataset.colorinterp)
    if kind == "uint8" and (meaning in _COLOURS or colours >= 3 or meaning == ColorInterp.alpha):
        raise InputError(
            f"{where}: is a picture ({dataset.count} bands of 8 bit, {colours} of them colours), not measurements. Give the "
            "raster of heights that belongs to the same survey."
        )
    scale, offset = dataset.scales[band - 1], dataset.offsets[band - 1]
    if scale == 0 or not np.isfinite([scale, offset]).all():
        raise InputError(
            f"{where}: band {band} is scaled by {scale:g} and shifted by {offset:g}, so all cells would be alike. Export it "
            "again without scale and offset."
        )
