"""All plants of a field: at once where they fit easily, else block by block into a file."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from datetime import date

import numpy as np
import pandas as pd

from geoagro.arrays import Ints
from geoagro.plants.blocks.split import Neighbourhood, block_of, expected, parted
from geoagro.plants.blocks.tallies import Tally, told
from geoagro.plants.placement import place_plants, spots_of
from geoagro.plants.plan import Plan
from geoagro.plants.plant_frame import plant_table
from geoagro.plants.strips import strips_of
from geoagro.plants.timing import lives
from geoagro.plants.together.nearest import nearest_m
from geoagro.plants.together.same_place import same_places
from geoagro.plants.together.too_near import too_near
from geoagro.values.beds import Beds
from geoagro.values.places import Reach
from geoagro.values.plants import FARTHEST_NEIGHBOUR_M, Plants
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop, Planting
from geoagro.values.results.stored_plants import AT_ONCE, Counting, PlantsToCome, StoredPlants
from geoagro.values.season import SeasonRule
from geoagro.values.site import Finding
from geoagro.values.terrain import Terrain
from geoagro.values.timeline import Timeline

Placing = Callable[[PlantsToCome], None]
"""What is told of the plants of a large field before the first are placed."""


def untold(*_: object) -> None:
    """Do nothing with what is placed so far."""


PER_BLOCK = 500_000
"""Plants of a block: below it the libraries' fixed cost per call begins to count, above it the processor's caches no longer hold
what is looked up (measured)."""
LOOKED_AT = 400_000
"""Plants of whole beds, spread over the field, in which plants on one place or too near are looked for (our choice)."""
WORKERS = 2
"""Threads that place blocks: the libraries let go of the interpreter for the larger part of it. More gain little."""


def workers_beside(placing: Placing) -> int:
    """Give how many threads place blocks: so many that another process that writes them, which takes longer, has a processor for itself."""
    return WORKERS if placing is untold else min(WORKERS, max((os.cpu_count() or 1) - 1, 1))


def has_room_beside(placing: Placing) -> bool:
    """Tell whether other work beside placing blocks keeps no process that writes them waiting for a processor."""
    return placing is untold or (os.cpu_count() or 1) > workers_beside(placing) + 1


def place_field(
    beds: Beds,
    terrain: Terrain,
    crops: Mapping[str, Crop],
    plantings: Sequence[Planting],
    *,
    reach: Mapping[int, Reach] | None = None,
    start: date | None = None,
    season: SeasonRule | None = None,
    progress: Progress = silent,
    at_once: int = AT_ONCE,
    per_block: int = PER_BLOCK,
    placing: Placing = untold,
) -> Plants | StoredPlants:
    """Place all plantings in all beds as `place_plants` does, in blocks where more than `at_once` plants are to be expected.

    A block is a run of whole rows. What stands around it is placed with it, as neighbours, and then left out, so that nothing
    in the result tells where blocks meet. Plants too near each other are looked for in beds spread over the field.

    Raises DesignError and LayoutError as `place_plants` does, OutputError where the disk has no room for the blocks.
    """
    plan = Plan(plantings, crops, lives(plantings, crops), strips_of(beds), terrain, reach or {})
    plants, codes = expected(plan)
    if plants.sum() <= at_once:
        return place_plants(beds, terrain, crops, plantings, reach=reach, start=start, season=season, progress=progress)
    blocks = parted(plan.strips, plants, per_block)
    placer = _Placer(plan, season, start)
    counting, tallies, number = Counting(terrain.crs), list[list[Tally]](), 1
    placing(PlantsToCome(terrain.crs, counting.file, codes))
    try:
        for k, (table, tally) in enumerate(placer.in_order(blocks, workers_beside(placing))):
            progress("placing plants", k / len(blocks))
            table["plant"] += number - 1
            number += len(table)
            counting.add(table)
            tallies.append(tally)
    finally:
        counting.file.end()  # whoever waits for blocks waits no longer
    stored = counting.plants()
    return counting.plants((*told(tallies), *_together(stored, plan, season, start)))


class _Placer:
    """Places blocks of a plan."""

    def __init__(self, plan: Plan, season: SeasonRule | None, start: date | None) -> None:
        self.plan, self.season, self.start = plan, season, start
        reach_m = max([FARTHEST_NEIGHBOUR_M, *(_reach_m(p, plan.crops) for p in plan.plantings)])
        self.near = Neighbourhood(plan.strips, reach_m)

    def block(self, own: Ints) -> tuple[pd.DataFrame, list[Tally]]:
        """Table of the plants of some strips, numbered from 1, and what was counted."""
        plan = block_of(self.plan, own, self.near.of(own))
        spots, tallies = spots_of(plan)
        table = plant_table(plan, spots, self.start)
        timeline = Timeline.of(table, plan.crops, self.season, start=self.start)
        table["nearest_m"] = nearest_m(table[["x", "y"]].to_numpy(), timeline)
        names = plan.strips.bed[plan.own] if plan.own is not None else plan.strips.bed
        mine = table["bed"].cat.categories.isin(list(names))[table["bed"].cat.codes]
        table = table[mine].reset_index(drop=True)
        table["plant"] = np.arange(1, len(table) + 1)
        return table, tallies

    def in_order(self, blocks: Sequence[Ints], workers: int) -> Iterator[tuple[pd.DataFrame, list[Tally]]]:
        """Place all blocks by so many threads, a few ahead of the one that is handed on."""
        with ThreadPoolExecutor(workers) as pool:
            waiting: list[Future[tuple[pd.DataFrame, list[Tally]]]] = []
            for own in blocks:
                waiting.append(pool.submit(self.block, own))
                if len(waiting) > workers:
                    yield waiting.pop(0).result()
            for future in waiting:
                yield future.result()


def _reach_m(planting: Planting, crops: Mapping[str, Crop]) -> float:
    """How far plants of a planting are looked at for the direction of others: twice the reach of their roots."""
    return 2 * max((crops[c].lifting_reach_m or crops[c].root_reach_m or 0.0 for c in planting.crops), default=0.0)


def _together(stored: StoredPlants, plan: Plan, season: SeasonRule | None, start: date | None) -> tuple[Finding, ...]:
    """Plants on one place, and too near, in whole beds spread over the field."""
    per_bed = stored.counts.groupby("bed", sort=False)["plants"].sum()
    every = -(-int(per_bed.sum()) // LOOKED_AT)
    frame = stored.of_beds(per_bed.index[::every])
    timeline = Timeline.of(frame, plan.crops, season, start=start)
    near = too_near(frame, timeline, plan.plantings, plan.crops, whole=False)
    return (*same_places(frame, plan.crops, season, whole=False), *near)
