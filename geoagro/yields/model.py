"""From light taken in company to yield, for one kind and period.

y = min(r h / max(1, R / c), n p) of the yield that the ground gives the crop alone, with r the light taken over that of
the crop alone at its usual density, h what its response to shade adds to proportion, R how full the place is, n the
density, c the most that a full stand of several crops makes of a place, and p the most that a place may exceed its yield
alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoagro.values.light import Capture
from geoagro.values.recipe import Crop

RESPONSE_IN_PROPORTION = "yield falls as light does (no response known)"


@dataclass(frozen=True)
class Limits:
    """c and p; `light` names how much leaf and sky go with them."""

    fullest: float
    per_place: float


LOW, LIKELY, HIGH = Limits(1.0, 1.0), Limits(1.2, 1.0), Limits(1.35, 1.0)
"""c: intercrops reach a land equivalent ratio of 1.22 on average (Yu et al. 2015, Field Crops Research 184: 133), so
1.2; 1.0 means that company adds nothing, 1.35 lies above the mean of cereals with legumes (1.26). Only the first of
these figures was used to choose c. `per_place` of the high case is the library's own high yield over its likely one."""


@dataclass(frozen=True)
class Parts:
    """Yield of a place as a share of its yield alone, the factors that make it, and how dense its plants stand."""

    density: float
    crowding: float
    place: float
    shade: float

    @property
    def company(self) -> float:
        """What other crops leave of a place: its yield over what crowding and shade make of it; nothing where they leave none."""
        rest = self.crowding * self.shade
        return self.place / rest if rest > 0 else 0.0


def response(crop: Crop, light: float) -> float:
    """Yield at a share of open light: the crop's published points, straight between them, else in proportion."""
    if crop.shade_response_pct is None:
        return light
    at_pct, yields_pct = np.array(crop.shade_response_pct).T
    return float(np.interp(light, at_pct / 100, yields_pct / 100))


def parts(capture: Capture, crop: Crop, limits: Limits) -> Parts:
    """Reckon one kind's yield and its factors; captures are above nought."""
    density = capture.per_m2 * area_m2(crop)
    shade = response(crop, capture.incoming) / capture.incoming
    by_itself = _ground(capture.alone / capture.sole, 1.0, capture.alone / capture.sole, density, limits)
    together = _ground(capture.captured / capture.sole, shade, capture.fullness, density, limits)
    return Parts(density, by_itself / density, together / density, shade)


def _ground(taken: float, shade: float, fullness: float, density: float, limits: Limits) -> float:
    return min(taken * shade / max(1.0, fullness / limits.fullest), density * limits.per_place)


def area_m2(crop: Crop) -> float:
    """Ground of a place at the usual density."""
    assert crop.usual_per_m2 is not None  # looked at before
    return 1 / crop.usual_per_m2
