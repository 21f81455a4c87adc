"""What surveys found, against the layout and against the survey before."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd

from geoagro.errors import LayoutError
from geoagro.reports.records.account import BUILT, FOUND, SURVIVAL
from geoagro.values.report import SurveyCounts
from geoagro.values.words import say

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
        low_pct=counts["low_pct"].round(1),
        high_pct=counts["high_pct"].round(1),
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


def found_table(surveys: Sequence[SurveyCounts], *, planted_m2: float, trees: frozenset[str]) -> Any:
    """Table FOUND: planted area, trees and plants as planned and as the last survey that tells each found them."""
    counts = [survey for survey in surveys if survey.survival is not None]
    areas = [survey for survey in surveys if survey.areas is not None and len(survey.areas)]
    lines: list[tuple[Any, ...]] = []
    if areas:
        lines.append(_area_found(areas[-1], planted_m2))
    if counts:
        whole = counts[-1].survival
        assert whole is not None
        field = whole[whole["row"] == _WHOLE_FIELD]
        crops = field[field["crop"] != "all"]
        lines += _count_found("trees", counts[-1], crops[crops["crop"].isin(trees)])
        lines += _count_found("plants", counts[-1], crops if len(crops) else field)
    return FOUND.frame({name: [line[k] for line in lines] for k, name in enumerate(FOUND.columns)})


def _area_found(survey: SurveyCounts, planted_m2: float) -> tuple[Any, ...]:
    assert survey.areas is not None
    designed, built = float(survey.areas["designed_m2"].sum()), float(survey.areas["built_m2"].sum())
    share = built / designed if designed > 0 else np.nan
    if survey.by_plots:
        basis = say("planted area times the share of bed lines that living plants hold in the plots")
        return ("planted_area_m2", survey.day, planted_m2, np.nan, round(planted_m2 * share, 1), np.nan, np.nan, basis)
    basis = say("beds that the survey covers, times the share of them that was found planted")
    return ("planted_area_m2", survey.day, round(designed, 1), np.nan, round(built, 1), np.nan, np.nan, basis)


def _count_found(figure: str, survey: SurveyCounts, crops: Any) -> Iterator[tuple[Any, ...]]:
    looked, planned = int(crops["surveyed"].sum()), int(crops["planned"].sum())
    if looked == 0:
        return
    if not survey.by_plots:
        alive = float(crops["alive"].sum())
        yield (figure, survey.day, planned, looked, alive, np.nan, np.nan, say("found alive among those looked at"))
        return
    seen = crops[crops["surveyed"] > 0]
    share = seen["alive"].astype(float) / seen["surveyed"]
    found, low, high = (
        float((values.astype(float) * seen["planned"]).sum())
        for values in (share, seen["low_pct"] / 100, seen["high_pct"] / 100)
    )
    basis = say("estimate for the field from sample plots, crop by crop; the ends of the crops' intervals are added up")
    yield (figure, survey.day, planned, looked, round(found), round(low) if np.isfinite(low) else np.nan,
           round(high) if np.isfinite(high) else np.nan, basis)  # fmt: skip
