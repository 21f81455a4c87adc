"""How to plant one crop of a bed, in sentences that a field worker can follow."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from geoagro.plants.kinds import Kind
from geoagro.plants.records.sheet import SheetLine
from geoagro.values.recipe import EMPTY_PLACE, Crop
from geoagro.values.rules.crop_words import MATERIALS
from geoagro.values.words import CropName, Sentence, say

_TOWARD = {
    "along": say("Roots pointing along the row."),
    "against": say("Roots pointing against the row."),
    "uphill": say("Roots pointing uphill."),
    "downhill": say("Roots pointing downhill."),
    "away": say("Roots pointing away from the tree row."),
}
_BESIDE = {
    "behind": say("{distance} behind each plant of {planting}, on the side away from its roots."),
    "ahead": say("{distance} ahead of each plant of {planting}, on the side of its roots."),
    "upslope": say("{distance} upslope of each plant of {planting}."),
    "downslope": say("{distance} downslope of each plant of {planting}."),
    "along": say("{distance} farther along the row than each plant of {planting}."),
    "against": say("{distance} before each plant of {planting}, seen along the row."),
}
_SLANTED = {"stem cutting", "slip"}


def how_to_plant(
    kind: Kind, crop: Crop, lines: Sequence[SheetLine], facing: Sequence[str], *, neighbour: str | tuple[CropName, ...]
) -> tuple[Sentence, ...]:
    """Say what goes into the ground, where across the bed, how far apart, and which way.

    `facing` holds the directions that its plants have in this bed, as in layer PLANTS; `neighbour` is
    what a worker calls the plants that it stands beside, if it does.
    """
    return (_what(crop), *_where(kind, lines, neighbour), *_facing(kind, crop, facing))


def centimetres(metres: float) -> Sentence:
    """Write a length for a tape: whole centimetres where it is whole to a millimetre or so.

    >>> str(centimetres(0.6)), str(centimetres(0.333))
    ('60 cm', '33.3 cm')
    """
    return Sentence("{length:g} cm", length=round(100 * metres, 1))


def _what(crop: Crop) -> Sentence:
    material = MATERIALS.get(crop.material or "", crop.material or Sentence("plant"))
    count = crop.plants_per_place or 1
    return Sentence("At each planting point: {count} × {material}.", count=count, material=material)


def _where(kind: Kind, lines: Sequence[SheetLine], neighbour: str | tuple[CropName, ...]) -> tuple[Sentence, ...]:
    rule = kind.rule
    if rule.beside is not None:
        near = centimetres(rule.beside.distance_m)
        return (Sentence(_BESIDE[rule.beside.where], distance=near, planting=neighbour),)
    across = _across([line.offset_m for line in lines])
    if rule.sequence:
        return across, *_turns(kind)
    step = centimetres(lines[0].step_m)
    starts = [centimetres(start) for start in sorted({round(line.first_m, 4) for line in lines})]
    if len(starts) == 1:
        return across, Sentence("Every {step}; first plant {first} from the end.", step=step, first=starts[0])
    message = say("Every {step}; first plants {starts} from the end (every second line starts later).")
    return across, Sentence(message, step=step, starts=tuple(starts))


def _plain(code: str) -> CropName:
    return CropName(code.replace("_", " "))


def _turns(kind: Kind) -> Iterator[Sentence]:
    codes = list(enumerate(kind.rule.codes, start=1))
    order = tuple(
        Sentence("{place} empty", place=k)
        if code == EMPTY_PLACE
        else Sentence("{place} {crop}", place=k, crop=_plain(code))
        for k, code in codes
    )
    yield Sentence(
        "A plant every {step} in this order, then from the beginning again: {order}.",
        step=centimetres(kind.rule.spacing_m or 0.0), order=order,
    )  # fmt: skip
    if kind.rule.sequence_shift:
        yield Sentence(
            "Each next row begins {shift} {shift:plant|plants} later in the order.", shift=kind.rule.sequence_shift
        )
    places = ", ".join(str(k) for k, code in codes if code == kind.crop)
    yield Sentence("This crop has these places in the order: {places}.", places=places)


def _across(offsets: Sequence[float]) -> Sentence:
    places = tuple(_offset(value) for value in sorted(offsets, reverse=True))
    if len(places) == 1:
        return Sentence("In one line: {places}.", places=places)
    return Sentence("In {count} lines: {places}.", count=len(places), places=places)


def _offset(value: float) -> Sentence:
    if abs(value) < 1e-6:
        return Sentence("in the middle of the bed")
    distance = centimetres(abs(value))
    if value > 0:
        return Sentence("{distance} upslope of the middle", distance=distance)
    return Sentence("{distance} downslope of the middle", distance=distance)


def _facing(kind: Kind, crop: Crop, facing: Sequence[str]) -> Iterator[Sentence]:
    if kind.rule.direction == "all_round":
        return
    if crop.material in _SLANTED:
        yield Sentence("Set slanted.")
    if len(facing) > 1:
        yield Sentence("Roots pointing the way the arrows show.")
    elif facing[0] == "bearing":
        yield Sentence("Roots pointing toward {bearing:.0f}° from north.", bearing=kind.rule.direction)
    else:
        yield Sentence(_TOWARD[facing[0]])
