"""What a surveyor reads in the drawing: what each layer holds, and notes under the field with a legend of the stakes."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass

from geoagro.outputs.stakes.cautions import SERVICES
from geoagro.outputs.stakes.lists import is_us_feet, length_unit
from geoagro.outputs.stakes.places import Places
from geoagro.outputs.words.say import Words
from geoagro.stakeout.records.stakes import StakeOut
from geoagro.values.stakeout import STAKE_KINDS
from geoagro.values.words import say

LAYERS = {
    "FIELD": say("Field boundary"),
    "EXCLUSIONS": say("Exclusions and access tracks"),
    "TREE_BEDS": say("Tree beds"),
    "VEGETABLE_BEDS": say("Vegetable beds"),
    "ROWS": say("Tree rows"),
    "ROW_NUMBERS": say("Row numbers"),
    "WALK": say("Walk over all stakes"),
    "WAYS_TO_WALK": say("Ways from the start to each part of the walk"),
    "NAMES": say("Names of stakes"),
    "NOTES": say("Notes"),
}
"""What a layer of the drawing holds, by its name."""
NO_HEIGHT = "_NO_HEIGHT"
_LINE_LETTERS = 70


@dataclass(frozen=True)
class NoteLine:
    """A line of the notes; `colour` is a number of the format's palette, None for that of the layer."""

    text: str
    colour: int | None = None


def marks_layer(code: str, *, height_known: bool = True) -> str:
    """Name the layer of a kind of stake.

    >>> marks_layer("bend"), marks_layer("bend", height_known=False)
    ('STAKES_BEND', 'STAKES_BEND_NO_HEIGHT')
    """
    return f"STAKES_{code.upper()}{'' if height_known else NO_HEIGHT}"


def layer_words(name: str, words: Words) -> str:
    """Say what a layer of the drawing holds.

    >>> from geoagro.outputs.words.say import ENGLISH
    >>> layer_words("STAKES_BEND_NO_HEIGHT", ENGLISH)
    'Bend, height unknown'
    """
    if name in LAYERS:
        return words(LAYERS[name])
    kind = STAKE_KINDS[name.removesuffix(NO_HEIGHT).removeprefix("STAKES_").lower()]
    if not name.endswith(NO_HEIGHT):
        return words.title(words(kind.words))
    return words.title(words(say("{stake}, height unknown"), stake=words(kind.words)))


def note_lines(stakes: StakeOut, places: Places, field: str, words: Words) -> Iterator[NoteLine]:
    """Title, legend of the kinds of stakes that there are, what the coordinates are, and the caution for digging."""
    yield NoteLine(words(say("Stakes of {field}"), field=field))
    there = set(stakes.marks["kind"])
    for code, kind in STAKE_KINDS.items():
        if code in there:
            yield NoteLine(f"{marks_layer(code)} – {layer_words(marks_layer(code), words)}", kind.drawing_colour)
    for sentence in _sentences(stakes, places, words):
        yield from (NoteLine(line) for line in textwrap.wrap(sentence, _LINE_LETTERS))


def _sentences(stakes: StakeOut, places: Places, words: Words) -> Iterator[str]:
    yield words(say("Coordinates: {crs}, unit {unit}."), crs=places.crs_name, unit=length_unit(places, words))
    if is_us_feet(places):
        yield words(say("Lengths are US survey feet (1200/3937 m), not international feet."))
    yield words(say("Heights: {source}."), source=stakes.height_source)
    if stakes.marks["z"].isna().any():
        yield words(say("Stakes without a known height lie at 0, on layers whose names end in {end}."), end=NO_HEIGHT)
    yield words(SERVICES)
