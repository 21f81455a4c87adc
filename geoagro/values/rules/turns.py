"""Vegetable beds whose rounds are different recipes: each planting with its turn becomes one with weeks of its own."""

from __future__ import annotations

from geoagro.values.design import Design
from geoagro.values.recipe import Planting
from geoagro.values.rules.bed_kinds import lasts
from geoagro.values.season import Repeat


def in_turns(design: Design) -> Design:
    """Write turns as weeks: a planting of turn k begins k - 1 intervals later and comes back when all turns are over.

    Turns are counted apart in each zone. An interval that the design gives for a planting (`by_planting`) stays.
    """
    turns: dict[str | None, int] = {}
    for planting in design.plantings:
        if not lasts(planting.bed):
            turns[planting.zone] = max(turns.get(planting.zone, 1), planting.turn)
    if all(count == 1 for count in turns.values()):
        return design
    repeat = design.season.vegetables if design.season is not None else Repeat()
    moved = tuple(_begun(planting, repeat.every_weeks) for planting in design.plantings)
    changes: dict[str, object] = {"plantings": moved}
    if design.season is not None:
        again = {p.label: turns[p.zone] * repeat.every_weeks for p in moved if not lasts(p.bed) and turns[p.zone] > 1}
        vegetables = repeat.model_copy(update={"by_planting": again | repeat.by_planting})
        changes["season"] = design.season.model_copy(update={"vegetables": vegetables})
    return design.model_copy(update=changes)


def _begun(planting: Planting, every_weeks: int) -> Planting:
    """Count its weeks from the start of the design; what follows another planting does so by itself."""
    if planting.turn == 1 or planting.after is not None:
        return planting
    return planting.model_copy(update={"week": planting.week + (planting.turn - 1) * every_weeks, "turn": 1})
