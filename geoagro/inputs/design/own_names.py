"""Names that a design's writer gave: they stay as written in every language, whatever word of ours they may equal."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.values.design import Design
from geoagro.values.recipe import Planting


def own_crop_names(design: Design) -> frozenset[str]:
    """Names of the design's own crops and plantings.

    A planting that is called after its crop isn't among them, since that name is the library's.
    """
    library = read_crop_library()
    crops = (crop.name or ("" if code in library else code) for code, crop in design.crops.items())
    plantings = (p.name for p in _plantings(design) if p.name and p.name != "+".join(p.crops))
    return frozenset(name.replace("_", " ") for name in chain(crops, plantings) if name)


def crop_names(design: Design | None = None) -> dict[str, str]:
    """Names by code of the crops that are called otherwise: those of the library, and the design's own.

    >>> crop_names()["bean"]
    'common bean'
    """
    names = {code: crop.name for code, crop in read_crop_library().items()}
    if design is not None:
        names |= {code: crop.name for code, crop in design.crops.items() if crop.name}
    return {code: name for code, name in names.items() if name and name != code.replace("_", " ")}


def own_place_names(design: Design) -> frozenset[str]:
    """Names of the field, of its parts, and of what was drawn in it."""
    inputs = design.inputs
    drawn = [
        *(source.name for source in inputs.exclusions),
        *(source.name for source in inputs.tracks),
        *(source.name for source in inputs.areas),
        *(source.name for source in inputs.water_bodies),
    ]
    mixtures = (p.mixture for p in _plantings(design) if p.mixture)
    return frozenset(chain([design.name], drawn, (zone.name for zone in design.zones), mixtures))


def _plantings(design: Design) -> Iterator[Planting]:
    yield from design.plantings
    for zone in design.zones:
        yield from zone.plantings
