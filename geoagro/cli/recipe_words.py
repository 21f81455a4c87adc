"""What a recipe's analysis says, as lines for the terminal."""

from __future__ import annotations

from typing import Any

from geoagro.values.recipe_analysis import RecipeAnalysis

_PAIRS = 8


def recipe_lines(analysis: RecipeAnalysis) -> list[str]:
    """Conflicts of roots, those that a turn would ease first, and warnings; each with its head."""
    parts = section("Root zones by pair of crops, those that a turn would ease first", _conflicts(analysis.root_pairs))
    return [*parts, *section("Warnings", [f"{f.where}: {f.text}" for f in analysis.warnings])]


def section(head: str, lines: list[str]) -> list[str]:
    """Put a head over lines that are set in; nothing where there are no lines."""
    return ["", f"{head}:", *(f"  {line}" for line in lines)] if lines else []


def _conflicts(pairs: Any) -> list[str]:
    """Sentences on crops that crowd each other's roots, worst first within those with and without a remedy."""
    told = pairs.loc[(pairs["from_month"] > 0) & (pairs["crop"] != pairs["with_crop"]), "text"]
    eased = told.str.contains(";", regex=False)
    return [*told[eased], *told[~eased]][:_PAIRS]
