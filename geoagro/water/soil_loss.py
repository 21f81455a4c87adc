"""What the direction of rows does to soil loss, as a ratio between layouts of one field; never in tonnes."""

from __future__ import annotations

import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.water.records.tables import SOIL_LOSS
from geoagro.water.row_profiles import Profile

CONTOUR_FACTORS = (
    (0.02, 0.60, 122.0),
    (0.05, 0.50, 91.0),
    (0.08, 0.50, 61.0),
    (0.12, 0.60, 36.0),
    (0.16, 0.70, 24.0),
    (0.20, 0.80, 18.0),
    (0.25, 0.90, 15.0),
)
"""Slope up to, support-practice factor of farming on the contour, longest slope (m). USDA Agriculture Handbook 537
(Wischmeier and Smith 1978), table 13, from memory; an independent copy agrees from 6 % on. Slopes above 25 %: 1."""

_LEFT_OUT = (
    "Only the rows' direction differs; rain, soil, cover, slope length and ridges are taken alike. Holds for rows with ridges or "
    "furrows. Gullies, storms that overtop ridges and soil that leaves by ditches aren't in it."
)


def contour_factor(slope: Floats) -> Floats:
    """Support-practice factor of rows exactly on contour, by slope of the ground (ratio); 1 above 25 %."""
    limits = np.array([limit for limit, _, _ in CONTOUR_FACTORS])
    factors = np.array([factor for _, factor, _ in CONTOUR_FACTORS] + [1.0])
    found: Floats = factors[np.searchsorted(limits, slope, side="left")]
    return found


def longest_slope_m(slope: float) -> float:
    """Longest slope on which farming on the contour counts, m; 0 above 25 %."""
    return next((length for limit, _, length in CONTOUR_FACTORS if slope <= limit), 0.0)


def off_grade_factor(slope: Floats, grade: Floats) -> Floats:
    """Support-practice factor of rows at a grade: P0 + (1 - P0) sqrt(grade / slope), 1 up and down the slope.

    RUSLE's adjustment for rows off the contour (Renard et al. 1997, USDA Agriculture Handbook 703, chapter 6; form
    from memory).
    """
    best = contour_factor(slope)
    share = np.clip(np.divide(grade, slope, out=np.ones_like(slope), where=slope > 0), 0.0, 1.0)
    factor: Floats = best + (1 - best) * np.sqrt(share)
    return factor


def soil_loss(profiles: list[Profile]) -> pd.DataFrame:
    """Table SOIL_LOSS: this layout, one exactly on contour, and one straight up and down, over the same ground.

    At least one row.
    """
    slope = np.concatenate([p.slope for p in profiles])
    grade = np.concatenate([np.abs(np.gradient(p.z_m, p.step_m)) for p in profiles])
    weight = np.maximum(slope, 1e-6)  # steeper ground loses more in any layout
    chosen = float(np.average(off_grade_factor(slope, grade), weights=weight))
    level = float(np.average(contour_factor(slope), weights=weight))
    return SOIL_LOSS.frame(
        {
            "layout": ["straight up and down", "these rows", "exactly on contour"],
            "ratio": [1.0, chosen, level],
            "definition": [
                "Taken as 1. " + _LEFT_OUT,
                "P0 + (1 - P0) sqrt(row grade / land slope), mean over the rows, weighted by slope.",
                "P0, the published factor of farming on the contour, weighted alike; not to be had on real ground.",
            ],
        }
    )
