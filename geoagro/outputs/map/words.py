"""The words on the map page that its script needs."""

from __future__ import annotations

from geoagro.outputs.words.say import Words
from geoagro.values.words import meant, say

_WORDS = {
    "layers": say("Layers"),
    "layers_ground": say("Ground"),
    "layers_plants": say("Plants"),
    "measure": meant("button", "Measure"),
    "measure_start": say("Tap where the tape begins."),
    "measure_next": say("Tap where the tape ends."),
    "measure_leg": say("Last leg"),
    "measure_total": say("Total"),
    "measure_kind": say("Kind"),
    "measure_horizontal": say("horizontal, not along the slope"),
    "measure_undo": say("Undo"),
    "measure_clear": say("Clear"),
    "locate": say("My position"),
    "locate_none": say("This browser knows no position."),
    "locate_denied": say(
        "The browser gives no position. Many browsers refuse it to pages opened from a file; the map works without it."
    ),
    "locate_far": say("You are {km} km from the field."),
    "locate_accuracy": say("Position known to about {m} m: enough to find a row, not a plant."),
    "mode_day": say("Display: day"),
    "mode_dark": say("Display: dark"),
    "mode_sun": say("Display: bright sun"),
    "whole": say("Whole field"),
    "search": say("Find"),
    "search_hint": say("Row, bed, stake, #plant, crop"),
    "search_nothing": say(
        "Nothing by that name. Try a row number, a bed such as R012-T, a stake such as 12-035, #15 or a crop."
    ),
    "stake": say("Stake"),
    "stakes": say("Stakes"),
    "book": say("Record"),
    "book_rows": say("Rows"),
    "book_plots": meant("survival", "Plots"),
    "book_stakes": say("Stakes"),
    "book_which": say("Plants:"),
    "book_trees": say("tree beds"),
    "book_all": meant("plants", "all"),
    "book_alive": say("Alive"),
    "book_dead": say("Dead"),
    "book_missing": say("Missing"),
    "book_replaced": say("Replaced"),
    "book_unseen": say("Not looked at"),
    "book_set": meant("stake", "Set"),
    "book_not_set": meant("stake", "Not set"),
    "book_photo": say("Photo no."),
    "book_note": say("Note"),
    "book_back": say("Back"),
    "book_next": say("Next"),
    "book_nearest": say("Nearest"),
    "book_list": say("List"),
    "book_first": say("This is the first one here."),
    "book_last": say("This was the last one here. Choose another from the list."),
    "book_export": say("Save as {form}"),
    "book_empty": say("Nothing is recorded yet."),
    "book_earlier": say("Notes of an earlier layout"),
    "book_keeps_nothing": say("This browser keeps nothing for this page: save the file before you close it."),
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
    "parts": meant("map", "Parts"),
    "part": meant("map", "Part"),
    "parts_hint": say("Beds and plants are on the pages of the parts. Tap a part's name on the map, or here."),
    "part_open": say("Open part {name}"),
    "part_field": say("Map of the whole field"),
    "part_whole": say("All of this part"),
    "part_near": say("Parts beside it"),
    "part_left": say("You have left part {part} and are in part {name}."),
    "part_here": say("You are in part {name}."),
    "part_counted": say("Plants, as far as in part {name}"),
    "part_join": say(
        "Rows go on in other parts: give the saved files of all parts to the survey together, or the rest of a row counts as missing."
    ),
    "plants_there": say("plants"),
    "in_field": say("whole field"),
    "search_hint_parts": say("Row, crop or part"),
    "search_nothing_parts": say(
        "Nothing by that name on this page. Try a row number, a crop or a part such as B2; beds, stakes and plants are found on "
        "the pages of the parts."
    ),
    "search_nothing_here": say(
        "Nothing by that name in part {name}. The map of the whole field shows which parts a row runs through."
    ),
    "too_old": say("This browser is too old to unpack the map; use a version from 2023 or later."),
    "broken": say("The map could not be drawn:"),
}


def map_words(words: Words) -> dict[str, str]:
    """Give each of them in the reader's language."""
    return {key: words(text) for key, text in _WORDS.items()}
