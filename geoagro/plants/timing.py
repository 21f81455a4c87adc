"""When each planting is planted and harvested, in weeks from the start of the design."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from geoagro.errors import DesignError
from geoagro.plants.crops import need
from geoagro.values.model import MOST_WEEKS
from geoagro.values.recipe import Crop, Planting

MOST_PLANTINGS = 500
"""A bed holds some ten; each is looked at beside every other one. Our own choice."""


@dataclass(frozen=True)
class Life:
    """Weeks from the start of the design; the plant is gone after `harvest_to`."""

    plant: int
    harvest_from: int
    harvest_to: int


def lives(plantings: Sequence[Planting], crops: Mapping[str, Crop]) -> list[dict[str, Life]]:
    """For each planting the life of each of its crops.

    A planting `after` another one starts `gap_weeks` after the last harvest week of all of that one's crops, or after
    the first one where it says so: then it stands between what is still being harvested.
    Raises DesignError where `after` names no planting, several, or leads round in a circle.
    """
    if len(plantings) > MOST_PLANTINGS:
        raise DesignError(
            f"plantings: {len(plantings)} of them, with those of recipes; at most {MOST_PLANTINGS} can be worked with. "
            "Split the design."
        )
    found: dict[int, dict[str, Life]] = {}
    for index in range(len(plantings)):
        _settle(index, plantings, crops, found, ())
    return [found[index] for index in range(len(plantings))]


def _settle(
    index: int,
    plantings: Sequence[Planting],
    crops: Mapping[str, Crop],
    found: dict[int, dict[str, Life]],
    waiting: tuple[int, ...],
) -> None:
    if index in found:
        return
    planting = plantings[index]
    if index in waiting:
        names = " -> ".join(plantings[k].label for k in (*waiting[waiting.index(index) :], index))
        raise DesignError(f"plantings: `after` leads round in a circle ({names}); give one of them a week instead.")
    start = planting.week
    if planting.after is not None:
        before = find(planting.after, plantings, f"planting '{planting.label}': after", planting)
        _settle(before, plantings, crops, found, (*waiting, index))
        ends = (
            life.harvest_to if planting.after_harvest == "last" else life.harvest_from
            for life in found[before].values()
        )
        start = max(ends) + planting.gap_weeks
    found[index] = {code: _life(start, planting, code, crops[code]) for code in planting.crops}


def _life(start: int, planting: Planting, code: str, crop: Crop) -> Life:
    first, last = planting.harvest_weeks or need(crop, code, "harvest_weeks", "the calendar")
    if start + last > MOST_WEEKS:
        raise DesignError(
            f"plantings: '{planting.label}' stands until week {start + last} (`week`, `after`, `gap_weeks` and "
            f"`harvest_weeks` added up); at most {MOST_WEEKS} weeks, two hundred years, can be planned."
        )
    return Life(start, start + first, start + last)


def find(name: str, plantings: Sequence[Planting], what: str, asking: Planting) -> int:
    """Index of the planting with this name in the same kind of bed and the same zone as `asking`."""
    others = [k for k, p in enumerate(plantings) if p.bed == asking.bed and p.zone == asking.zone and p is not asking]
    same = [k for k in others if plantings[k].label == name]
    if len(same) == 1:
        return same[0]
    names = sorted({plantings[k].label for k in others})
    problem = "is given more than once; give those plantings names of their own" if same else "doesn't exist"
    raise DesignError(
        f"{what} '{name}' {problem} among plantings with bed: {asking.bed} ({', '.join(names) or 'none'})."
    )
