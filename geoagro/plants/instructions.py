"""How to plant one crop of a bed, in one sentence that a field worker can follow."""

from __future__ import annotations

from collections.abc import Sequence

from geoagro.plants.kinds import Kind
from geoagro.plants.records.sheet import SheetLine
from geoagro.values.recipe import EMPTY_PLACE, Crop

_TOWARD = {
    "along": "along the row",
    "against": "against the row",
    "uphill": "uphill",
    "downhill": "downhill",
    "away": "away from the tree row",
}
_BESIDE = {
    "behind": "behind each {}, on the side away from its roots",
    "ahead": "ahead of each {}, on the side of its roots",
    "upslope": "upslope of each {}",
    "downslope": "downslope of each {}",
    "along": "farther along the row than each {}",
    "against": "before each {}, seen along the row",
}
_SLANTED = {"stem cutting", "slip"}


def how_to_plant(kind: Kind, crop: Crop, lines: Sequence[SheetLine], facing: Sequence[str]) -> str:
    """Say what goes into the ground, where across the bed, how far apart, and which way.

    `facing` holds the directions that its plants have in this bed, as in layer PLANTS.
    """
    return f"{_what(crop)} {_where(kind, lines)}{_facing(kind, crop, facing)}."


def centimetres(metres: float) -> str:
    """Write a length for a tape: whole centimetres where it is whole to a millimetre or so.

    >>> centimetres(0.6), centimetres(0.333)
    ('60 cm', '33.3 cm')
    """
    return f"{round(100 * metres, 1):g} cm"


def _what(crop: Crop) -> str:
    count = crop.plants_per_place or 1
    thing = crop.material or "plant"
    return f"{count} {thing}{'s at each planting point,' if count > 1 else ''}"


def _where(kind: Kind, lines: Sequence[SheetLine]) -> str:
    rule = kind.rule
    if rule.beside is not None:
        return (
            f"{centimetres(rule.beside.distance_m)} {_BESIDE[rule.beside.where].format(_plain(rule.beside.planting))}"
        )
    across = _across([line.offset_m for line in lines])
    starts = sorted({round(line.first_m, 4) for line in lines})
    if rule.sequence:
        return f"{across}, {_turns(kind)}"
    first = f"first plant {' and '.join(centimetres(s) for s in starts)} from the end"
    if len(starts) > 1:
        first += " (every second line starts later)"
    return f"{across}, every {centimetres(lines[0].step_m)}, {first}"


def _plain(code: str) -> str:
    return code.replace("_", " ")


def _turns(kind: Kind) -> str:
    places = [str(k + 1) for k, code in enumerate(kind.rule.codes) if code == kind.crop]
    order = ", ".join(
        f"{k} {'empty' if code == EMPTY_PLACE else _plain(code)}" for k, code in enumerate(kind.rule.codes, start=1)
    )
    step = centimetres(kind.rule.spacing_m or 0.0)
    shift = kind.rule.sequence_shift
    later = f"; each next row begins {shift} plant{'s' if shift > 1 else ''} later in the order" if shift else ""
    own = f"number{'s' if len(places) > 1 else ''} {' and '.join(places)}"
    return f"a plant every {step} in this order, then from the beginning again: {order}{later}; this crop: {own}"


def _across(offsets: Sequence[float]) -> str:
    words = [_offset(value) for value in sorted(offsets, reverse=True)]
    if len(words) == 1:
        return f"in one line {words[0]}"
    return f"in {len(words)} lines, {', '.join(words[:-1])} and {words[-1]}"


def _offset(value: float) -> str:
    if abs(value) < 1e-6:
        return "in the middle of the bed"
    return f"{centimetres(abs(value))} {'upslope' if value > 0 else 'downslope'} of the middle"


def _facing(kind: Kind, crop: Crop, facing: Sequence[str]) -> str:
    if kind.rule.direction == "all_round":
        return ""
    if len(facing) > 1:
        toward = "the way the arrows show"
    elif facing[0] == "bearing":
        toward = f"toward {kind.rule.direction:.0f}° from north"
    else:
        toward = _TOWARD[facing[0]]
    slanted = "set slanted, " if crop.material in _SLANTED else ""
    return f", {slanted}roots pointing {toward}"
