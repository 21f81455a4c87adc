"""The recipe's analysis as layers and tables of the result."""

from __future__ import annotations

from geoagro.outputs.drawing.looks import Marker, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.plants.records.recipe_analysis import CONFLICTS, RecipeAnalysis
from geoagro.values.words import Sentence, say

_CONFLICT = Marker("#ffffff", "#b3372f", "diamond", 2.6)


def recipe_layers(analysis: RecipeAnalysis) -> list[OutputLayer]:
    """List layer `conflicts` with its look, and the tables that hold anything.

    To be written with `write_layout(..., more=recipe_layers(analysis))`.
    """
    note = Sentence(
        "Plants of whose root zone lifting another crop digs up more than the threshold, and what to change. Figures from "
        "{sampling}.",
        sampling=analysis.sampling,
    )
    style = Style.plain(say("Roots harmed by lifting"), _CONFLICT, closest_only=2_000)
    tables = [
        OutputLayer(spec, frame, note=Sentence("Figures from {sampling}.", sampling=analysis.sampling))
        for spec, frame in analysis.layers
        if spec is not CONFLICTS and len(frame)
    ]
    conflicts = (
        [OutputLayer(CONFLICTS, analysis.conflicts, style, note=note, group=say("Plants"), starts_hidden=True)]
        if len(analysis.conflicts)
        else []
    )
    return [*conflicts, *tables]
