"""The relief on a page against the drawing library's own way of laying an image between its cells."""

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from geoagro.outputs.drawing.ground import light_and_shade
from geoagro.outputs.drawing.shade import draw_shade


def _light():
    y, x = np.mgrid[0:17, 0:23]
    light = 0.7 + 0.3 * np.sin(x / 4) * np.cos(y / 3)
    light[3:5, 10:13] = np.nan
    return light_and_shade(light).astype(np.float32)


def _drawn(page, own):
    figure = Figure(figsize=(4, 3), dpi=110, facecolor="white")
    axes = figure.add_axes((0.1, 0.1, 0.8, 0.8), facecolor="#c9d8b4")
    if own:
        draw_shade(axes, _light(), (0, 0, 23, 17), zorder=3)
    else:
        axes.imshow(_light(), extent=(0, 23, 0, 17), zorder=3, interpolation="bilinear")
    axes.set(xlim=page[:2], ylim=page[2:], aspect=1.0)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    return np.asarray(canvas.buffer_rgba()).astype(int)


@pytest.mark.parametrize(
    "page", [(-3, 26, -2, 19), (2.3, 20.7, 1.1, 14.9), (10, 40, -9, 12)], ids=["all of it", "a part", "beyond"]
)
def test_the_relief_is_that_of_the_drawing_library_to_a_step_of_colour(page):
    apart = np.abs(_drawn(page, own=True) - _drawn(page, own=False)).max(axis=2)
    inner = apart[2:-2, 2:-2]
    assert inner.max() <= 1
    assert (inner > 0).mean() < 0.1


def test_a_relief_off_the_page_leaves_it_as_it_is():
    page = _drawn((100, 120, 100, 115), own=True)
    assert (page == _drawn((100, 120, 100, 115), own=False)).all()
