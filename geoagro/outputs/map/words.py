"""The words on the map page that its script needs."""

from __future__ import annotations

from geoagro.outputs.words.say import Words
from geoagro.values.words import say

_WORDS = {
    "layers": say("Layers"),
    "layers_ground": say("Ground"),
    "layers_plants": say("Plants"),
    "measure": say("Measure"),
    "measure_start": say("Tap where the tape begins."),
    "measure_next": say("Tap where the tape ends."),
    "measure_leg": say("Last piece"),
    "measure_total": say("In all"),
    "measure_kind": say("Kind"),
    "measure_horizontal": say("horizontal, not along the slope"),
    "measure_undo": say("Take back"),
    "measure_clear": say("Clear"),
    "locate": say("My place"),
    "locate_none": say("This browser knows no position."),
    "locate_denied": say(
        "The browser gives no position. Many browsers refuse it to pages opened from a file; the map works without it."
    ),
    "locate_far": say("You are {km} km from the field."),
    "locate_accuracy": say("Position known to about {m} m: enough to find a row, not a plant."),
    "mode_day": say("Light: day"),
    "mode_dark": say("Light: dark"),
    "mode_sun": say("Light: sun"),
    "whole": say("All"),
    "search": say("Find"),
    "search_hint": say("Row, bed, #plant or crop"),
    "search_nothing": say("Nothing by that name. Try a row number, a bed such as R012-T, #15 or a crop."),
    "close": say("Close"),
    "plant": say("Plant"),
    "plants": say("Plants"),
    "row": say("Row"),
    "bed": say("Bed"),
    "line": say("Line in the bed"),
    "station": say("Along the line"),
    "stratum": say("Stratum"),
    "coordinates": say("Easting, northing"),
    "share": say("Share of the planted area"),
    "caution": say("Caution"),
    "show_all": say("Show everything"),
    "too_old": say("This browser is too old to unpack the map; use a version from 2023 or later."),
    "broken": say("The map could not be drawn:"),
}


def map_words(words: Words) -> dict[str, str]:
    """Give each of them in the reader's language."""
    return {key: words(text) for key, text in _WORDS.items()}
