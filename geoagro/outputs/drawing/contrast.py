"""Contrast of two colours, and the same hue made darker or lighter until it stands out."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Floats

LEAST = 3.0
"""Contrast of graphical objects with what lies beside them (WCAG 2.1, success criterion 1.4.11)."""
TEXT = 4.5
"""Contrast of text with its ground (WCAG 2.1, success criterion 1.4.3)."""
_WEIGHTS = np.array([0.2126, 0.7152, 0.0722])  # IEC 61966-2-1, as in WCAG's relative luminance
_STEPS = np.linspace(0.0, 1.0, 101)


def contrast(one: str, other: str) -> float:
    """Ratio (L1 + 0.05) / (L2 + 0.05) of relative luminances, 1 to 21 (WCAG 2.1).

    >>> round(contrast("#000000", "#ffffff"), 6)
    21.0
    """
    low, high = sorted(float(_linear(colour) @ _WEIGHTS) for colour in (one, other))
    return (high + 0.05) / (low + 0.05)


def standing_out(paint: str, ground: str, *, least: float = LEAST) -> str:
    """Return the colour nearest to `paint`, darker or lighter, that has at least this contrast with the ground."""
    light = _linear(paint)
    shades = [_text(light * (1 - k)) for k in _STEPS]
    tints = [_text(light + k * (1 - light)) for k in _STEPS]
    for shade, tint in zip(shades, tints, strict=True):
        enough = [colour for colour in (shade, tint) if contrast(colour, ground) >= least]
        if enough:
            return max(enough, key=lambda colour: contrast(colour, ground))
    return max((shades[-1], tints[-1]), key=lambda colour: contrast(colour, ground))


def _linear(colour: str) -> Floats:
    rgb = np.array([int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)])
    linear: Floats = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return linear


def _text(linear: Floats) -> str:
    rgb = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return "#" + "".join(f"{round(255 * float(v)):02x}" for v in np.clip(rgb, 0, 1))
