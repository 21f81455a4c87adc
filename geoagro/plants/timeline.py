"""Which crop stands in which bed when, and when beds lie bare."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from geoagro.plants.kinds import Kind, Stand
from geoagro.plants.records.recipe_analysis import TIMELINE
from geoagro.values.site import Finding


def timeline_table(frame: Any, stand: Stand) -> Any:
    """Layer TIMELINE, ordered by bed kind, mixture and week."""
    beds = frame["bed"].groupby(stand.kind).nunique()
    order = sorted(range(len(stand.kinds)), key=lambda k: _when(stand.kinds[k]))
    kinds = [stand.kinds[k] for k in order]
    columns = {
        **{name: [getattr(k, name) for k in kinds] for name in ("bed_kind", "mixture", "planting", "crop")},
        "beds": [int(beds[k]) for k in order],
        "plants": [len(stand.of(k)) for k in order],
        "plant_week": [k.life.plant for k in kinds],
        "harvest_from_week": [k.life.harvest_from for k in kinds],
        "harvest_to_week": [k.life.harvest_to for k in kinds],
        "follows": [k.rule.after or "" for k in kinds],
    }
    return TIMELINE.frame(columns)


def _when(kind: Kind) -> tuple[str, str, int, int, str]:
    return kind.bed_kind, kind.mixture, kind.life.plant, kind.life.harvest_to, kind.planting


def bare_beds(frame: Any, stand: Stand, weeks: int) -> list[Finding]:
    """Warn of beds in which nothing grows for more than `weeks` weeks between planting and the last harvest."""
    grouped = frame.assign(kind=stand.kind)[["bed", "kind"]].drop_duplicates().groupby("bed")["kind"]
    beds_by_kinds: dict[tuple[int, ...], list[str]] = {}
    for bed, kinds in grouped:
        beds_by_kinds.setdefault(tuple(sorted(kinds)), []).append(str(bed))
    found = []
    for kinds, beds in sorted(beds_by_kinds.items()):
        for start, end in gaps([stand.kinds[k] for k in kinds], weeks):
            text = f"Nothing grows from week {start} to week {end} ({end - start} weeks). Sow a cover or a short crop there."
            found.append(Finding("warning", _some(beds), text))
    return found


def _some(beds: Sequence[str]) -> str:
    return (
        f"bed {beds[0]}"
        if len(beds) == 1
        else f"{len(beds)} beds ({beds[0]}, {beds[1]}{', ...' if len(beds) > 2 else ''})"
    )


def gaps(kinds: Sequence[Kind], weeks: int) -> list[tuple[int, int]]:
    """Stretches of more than `weeks` weeks, from week 0 to the last harvest, in which no kind is alive."""
    lives = sorted((k.life.plant, k.life.harvest_to) for k in kinds)
    covered_to, found = 0, []
    for start, end in lives:
        if start - covered_to > weeks:
            found.append((covered_to, start))
        covered_to = max(covered_to, end)
    return found


def kinds_in(frame: Any, stand: Stand, bed: str) -> list[Kind]:
    """Kinds that stand in one bed."""
    return [stand.kinds[k] for k in np.unique(stand.kind[(frame["bed"] == bed).to_numpy()])]
