"""What placing works from: the recipe with its crops and times, the beds and the ground."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from geoagro.arrays import Bools, Ints
from geoagro.plants.strips import Strips
from geoagro.plants.timing import Life
from geoagro.values.places import Reach
from geoagro.values.recipe import Crop, Planting
from geoagro.values.terrain import Terrain


@dataclass(frozen=True, eq=False)
class Plan:
    """The recipe on its beds.

    Attributes
    ----------
    times
        Per planting, the life of each of its crops.
    reach
        Where each planting that has an address may stand, by its index.
    own
        Which strips are placed for themselves; the others of a block are there as neighbours. None: all of them.
    """

    plantings: Sequence[Planting]
    crops: Mapping[str, Crop]
    times: Sequence[Mapping[str, Life]]
    strips: Strips
    terrain: Terrain
    reach: Mapping[int, Reach]
    own: Bools | None = None

    def counted(self, bed: Ints) -> Bools:
        """Say of each plant, by its strip, whether it is placed for itself."""
        return np.ones(len(bed), dtype=bool) if self.own is None else self.own[bed]
