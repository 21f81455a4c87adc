"""What became of rows and guides that someone drew, as layers."""

from __future__ import annotations

from geoagro.outputs.drawing.looks import Line, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.values.rows import GUIDES, ROW_LIMITS, TreeRows
from geoagro.values.words import say

GUIDE = Line("#724ba4", 0.6, dash_mm=(2.0, 1.0))
_BROKEN = {
    "grade_limit": (say("Steeper than the limit"), Line("#b3372f", 1.2)),
    "rise_limit": (say("Rises on its way"), Line("#2f6fb3", 1.4, dash_mm=(3.0, 0.8))),
    "spacing_limit": (say("Too near to another row"), Line("#00504c", 1.2)),
    "spacing_tolerance": (say("Too far from the next row"), Line("#6ba3c4", 0.9, dash_mm=(2.0, 1.2))),
    "turn_radius": (say("Bent too tightly"), Line("#a76917", 1.6)),
    "short_row": (say("Row too short"), Line("#8a8f96", 1.2, dash_mm=(0.8, 0.8))),
    "not_plantable": (say("Off the plantable ground"), Line("#20262b", 1.2, dash_mm=(0.8, 1.6))),
    "crosses_itself": (say("Crosses itself"), Line("#b5179e", 1.2)),
}


def hand_layers(rows: TreeRows) -> list[OutputLayer]:
    """Layers `guides` and `row_limits`, each only where something was drawn."""
    if rows.by_hand is None:
        return []
    layers = []
    if len(rows.by_hand.guides):
        layers.append(OutputLayer(GUIDES, rows.by_hand.guides, Style.plain(say("Guide line"), GUIDE)))
    if rows.frame["by_hand"].any():
        note = say("Where rows given by hand break a limit of the design; nothing was changed there.")
        layers.append(OutputLayer(ROW_LIMITS, rows.by_hand.limits, Style(_BROKEN, column="limit"), note=note))
    return layers
