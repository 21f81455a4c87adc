"""Whether what is harvested can be sold before it spoils: weekly outlets and keeping times."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from geoagro.season.crops import SeasonCrop
from geoagro.values.words import Sentence

WEEKS_PER_MONTH = 365.25 / 12 / 7
SPOILS_DAYS = 10
"""What keeps no longer than this is lifted for each delivery."""


def outlet_findings(yields: pd.DataFrame, crops: dict[str, SeasonCrop]) -> Iterator[tuple[str, str, str]]:
    """Warn of each crop of which more comes in a week than its outlet takes; note each that spoils soon."""
    by_month = yields[yields["kg_likely"] > 0]
    for code, part in by_month.groupby("crop", sort=True):
        crop = crops[str(code)]
        weekly = part["kg_likely"] / WEEKS_PER_MONTH
        keeps = crop.keeps_days
        if crop.weekly_kg is not None and (weekly > crop.weekly_kg * 1.001).any():
            over = part[weekly > crop.weekly_kg * 1.001]
            left = float((over["kg_likely"] - crop.weekly_kg * WEEKS_PER_MONTH).sum())
            told = Sentence(
                "The outlet takes {takes:.0f} kg a week; months with more: {n}, up to {most:.0f} kg a week, {left:.0f} kg more than can "
                "be sold in all. Plant in batches (`batches`, `batch_weeks`), plant less, or find another outlet; the income counts "
                "the whole harvest.",
                takes=crop.weekly_kg,
                n=len(over),
                most=weekly.max(),
                left=left,
            )
            yield "warning", str(code), told
        if keeps is not None and keeps[1] <= SPOILS_DAYS:
            soon = Sentence(
                "It keeps {low:g}-{high:g} days: lift for each delivery, about {kg:.0f} kg a week in months of harvest.",
                low=keeps[0],
                high=keeps[1],
                kg=weekly.median(),
            )
            yield "note", str(code), soon
