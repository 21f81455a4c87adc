"""Which crop stands in which bed when, and when beds lie bare."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from geoagro.plants.kinds import Kind, Stand
from geoagro.plants.records.recipe_analysis import TIMELINE
from geoagro.values.site import Finding
from geoagro.values.words import Sentence


def timeline_table(frame: gpd.GeoDataFrame, stand: Stand) -> pd.DataFrame:
    """Layer TIMELINE, ordered by bed kind, mixture and week."""
    beds = frame["bed"].groupby(stand.kind).nunique()
    rows = [(number, kind, stay) for number, kind in enumerate(stand.kinds) for stay in kind.standing.stays]
    rows.sort(key=lambda row: (row[1].bed_kind, row[1].mixture, row[2].plant_week, row[2].end_week, row[1].planting))
    columns = {
        **{name: [getattr(k, name) for _, k, _ in rows] for name in ("bed_kind", "mixture", "planting", "crop")},
        "planting_no": [stay.round for _, _, stay in rows],
        "beds": [int(beds[number]) for number, _, _ in rows],
        "plants": [kind.standing.places for _, kind, _ in rows],
        "plant_week": [stay.plant_week for _, _, stay in rows],
        "harvest_from_week": [stay.harvest_from_week for _, _, stay in rows],
        "harvest_to_week": [stay.end_week for _, _, stay in rows],
        "follows": [kind.rule.after or "" for _, kind, _ in rows],
    }
    return TIMELINE.frame(columns)


def bare_beds(frame: gpd.GeoDataFrame, stand: Stand, weeks: int) -> list[Finding]:
    """Warn of beds in which nothing grows for more than `weeks` weeks between planting and the last harvest."""
    grouped = frame.assign(kind=stand.kind)[["bed", "kind"]].drop_duplicates().groupby("bed")["kind"]
    beds_by_kinds: dict[tuple[int, ...], list[str]] = {}
    for bed, its_kinds in grouped:
        beds_by_kinds.setdefault(tuple(sorted(its_kinds)), []).append(str(bed))
    found = []
    for kinds, beds in sorted(beds_by_kinds.items()):
        bare = gaps([stand.kinds[k] for k in kinds], weeks)
        if bare:
            found.append(Finding("warning", _some(beds), _bare_words(bare)))
    return found


def _bare_words(bare: Sequence[tuple[int, int]]) -> str:
    """Tell all bare stretches of a bed in one sentence."""
    lengths = [end - start for start, end in bare]
    first, last = bare[0]
    if len(bare) == 1:
        return Sentence(
            "Nothing grows from week {first} to week {last} ({n} {n:week)|weeks)}. Sow a cover or a short crop there.",
            first=first, last=last, n=lengths[0],
        )  # fmt: skip
    if min(lengths) == max(lengths):
        return Sentence(
            "Nothing grows in {stretches} stretches of {n} {n:week|weeks} each, {all} weeks in all, the first from week {first} "
            "to week {last}. Sow a cover or a short crop there (`turn`, or `season.free_beds`).",
            stretches=len(bare), n=lengths[0], all=sum(lengths), first=first, last=last,
        )  # fmt: skip
    return Sentence(
        "Nothing grows in {stretches} stretches of {short} to {long} weeks, {all} weeks in all, the first from week {first} to "
        "week {last}. Sow a cover or a short crop there (`turn`, or `season.free_beds`).",
        stretches=len(bare), short=min(lengths), long=max(lengths), all=sum(lengths), first=first, last=last,
    )  # fmt: skip


def _some(beds: Sequence[str]) -> str:
    if len(beds) == 1:
        return Sentence("bed {bed}", bed=beds[0])
    return Sentence("{n} {n:bed|beds} ({beds})", n=len(beds), beds=(*beds[:2], *(["..."] if len(beds) > 2 else [])))


def gaps(kinds: Sequence[Kind], weeks: int) -> list[tuple[int, int]]:
    """Stretches of more than `weeks` weeks, from week 0 to the last harvest, in which no kind is alive."""
    lives = sorted((stay.plant_week, stay.end_week) for k in kinds for stay in k.standing.stays)
    covered_to, found = 0, []
    for start, end in lives:
        if start - covered_to > weeks:
            found.append((covered_to, start))
        covered_to = max(covered_to, end)
    return found


def kinds_in(frame: Any, stand: Stand, bed: str) -> list[Kind]:
    """Kinds that stand in one bed."""
    return [stand.kinds[k] for k in np.unique(stand.kind[(frame["bed"] == bed).to_numpy()])]
