"""Sets made from one: what rows would be if more of them were crowded in, or if some ended sooner."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely

from geoagro.planar.polylines import stretch
from geoagro.rows.candidates import Candidate, cut_or_eased, mended, nudged
from geoagro.rows.mending import KEEP_OFF
from geoagro.rows.row_ends import ends_of
from geoagro.rows.task import Task

FIRM_ROUNDS = 12
INNER = 1.0
"""A row that ends farther than this many spacings from the edge of the ground could go on."""


@dataclass(frozen=True)
class Variant:
    """How a set is changed before it is mended.

    Attributes
    ----------
    shorter_m
        Rows give up this much at each end that isn't at the edge of the ground.
    keep_off
        What is drawn keeps this many spacings from other rows.
    firm
        Whether nudging holds on longer to what is out of bounds.
    finest
        Whether it has most nodes in all rounds.
    """

    shorter_m: float = 0.0
    keep_off: float = KEEP_OFF
    firm: bool = False
    finest: bool = False


PLAIN = Variant()
_CHANGED = (
    PLAIN,
    Variant(firm=True),
    Variant(keep_off=0.65, firm=True),
    Variant(keep_off=0.95, firm=True),
    Variant(shorter_m=25.0),
    Variant(keep_off=0.95),
    Variant(shorter_m=12.0),
)
VARIANTS = (*_CHANGED, *(replace(variant, finest=True) for variant in _CHANGED))
"""Each wins ground on some field and none on all; tried one after the other."""


def variants_of(best: Candidate, task: Task, variant: Variant) -> list[Candidate]:
    """Make a set's variant, and mend that once more."""
    finest = variant.finest
    start = _shortened(best, task, variant) if variant.shorter_m else best
    firm_rounds = FIRM_ROUNDS if variant.firm else 0
    found = [mended(start, task, keep_off=variant.keep_off, firm_rounds=firm_rounds, finest=finest)]
    if variant != PLAIN:
        found.append(mended(found[0], task, finest=finest))
    return [one for one in found if one.held.kept]


def _shortened(found: Candidate, task: Task, variant: Variant) -> Candidate:
    """Let rows end sooner, and the others spread over what that leaves."""
    rows = found.held.kept
    ends = ends_of(rows)
    edge = task.plantable.boundary
    inner = ~np.asarray(shapely.dwithin(shapely.points(ends.xy), edge, INNER * task.rule.spacing_m))
    give_up = np.zeros((len(rows), 2))
    give_up[ends.row, np.arange(len(ends.row)) % 2] = variant.shorter_m * inner
    left = [
        row if not gone.any() else stretch(row, gone[0], row.length - gone[1])
        for row, gone in zip(rows, give_up, strict=True)
        if row.length - gone.sum() >= task.rule.min_row_length_m
    ]
    return cut_or_eased(nudged(left, task, finest=variant.finest), task).after(found) if left else found
