"""What was marked on the ground and not taken from it, as layers."""

from __future__ import annotations

from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.looks import Label, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.values.ground import GULLIES, Ground
from geoagro.values.words import say


def gully_layers(ground: Ground) -> list[OutputLayer]:
    """Layer GULLIES, only where there are any."""
    if ground.gullies is None or len(ground.gullies) == 0:
        return []
    style = Style.plain(say("Gully or ditch"), looks.GULLY, label=Label("gully", looks.INK))
    note = say(
        "Narrow channels that rows can't cross, marked and not taken off: use this layer under inputs.exclusions."
    )
    return [OutputLayer(GULLIES, ground.gullies, style, note=note)]
