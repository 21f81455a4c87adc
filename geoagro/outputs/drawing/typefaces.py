"""The typefaces that come with the program, for pictures and printed pages alike."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import matplotlib as mpl
from matplotlib.font_manager import fontManager

FONTS = Path(__file__).with_name("fonts")
"""Folder of the bundled fonts; system fonts are never asked for, so that pages are the same everywhere."""

_FAMILY = ("Open Sans", "DejaVu Sans")
"""One family for all products; the second comes with the drawing library and has the letters and signs that the first lacks."""


def family() -> list[str]:
    """Make the bundled fonts known to the drawing library, and give the families in which pictures are lettered."""
    _add_fonts()
    return list(_FAMILY)


@contextmanager
def lettered() -> Iterator[None]:
    """Letter every figure that is made and drawn inside in the family of all products."""
    with mpl.rc_context({"font.family": family()}):
        yield


@cache
def _add_fonts() -> None:
    known = {entry.fname for entry in fontManager.ttflist}
    for file in sorted(FONTS.glob("*.ttf")):
        if str(file) not in known:
            fontManager.addfont(str(file))
