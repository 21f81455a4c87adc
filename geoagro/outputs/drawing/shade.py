"""The relief's light and shade on a page, brought to the page's pixels."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.image import AxesImage
from matplotlib.transforms import Affine2D, Bbox, TransformedBbox
from numpy.typing import NDArray
from PIL import Image

from geoagro.outputs.drawing.page import Bounds

_ROWS_AT_ONCE = 32
_LEAST = np.float32(1e-30)


class Shade(AxesImage):
    """An image that is black or white, more or less clear, laid between its cells' middles by straight lines.

    The drawing library brings all four channels to the page's pixels one by one and takes their opacity out again; here two
    suffice, the opacity and the white in it, which takes half the time.
    """

    def make_image(
        self, renderer: Any, magnification: float = 1.0, unsampled: bool = False
    ) -> tuple[NDArray[Any], float, float, Affine2D]:
        """Give the part that lies inside the axes in pixels of the page (row 0 in the south), and where it lies."""
        west, east, south, north = self.get_extent()
        whole = TransformedBbox(Bbox.from_extents(west, south, east, north), self.get_transform())
        shown = Bbox.intersection(whole, self.axes.bbox)
        pixels: Any = np.round(np.asarray((shown or whole).extents) * magnification)
        wide, high = (int(n) for n in pixels[2:] - pixels[:2])
        if unsampled or shown is None or wide == 0 or high == 0:
            return super().make_image(renderer, magnification, unsampled)
        cells: Any = np.asarray(self.get_array(), dtype=np.float32)[::-1]
        rows, columns = cells.shape[:2]
        left, right = (np.array([shown.x0, shown.x1]) - whole.x0) / whole.width * columns
        below, above = (np.array([shown.y0, shown.y1]) - whole.y0) / whole.height * rows
        box = (max(left, 0.0), max(below, 0.0), min(right, columns), min(above, rows))
        opacity, white = (
            np.asarray(
                Image.fromarray(np.ascontiguousarray(plane)).resize((wide, high), Image.Resampling.BILINEAR, box=box),
                dtype=np.float32,
            )
            for plane in (cells[..., 3], cells[..., 3] * cells[..., 0])
        )
        return _bytes(opacity, white), pixels[0] / magnification, pixels[1] / magnification, Affine2D()


def _bytes(opacity: NDArray[np.float32], white: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Red, green, blue and opacity, shape (rows, columns, 4); some rows at a time, which stay in the processor's cache."""
    packed = np.empty(opacity.shape, dtype="<i4")
    for start in range(0, len(opacity), _ROWS_AT_ONCE):
        some = slice(start, start + _ROWS_AT_ONCE)
        grey = white[some] / np.maximum(opacity[some], _LEAST) * np.float32(255)
        packed[some] = grey.astype(np.int32) * 0x010101 | (opacity[some] * np.float32(255)).astype(np.int32) << 24
    return packed.view(np.uint8).reshape(*opacity.shape, 4)


def draw_shade(axes: Axes, image: NDArray[np.float32], bounds: Bounds, *, zorder: float) -> None:
    """Lay an image of shape (rows, columns, 4), row 0 in the north, between west, south, east and north."""
    west, south, east, north = bounds
    shade = Shade(axes, extent=(west, east, south, north), origin="upper", interpolation="bilinear", zorder=zorder)
    shade.set_data(image)
    axes.add_image(shade)
