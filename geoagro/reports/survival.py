"""What surveys found, against the layout and against the survey before."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from geoagro.errors import LayoutError
from geoagro.reports.records.account import BUILT, SURVIVAL
from geoagro.values.report import SurveyCounts

_WHOLE_FIELD = 0


def survival_table(surveys: Sequence[SurveyCounts]) -> pd.DataFrame:
    """Table SURVIVAL: each survey's figures for the whole field, by crop, and their change.

    Raises LayoutError where more plants are alive than were looked at.
    """
    parts = [_survey(survey.day, survey.survival) for survey in surveys if survey.survival is not None]
    if not parts:
        return SURVIVAL.empty()
    table = pd.concat(parts, ignore_index=True)
    table["change_pct"] = table.groupby("crop")["survival_pct"].diff().round(1)
    return SURVIVAL.frame({name: table[name] for name in SURVIVAL.columns})


def _survey(day: str, counts: pd.DataFrame) -> Any:
    counts = counts[counts["row"] == _WHOLE_FIELD]
    wrong = counts[(counts["alive"] > counts["surveyed"]) | (counts["surveyed"] > counts["planned"])]
    if len(wrong):
        first = wrong.iloc[0]
        raise LayoutError(
            f"Survey {day}, crop {first['crop']}: {first['alive']} alive of {first['surveyed']} looked at and "
            f"{first['planned']} planned don't fit together. Read the survey in again."
        )
    looked_at = counts["surveyed"].astype(float)
    return counts.assign(
        survey=day,
        survival_pct=(100 * counts["alive"] / looked_at.where(looked_at > 0)).round(1),
        low_pct=(100 * counts["low"]).round(1),
        high_pct=(100 * counts["high"]).round(1),
    )


def built_table(surveys: Sequence[SurveyCounts]) -> pd.DataFrame:
    """Table BUILT: areas as surveyed against the design and the survey before, to 0.1 m2."""
    parts = [survey.areas.assign(survey=survey.day) for survey in surveys if survey.areas is not None]
    if not parts:
        return BUILT.empty()
    table = pd.concat(parts, ignore_index=True)
    designed, built = table["designed_m2"].astype(float).round(1), table["built_m2"].astype(float).round(1)
    table = table.assign(designed_m2=designed, built_m2=built, less_m2=np.round(built - designed, 1))
    table["change_m2"] = table.groupby("item")["built_m2"].diff().round(1)
    return BUILT.frame({name: table[name] for name in BUILT.columns})
