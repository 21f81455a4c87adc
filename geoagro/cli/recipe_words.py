"""What a recipe's analysis, and its light and yields, say, as lines for the terminal."""

from __future__ import annotations

from typing import Any

import pandas as pd

from geoagro.cli.habits.language import finding_line
from geoagro.light.records.bed_light import BedLight
from geoagro.outputs.words.say import Words
from geoagro.plants.records.recipe_analysis import RecipeAnalysis
from geoagro.values.words import say
from geoagro.yields.records.tables import RecipeYields

_PAIRS = 4
_FIRST, _EVERY = 6, 4
"""The first six years, and of later ones every fourth and the last."""


def recipe_lines(analysis: RecipeAnalysis, words: Words) -> list[str]:
    """Root zones that crops share, weeding, and warnings, such as lifting that harms roots; each with its head."""
    return [
        *section(
            words(say("Root zones that crops share (no conflict by itself: what they take is in the yields)")),
            [words.again(text) for text in _shared(analysis.root_pairs)],
            words,
        ),
        *section(words(say("Ground")), _weeding(analysis.weeding, words), words),
        *section(words(say("Warnings")), [finding_line(f, words) for f in analysis.warnings], words),
    ]


def section(head: str, lines: list[str], words: Words) -> list[str]:
    """Put a head over lines that are set in; nothing where there are no lines."""
    return ["", words(say("{head}:"), head=head), *(f"  {line}" for line in lines)] if lines else []


def _weeding(table: pd.DataFrame, words: Words) -> list[str]:
    if not len(table):
        return []
    rounds, bare = table["rounds"], table["bare_rounds"].max()
    text = say(
        "Weeding in the first 20 weeks: {mean:.1f} rounds in a bed on average, {most:.1f} at most ({bare:.0f} on bare ground)."
    )
    return [words(text, mean=float(rounds.mean()), most=float(rounds.max()), bare=float(bare))]


def _shared(pairs: pd.DataFrame) -> list[str]:
    """Sentences on root zones that other crops share most; sharing alone is no conflict."""
    told = pairs.loc[(pairs["from_month"] > 0) & (pairs["crop"] != pairs["with_crop"]), "text"]
    return list(told[:_PAIRS])


def company_lines(yields: RecipeYields, words: Words, light: BedLight | None = None) -> list[str]:
    """Ratios of land by year, light on beds, and what to mind; each with its head."""
    by_year = list(yields.land.groupby("year"))
    ratios = [
        _year(part, words)
        for k, (_, part) in enumerate(by_year)
        if k < _FIRST or (k + 1) % _EVERY == 0 or k == len(by_year) - 1
    ]
    if len(ratios) < len(by_year):
        ratios.append(words(say("all {n} years are in table land_equivalent"), n=len(by_year)))
    return [
        *section(
            words(
                say("Land equivalent ratio of the crops that bear in the year (area-time ratio; good-practice yields)")
            ),
            ratios,
            words,
        ),
        *section(words(say("Light on vegetable beds")), [] if light is None else _light(light.months, words), words),
        *section(words(say("Light and yields, to look at")), [finding_line(f, words) for f in yields.findings], words),
    ]


def _year(part: Any, words: Words) -> str:
    whole = part[part["crop"] == "all"].iloc[0]
    each = part[part["crop"] != "all"].itertuples()
    crops = " + ".join(f"{words.crop(row.crop)} {words.number(row.ratio, 2)}" for row in each)
    return words(
        say("year {year}: {ratio:.2f} ({low:.2f} to {high:.2f}; area-time {time:.2f}): {crops}"),
        year=int(whole["year"]), ratio=float(whole["ratio"]), low=float(whole["ratio_low"]), high=float(whole["ratio_high"]),
        time=float(whole["area_time"]), crops=crops,
    )  # fmt: skip


def _light(months: pd.DataFrame, words: Words) -> list[str]:
    by_year = months.groupby("year")["mean_pct"].mean()
    one = say("year {year} {mean:.0f} %")
    years = ", ".join(words(one, year=int(str(year)), mean=float(mean)) for year, mean in by_year.items())
    return [words(say("{years} of open light, mean of all months"), years=years)]
