"""What a recipe's analysis, and its light and yields, say, as lines for the terminal."""

from __future__ import annotations

from typing import Any

import pandas as pd

from geoagro.light.records.bed_light import BedLight
from geoagro.plants.records.recipe_analysis import RecipeAnalysis
from geoagro.yields.records.tables import RecipeYields

_PAIRS = 4
_FIRST, _EVERY = 6, 4
"""The first six years, and of later ones every fourth and the last."""


def recipe_lines(analysis: RecipeAnalysis) -> list[str]:
    """Root zones that crops share, weeding, and warnings, such as lifting that harms roots; each with its head."""
    return [
        *section(
            "Root zones that crops share (no conflict by itself: what they take is in the yields)",
            _shared(analysis.root_pairs),
        ),
        *section("Ground", _weeding(analysis.weeding)),
        *section("Warnings", [f"{f.where}: {f.text}" for f in analysis.warnings]),
    ]


def section(head: str, lines: list[str]) -> list[str]:
    """Put a head over lines that are set in; nothing where there are no lines."""
    return ["", f"{head}:", *(f"  {line}" for line in lines)] if lines else []


def _weeding(table: pd.DataFrame) -> list[str]:
    if not len(table):
        return []
    rounds, bare = table["rounds"], table["bare_rounds"].max()
    text = "Weeding in the first 20 weeks: {:.1f} rounds in a bed on average, {:.1f} at most ({:.0f} on bare ground)."
    return [text.format(rounds.mean(), rounds.max(), bare)]


def _shared(pairs: pd.DataFrame) -> list[str]:
    """Sentences on root zones that other crops share most; sharing alone is no conflict."""
    told = pairs.loc[(pairs["from_month"] > 0) & (pairs["crop"] != pairs["with_crop"]), "text"]
    return list(told[:_PAIRS])


def company_lines(yields: RecipeYields, light: BedLight | None = None) -> list[str]:
    """Ratios of land by year, light on beds, and what to mind; each with its head."""
    by_year = list(yields.land.groupby("year"))
    ratios = [
        _year(part)
        for k, (_, part) in enumerate(by_year)
        if k < _FIRST or (k + 1) % _EVERY == 0 or k == len(by_year) - 1
    ]
    if len(ratios) < len(by_year):
        ratios.append(f"all {len(by_year)} years are in table land_equivalent")
    return [
        *section(
            "Land equivalent ratio of the crops that bear in the year (area-time ratio; good-practice yields)", ratios
        ),
        *section("Light on vegetable beds", [] if light is None else _light(light.months)),
        *section("Light and yields: look at", [f"{f.where}: {f.text}" for f in yields.findings]),
    ]


def _year(part: Any) -> str:
    whole = part[part["crop"] == "all"].iloc[0]
    crops = " + ".join(f"{row.crop} {row.ratio:.2f}" for row in part[part["crop"] != "all"].itertuples())
    return (
        f"year {whole['year']}: {whole['ratio']:.2f} ({whole['ratio_low']:.2f} to {whole['ratio_high']:.2f}; area-time "
        f"{whole['area_time']:.2f}): {crops}"
    )


def _light(months: pd.DataFrame) -> list[str]:
    by_year = months.groupby("year")["mean_pct"].mean()
    return [
        ", ".join(f"year {year} {mean:.0f} %" for year, mean in by_year.items()) + " of open light, mean of all months"
    ]
