"""What a report calls each kind of ground, and what it counts there."""

from __future__ import annotations

from dataclasses import dataclass

from geoagro.values.reasons import reason_of
from geoagro.values.words import say


@dataclass(frozen=True)
class GroundKind:
    """Words and definition of a kind of ground."""

    words: str
    definition: str


GROUND_KINDS: dict[str, GroundKind] = {
    "field": GroundKind(say("Gross field"), say("Gross field: all ground inside the boundary, holes left out.")),
    "excluded": GroundKind(say("No rows allowed"), say("Ground on which no row may stand, for the reasons below.")),
    "plantable": GroundKind(
        say("Plantable ground"), say("Field less the ground where no rows are allowed: where rows may stand.")
    ),
    "tree_beds": GroundKind(say("Tree beds"), say("Strips planted around the tree rows, at their working width.")),
    "vegetable_beds": GroundKind(
        say("Vegetable beds"), say("Vegetable beds between the rows, at their working width.")
    ),
    "paths": GroundKind(say("Paths"), say("Walking paths between beds.")),
    "unplanted": GroundKind(say("Left without beds"), say("Plantable ground that carries no bed and no path.")),
    "difference": GroundKind(
        say("Difference"),
        say("Plantable ground less all its parts as drawn; shows what rounding and slivers leave."),
    ),
    "planted": GroundKind(
        say("Planted area"),
        say("Planted area: tree beds and vegetable beds that carry at least one plant; paths are not counted."),
    ),
    "tree_canopy": GroundKind(
        say("Tree canopy at full size"),
        say("Ground under the crowns of trees at full size, overlaps counted once, inside the field."),
    ),
}


def ground_kind(item: str) -> GroundKind:
    """Give the words of a kind of ground, or of the reason for which ground is left."""
    if item in GROUND_KINDS:
        return GROUND_KINDS[item]
    reason = reason_of(item)
    return GroundKind(reason.words, reason.definition)
