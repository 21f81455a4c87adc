"""How much rain runs off, and how fast: published formulas, each with its source."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Floats
from geoagro.values.rules.water import Cover, SoilGroup

CURVE_NUMBERS: dict[Cover, dict[SoilGroup, float]] = {
    "bare": {"A": 77, "B": 86, "C": 91, "D": 94},
    "row_crops": {"A": 65, "B": 75, "C": 82, "D": 86},
    "row_crops_poor": {"A": 70, "B": 79, "C": 84, "D": 88},
    "orchard_grass_poor": {"A": 57, "B": 73, "C": 82, "D": 86},
    "orchard_grass": {"A": 43, "B": 65, "C": 76, "D": 82},
    "orchard_grass_good": {"A": 32, "B": 58, "C": 72, "D": 79},
    "meadow": {"A": 30, "B": 58, "C": 71, "D": 78},
}
"""Average moisture before the storm, initial loss 0.2 S. USDA-NRCS, TR-55 (1986), table 2-2b and c: fallow bare
soil; contoured row crops in good and in poor condition; woods and grass half each (orchard or tree farm) in poor
(under half of the ground covered), fair and good condition (over three quarters covered); meadow."""


def retention_mm(curve_number: float) -> float:
    """Water that the ground can hold back once runoff has begun, mm: 25.4 (1000 / CN - 10), TR-55 equation 2-4.

    >>> round(retention_mm(75), 2)
    84.67
    """
    return 25.4 * (1000.0 / curve_number - 10.0)


def curve_number_runoff_mm(rain_mm: float, curve_number: float) -> float:
    """Runoff of one storm, mm: (P - 0.2 S)^2 / (P + 0.8 S), nothing up to 0.2 S. TR-55 equation 2-3.

    Parameters
    ----------
    rain_mm
        Depth of the storm, at least 0.
    curve_number
        From 1 (nearly nothing runs off) to 100 (everything does).
    """
    held = retention_mm(curve_number)
    lost = 0.2 * held
    return 0.0 if rain_mm <= lost else (rain_mm - lost) ** 2 / (rain_mm + 0.8 * held)


def infiltration_runoff_mm(rain_mm: float, hours: float, infiltration_mm_h: float) -> float:
    """Runoff of a storm of even strength over ground that takes in water at one rate, mm."""
    return max(rain_mm - hours * infiltration_mm_h, 0.0)


def rational_peak_m3_s(coefficient: Floats | float, intensity_mm_h: float, area_m2: Floats | float) -> Floats:
    """Peak flow, m3/s: C i A, the rational method (in hectares C i A / 360).

    Holds for small catchments only, where rain of that strength lasts at least as long as water takes to arrive.
    """
    peak: Floats = np.asarray(coefficient) * intensity_mm_h / 3.6e6 * np.asarray(area_m2)
    return peak


def kirpich_minutes(length_m: Floats, fall: Floats) -> Floats:
    """Time that water takes along a catchment's longest way, minutes: 0.0195 L^0.77 S^-0.385 (Kirpich 1940).

    Parameters
    ----------
    length_m
        Longest way of the water, metres.
    fall
        Mean fall along it, ratio; below 0.001 it is taken as 0.001, where the formula was never fitted.
    """
    steep = np.maximum(fall, 0.001)
    minutes: Floats = 0.0195 * np.power(length_m, 0.77) * np.power(steep, -0.385)
    return minutes
