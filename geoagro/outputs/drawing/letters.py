"""How wide text stands on paper, by the widths of its letters in the bundled typeface."""

from __future__ import annotations

import re
from functools import cache

from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.ft2font import FT2Font, LoadFlags

from geoagro.outputs.drawing.typefaces import family

_MM_PER_PT = 25.4 / 72
_EM = 1000.0
LEAST_PT = 7.0
"""No type on paper is smaller: what a sheet held in the hand, or a copy of it, still shows."""


def width_mm(text: str, size_pt: float, *, bold: bool = False) -> float:
    """Width of a line of text, mm.

    >>> 17.0 < width_mm("Rows and stakes", 7.0) < 19.5
    True
    """
    return sum(_letter(letter, bold) for letter in text) * size_pt * _MM_PER_PT


def wrapped(text: str, most_mm: float, size_pt: float, *, bold: bool = False) -> list[str]:
    r"""Break text between words into lines no wider than `most_mm`; a word that is wider stands alone.

    Spaces that hold words together (no-break spaces before marks, between a number and its unit) hold.

    >>> wrapped("one two three", 1.0, 7.0)
    ['one', 'two', 'three']
    >>> wrapped("5\u00a0% here", 1.0, 7.0)
    ['5\xa0%', 'here']
    """
    lines: list[str] = []
    for word in re.findall(r"[^ \t\n]+", text):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_mm(longer, size_pt, bold=bold) <= most_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


@cache
def _letter(letter: str, bold: bool) -> float:
    """Width of a letter as a share of the type's size, from the first family that has it; else of the box in its place."""
    fonts = _fonts(bold)
    font = next((one for one in fonts if one.get_char_index(ord(letter))), fonts[0])
    font.set_size(_EM, 72)
    glyph = font.load_glyph(font.get_char_index(ord(letter)), LoadFlags.NO_HINTING)  # 0, the box, where there is none
    return float(glyph.linearHoriAdvance) / 65536 / _EM


@cache
def _fonts(bold: bool) -> list[FT2Font]:
    weight = "bold" if bold else "normal"
    return [get_font(findfont(FontProperties(family=[name], weight=weight))) for name in family()]
