"""Paint and mark of each crop: fixed by its code, the same in every product.

The eight paints follow one rule: lightness first, hue after it. CIE lightness L* goes up by tens from 20 to 90, so
that all differ in black and white; the hue goes on by a third of the circle from one to the next, from 70 degrees
(brown, teal, violet), as strong as a screen shows it but no stronger than chroma 55. Of such circles this start has
the largest least difference for eyes without red, green or blue sight (tested). Marks carry an outline in ink,
which stands out from every ground whatever the paint.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any
from zlib import crc32

from geoagro.outputs.drawing.contrast import LEAST, contrast
from geoagro.outputs.drawing.looks import INK, Marker, Shape

_FIRST_HUE_DEG, _TURN_DEG, _MOST_CHROMA = 70.0, 120.0, 55.0
_LIGHTNESS = range(20, 91, 10)

# The place of a crop in this list gives its number and so its look: crops that often share a bed stand together, as eight
# in a row have eight paints. A new crop goes to the end of the list; none is ever moved.
CROP_ORDER = (
    "sweet_potato", "cassava", "cowpea", "maize", "bean", "taro", "tomato", "onion",
    "gliricidia", "citrus", "banana", "avocado", "papaya", "coffee", "cacao", "mango",
    "cabbage", "lettuce", "carrot", "beet", "leek", "garlic", "kale", "pea",
    "apple", "hazel", "pear", "plum", "cherry", "walnut", "chestnut", "elder",
    "potato", "squash", "courgette", "pepper", "aubergine", "okra", "amaranth", "broad_bean",
    "plantain", "coconut", "inga", "leucaena", "moringa", "pigeon_pea", "jackfruit", "breadfruit",
    "ginger", "turmeric", "yam", "tania", "pineapple", "groundnut", "soybean", "sorghum",
    "willow", "alder", "black_locust", "poplar", "oak", "eucalyptus", "grevillea", "teak",
    "mahogany", "guava", "cashew", "black_pepper", "passion_fruit", "grape", "raspberry", "currant",
    "strawberry", "sugar_cane", "elephant_grass", "guinea_grass", "vetiver", "velvet_bean", "jack_bean", "lablab",
    "crimson_clover", "hairy_vetch", "rye", "phacelia",
)  # fmt: skip
_SHAPES: tuple[Shape, ...] = ("circle", "triangle", "square", "diamond", "pentagon", "star", "cross")
_FURTHER_SHAPES: tuple[Shape, ...] = ("hexagon", "trapezoid", "semi_circle", "half_square", "parallelogram")

_HATCHES = ("\\\\..", "////", "....", "xxxx", "----", "\\\\\\\\", "||||")
_FURTHER_HATCHES = ("oo", "++", "**", "//..", "||..")

# of matplotlib: a sign, or corners in half widths
_HALF_CIRCLE = tuple((math.cos(math.pi * k / 12), math.sin(math.pi * k / 12) - 0.4) for k in range(13))
MARKERS: dict[Shape, Any] = {
    "circle": "o", "triangle": "^", "square": "s", "diamond": "D", "pentagon": "p", "star": "*", "cross": "P", "hexagon": "h",
    "trapezoid": ((-1.0, -0.6), (1.0, -0.6), (0.5, 0.6), (-0.5, 0.6)),
    "semi_circle": _HALF_CIRCLE,
    "half_square": ((-0.5, -1.0), (0.5, -1.0), (0.5, 1.0), (-0.5, 1.0)),
    "parallelogram": ((-1.0, -0.6), (0.5, -0.6), (1.0, 0.6), (-0.5, 0.6)),
}  # fmt: skip
LARGER = {"triangle": 1.15, "star": 1.5, "cross": 1.15, "pentagon": 1.15, "diamond": 0.85}
"""Size at which a sign looks as large as a circle."""
_SIZES = {"emergent": 4.0, "high": 3.2, "medium": 2.4, "low": 1.8, "ground": 1.4}


def rule_paint(lightness: float, hue_deg: float, chroma: float) -> str:
    """Colour of CIE L*, hue angle and chroma (D65), the chroma lowered until an sRGB screen can show it (IEC 61966-2-1).

    >>> rule_paint(100, 0, 0)
    '#ffffff'
    """
    low, high = 0.0, chroma
    if not _shown(lightness, hue_deg, high):
        for _ in range(40):
            middle = (low + high) / 2
            low, high = (middle, high) if _shown(lightness, hue_deg, middle) else (low, middle)
        high = low
    return "#" + "".join(f"{round(255 * _encoded(v)):02x}" for v in _linear(lightness, hue_deg, high))


def _shown(lightness: float, hue_deg: float, chroma: float) -> bool:
    return all(-1e-4 <= value <= 1 + 1e-4 for value in _linear(lightness, hue_deg, chroma))


def _linear(lightness: float, hue_deg: float, chroma: float) -> tuple[float, float, float]:
    """Linear red, green, blue of a CIE LCh colour under D65."""
    a, b = chroma * math.cos(math.radians(hue_deg)), chroma * math.sin(math.radians(hue_deg))
    middle = (lightness + 16) / 116
    x, y, z = (
        w * _cubed(f)
        for w, f in zip((0.95047, 1.0, 1.08883), (middle + a / 500, middle, middle - b / 200), strict=True)
    )
    return (
        3.2404542 * x - 1.5371385 * y - 0.4985314 * z,
        -0.9692660 * x + 1.8760108 * y + 0.0415560 * z,
        0.0556434 * x - 0.2040259 * y + 1.0572252 * z,
    )


def _cubed(f: float) -> float:
    return f**3 if f > 6 / 29 else 3 * (6 / 29) ** 2 * (f - 4 / 29)


def _encoded(value: float) -> float:
    inside = min(max(value, 0.0), 1.0)
    return 12.92 * inside if inside <= 0.0031308 else 1.055 * inside ** (1 / 2.4) - 0.055


CROP_PAINTS = tuple(
    rule_paint(lightness, (_FIRST_HUE_DEG + k * _TURN_DEG) % 360, _MOST_CHROMA)
    for k, lightness in enumerate(_LIGHTNESS)
)
# neighbours in the list are as far apart in lightness as the eight steps allow
_TURNS = (0, 4, 1, 5, 2, 6, 3, 7)
_LOOKS = [(_TURNS[n % 8], _SHAPES[n % 7]) for n in range(56)] + [
    (_TURNS[n % 8], _FURTHER_SHAPES[n % 5]) for n in range(40)
]
"""Paint and shape by number, no two alike: 8 and 7, 8 and 5 have no common factor."""

_LOOK_HATCHES = [_HATCHES[n % 7] for n in range(56)] + [_FURTHER_HATCHES[n % 5] for n in range(40)]
"""Hatch by number: like shapes, no two alike with the same paint, for bars and crowns that have no shape."""

_OF_LIBRARY = {code: number for number, code in enumerate(CROP_ORDER)}


def crop_numbers(crops: Iterable[str]) -> dict[str, int]:
    """Give each crop the number of its look; a library crop's never depends on the others.

    A crop of the user's own takes the number that its code's checksum gives, or the next one that no crop here has.
    """
    codes = sorted(set(crops))
    numbers = {code: _OF_LIBRARY[code] for code in codes if code in _OF_LIBRARY}
    for code in codes:
        if code not in numbers:
            start = crc32(code.encode()) % len(_LOOKS)
            taken = set(numbers.values())
            turns = ((start + k) % len(_LOOKS) for k in range(len(_LOOKS)))
            numbers[code] = next((number for number in turns if number not in taken), start)
    return {code: numbers[code] for code in codes}


def crop_look(number: int, stratum: str | None, *, arrow_from: str = "", place_m: float = 0.0) -> Marker:
    """Mark with this number; taller strata get larger marks, in a GIS viewer the place counts."""
    paint, shape = _LOOKS[number % len(_LOOKS)]
    return Marker(CROP_PAINTS[paint], INK, shape, _SIZES.get(stratum or "", 1.8), arrow_from, round(place_m, 3))


def crop_hatch(number: int) -> str:
    """Hatch that tells a crop from others of its paint, as matplotlib writes it."""
    return _LOOK_HATCHES[number % len(_LOOK_HATCHES)]


def hatch_ink(paint: str) -> str:
    """Colour of a hatch that is seen on a paint: dark on light ones, white on the darkest."""
    return INK if contrast(INK, paint) >= LEAST else "#ffffff"
