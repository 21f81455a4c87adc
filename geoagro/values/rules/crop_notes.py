"""What is worth knowing of a crop beside its counts: report, season and bed sheets tell every line that stands here.

A further one is a property of `Crop` and a line in the list; no product needs a change.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from geoagro.values.recipe import Crop
from geoagro.values.words import Sentence


@dataclass(frozen=True)
class CropNote:
    """A property of a crop, and how it is told: words, or nothing where it has nothing to say."""

    key: str
    words: Callable[[Crop], str]


def _frost(crop: Crop) -> str:
    return Sentence("killed by frost") if crop.frost_tender else ""


def _nursery(crop: Crop) -> str:
    return Sentence("{weeks:g} weeks in the nursery", weeks=crop.nursery_weeks) if crop.nursery_weeks else ""


def _keeps(crop: Crop) -> str:
    if not crop.keeps_days:
        return ""
    least, most = crop.keeps_days
    return Sentence("harvest keeps {least:g} to {most:g} days", least=least, most=most)


CROP_NOTES = (
    CropNote("frost_tender", _frost),
    CropNote("nursery_weeks", _nursery),
    CropNote("keeps_days", _keeps),
)


def notes_of(crop: Crop) -> str:
    """All that is told of a crop, in one line; empty where nothing is known.

    >>> notes_of(Crop(frost_tender=True, keeps_days=(3, 8)))
    'killed by frost, harvest keeps 3 to 8 days'
    """
    told = tuple(text for note in CROP_NOTES if (text := note.words(crop)))
    return Sentence("{all}", all=told) if told else ""
