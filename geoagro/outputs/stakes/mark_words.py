"""What a stake marks, in words: its kind, and which beds begin or end there."""

from __future__ import annotations

from geoagro.outputs.words.say import Words
from geoagro.values.stakeout import STAKE_KINDS
from geoagro.values.words import say

_ENDS = {"begins": say("{bed} begins"), "ends": say("{bed} ends")}


def kind_and_notes(kind: str, note: str, words: Words) -> str:
    """Name the kind, and after it what column `note` tells."""
    return words.listed([words(STAKE_KINDS[kind].words), *(note_words(one, words) for one in note.split("; ") if one)])


def note_words(note: str, words: Words) -> str:
    """Write one note of layer MARKS: a bed that begins or ends, or the name of what the row ends at.

    >>> note_words("B2 begins", Words("en")), note_words("pond", Words("en"))
    ('B2 begins', 'pond')
    """
    bed, _, end = note.rpartition(" ")
    return words(_ENDS[end], bed=bed) if bed and end in _ENDS else note
