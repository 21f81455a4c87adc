"""A printed page measured in millimetres, black on white, the same letters on every machine."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import FigureCanvasPdf, PdfPages
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle

from geoagro.outputs.drawing.letters import wrapped
from geoagro.outputs.drawing.tagged import tag_pages
from geoagro.outputs.drawing.typefaces import family

BLACK, GREY, PALE = "#000000", "#6e6e6e", "#c8c8c8"
_MM_PER_INCH = 25.4
_LINE = 1.28  # height of a line, in the size of its letters
_POINTS_PER_MM = 72 / 25.4
_SETTINGS: Any = {
    "font.family": family(),
    "pdf.fonttype": 42,
    "text.parse_math": False,
    "path.simplify": False,
    "hatch.linewidth": 0.4,
}


class Page:
    """One page: `figure` for map frames, and writing and lines placed in millimetres from the lower left corner.

    `name` says what it shows: its bookmark, and what a screen reader reads out.
    """

    def __init__(self, width_mm: float, height_mm: float, *, name: str) -> None:
        self.width, self.height, self.name = width_mm, height_mm, name
        self.figure = Figure(figsize=(width_mm / _MM_PER_INCH, height_mm / _MM_PER_INCH), facecolor="white")
        FigureCanvasPdf(self.figure)
        self._axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self._axes.set_xlim(0, width_mm)
        self._axes.set_ylim(0, height_mm)
        self._axes.set_axis_off()

    def frame(self, left: float, bottom: float, width: float, height: float) -> Axes:
        """Axes in a frame given in millimetres; below everything written on the page."""
        axes = self.figure.add_axes((left / self.width, bottom / self.height, width / self.width, height / self.height))
        axes.set_zorder(-1)
        axes.set_xticks([])
        axes.set_yticks([])
        return axes

    def write(self, x: float, y: float, text: str, *, size_pt: float = 8.0, **options: Any) -> None:
        """Put text with its top left corner at a place (other corners by `ha`, `va`)."""
        options = {"ha": "left", "va": "top", "color": BLACK} | options
        self._axes.text(x, y, text, fontsize=size_pt, **options)

    def paragraph(self, x: float, y: float, width_mm: float, text: str, *, size_pt: float = 7.0) -> float:
        """Write text broken into lines that fit a width; return the height below it."""
        lines = wrapped(text, width_mm, size_pt)
        step = _LINE * size_pt / _POINTS_PER_MM
        for k, line in enumerate(lines):
            self.write(x, y - k * step, line, size_pt=size_pt)
        return y - len(lines) * step

    @staticmethod
    def paragraph_mm(width_mm: float, text: str, *, size_pt: float = 7.0) -> float:
        """Height that a paragraph takes."""
        return len(wrapped(text, width_mm, size_pt)) * _LINE * size_pt / _POINTS_PER_MM

    def line(self, x: Any, y: Any, *, width_pt: float = 0.6, **options: Any) -> None:
        """Draw a line through points."""
        style: dict[str, Any] = {"color": BLACK, "lw": width_pt, "solid_capstyle": "butt"} | options
        self._axes.plot(x, y, **style)

    def box(self, left: float, bottom: float, width: float, height: float, **options: Any) -> None:
        """Draw a rectangle; `fc` fills it."""
        style: dict[str, Any] = {"fc": "none", "ec": BLACK, "lw": 0.6} | options
        self._axes.add_patch(Rectangle((left, bottom), width, height, **style))

    def shape(self, points: Any, **options: Any) -> None:
        """Draw a filled polygon."""
        self._axes.add_patch(Polygon(points, closed=True, **({"fc": BLACK, "ec": BLACK, "lw": 0.6} | options)))

    def marker(self, x: float, y: float, shape: str, *, size_pt: float, fill: str) -> None:
        """Draw a point symbol."""
        self._axes.plot([x], [y], marker=shape, ms=size_pt, mfc=fill, mec=BLACK, mew=0.7, ls="none")


@contextmanager
def pdf_pages(path: Path, title: str, *, language: str = "en") -> Iterator[Callable[[Page], None]]:
    """Open a PDF and give a function that adds a page; the same pages give the same bytes, as it carries no date."""
    about: Any = {"Title": title, "Creator": "geoagro", "CreationDate": None}
    names: list[str] = []
    with mpl.rc_context(_SETTINGS), PdfPages(path, metadata=about) as pages:
        save: Any = pages.savefig

        def add(page: Page) -> None:
            save(page.figure)
            names.append(page.name)

        yield add
    tag_pages(path, names, language=language)
