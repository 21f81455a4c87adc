"""Light on beds and yields in company as layers and tables of the result."""

from __future__ import annotations

from geoagro.light.records.bed_light import BED_LIGHT, LIGHT_CLASSES, LIGHT_MONTHS, BedLight
from geoagro.outputs.drawing.looks import Fill, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.values.words import Sentence, say
from geoagro.yields.records.tables import RecipeYields

# from light to dark, apart in lightness too, so that the map can be read without colour
_PAINTS = ("#fff7bc", "#fec44f", "#d98a2b", "#8c5a2b", "#3b2a1a")


def light_layers(light: BedLight) -> list[OutputLayer]:
    """List the layer of light on beds with its look, and its table by month."""
    looks = {
        name: (_class_words(name), Fill(paint, "#6b5a3a", outline_mm=0.05))
        for name, paint in zip(LIGHT_CLASSES, _PAINTS, strict=True)
    }
    return [
        OutputLayer(
            BED_LIGHT,
            light.beds,
            Style(looks, column="light_class", closest_only=20_000),
            note=light.basis,
            group=say("Rows and beds"),
            starts_hidden=True,
        ),
        OutputLayer(LIGHT_MONTHS, light.months, note=light.basis),
    ]


def _class_words(name: str) -> str:
    """Say a class of light.

    >>> _class_words("over 85"), _class_words("70 to 85")
    ('More than 85 % of open light', '70 to 85 % of open light')
    """
    ends = [int(word) for word in name.split() if word.isdigit()]
    if len(ends) == 2:
        return Sentence("{low} to {high} % of open light", low=ends[0], high=ends[1])
    more, less = say("More than {edge} % of open light"), say("Less than {edge} % of open light")
    return Sentence(more if name.startswith("over") else less, edge=ends[0])


def yield_layers(yields: RecipeYields) -> list[OutputLayer]:
    """List the tables of yields that hold anything."""
    note = Sentence("Good-practice yields less what company takes, not a forecast; light from {sky}.", sky=yields.sky)
    return [OutputLayer(spec, frame, note=note) for spec, frame in yields.layers if len(frame)]
