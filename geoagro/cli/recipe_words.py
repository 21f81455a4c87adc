"""What a recipe's analysis says, as lines for the terminal."""

from __future__ import annotations

from typing import Any

from geoagro.plants.records.recipe_analysis import RecipeAnalysis

_PAIRS = 8


def recipe_lines(analysis: RecipeAnalysis) -> list[str]:
    """Conflicts of roots, those that a turn would ease first, and warnings; each with its head."""
    return [
        *section("Root zones by pair of crops, those that a turn would ease first", _conflicts(analysis.root_pairs)),
        *section("Ground", [*_weeding(analysis.weeding), *_land(analysis.land_equivalent)]),
        *section("Warnings", [f"{f.where}: {f.text}" for f in analysis.warnings]),
    ]


def section(head: str, lines: list[str]) -> list[str]:
    """Put a head over lines that are set in; nothing where there are no lines."""
    return ["", f"{head}:", *(f"  {line}" for line in lines)] if lines else []


def _weeding(table: Any) -> list[str]:
    if not len(table):
        return []
    rounds, bare = table["rounds"], table["bare_rounds"].max()
    text = "Weeding in the first 20 weeks: {:.1f} rounds in a bed on average, {:.1f} at most ({:.0f} on bare ground)."
    return [text.format(rounds.mean(), rounds.max(), bare)]


def _land(table: Any) -> list[str]:
    if not len(table):
        return []
    parts = table[table["crop"] != "all"]
    crops = " + ".join(f"{crop} {ratio:.2f}" for crop, ratio in parts[["crop", "ratio"]].itertuples(index=False))
    total = float(table.loc[table["crop"] == "all", "ratio"].iloc[0])
    return [f"Land equivalent ratio: {crops} = {total:.2f} (likely yields, over beds and paths)."]


def _conflicts(pairs: Any) -> list[str]:
    """Sentences on crops that crowd each other's roots, worst first within those with and without a remedy."""
    told = pairs.loc[(pairs["from_month"] > 0) & (pairs["crop"] != pairs["with_crop"]), "text"]
    eased = told.str.contains(";", regex=False)
    return [*told[eased], *told[~eased]][:_PAIRS]
