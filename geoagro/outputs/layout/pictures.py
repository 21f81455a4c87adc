"""The pictures of a layout; what draws them is loaded when one is drawn, which another process may do (`early`)."""

from __future__ import annotations

from pathlib import Path

from geoagro.light.records.bed_light import BedLight
from geoagro.outputs.layout.shown import Shown
from geoagro.outputs.words.say import Words
from geoagro.yields.records.tables import RecipeYields


def load_drawing() -> None:
    """Load what draws: half a second."""
    from geoagro.outputs.layout import light_chart, picture  # noqa: F401, PLC0415


def write_picture(shown: Shown, path: Path, words: Words) -> None:
    """Draw the field on a page."""
    from geoagro.outputs.layout.picture import write_shown  # noqa: PLC0415

    write_shown(shown, path, words)


def write_light_chart(light: BedLight, yields: RecipeYields, name: str, path: Path, words: Words) -> None:
    """Draw the light on beds and yields in company."""
    from geoagro.outputs.layout import light_chart  # noqa: PLC0415

    light_chart.write_light_chart(light, yields, name, path, words)
