"""Plants of a large field, written from the moment when they are placed, while the layout is measured, sealed and drawn."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from geoagro.outputs.geopackage.apart import WrittenApart
from geoagro.outputs.geopackage.layer import spoken
from geoagro.outputs.layout.layers import plant_layers
from geoagro.outputs.staging import beginning
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.design import Design
from geoagro.values.plants import Plants
from geoagro.values.results.stored_plants import StoredPlants


class EarlyPlants:
    """Begins layout.gpkg with the plants, those of the largest crop first, where they come in blocks; else does nothing.

    Ends the writing process, and clears away what it wrote, where nobody took it over when the block ends.
    """

    def __init__(self, folder: Path, design: Design, words: Words = ENGLISH) -> None:
        self._folder, self._design, self._words = Path(folder), design, words
        self._open = ExitStack()
        self._written: WrittenApart | None = None

    def __enter__(self) -> EarlyPlants:
        """Wait for plants."""
        return self

    def __exit__(self, *_: Any) -> None:
        """Clear away what nobody took over."""
        self._open.close()

    def placed(self, plants: Plants | StoredPlants) -> None:
        """Begin to write; raises OutputError where the folder can't be written to."""
        if not isinstance(plants, StoredPlants) or not sys.executable:
            return
        layers = spoken(plant_layers(self._design, plants), self._words)
        place = self._open.enter_context(beginning(self._folder))
        layers.sort(key=lambda layer: -len(layer.frame))
        self._written = WrittenApart(place / "plants.gpkg", layers, plants.crs)
        self._open.callback(self._written.stop)

    def moved_to(self, path: Path) -> frozenset[str]:
        """Move the file, once it is whole, and name the layers in it: none where nothing was begun.

        Raises OutputError where it couldn't be written.
        """
        if self._written is None:
            return frozenset()
        self._written.finish()
        self._written.path.rename(path)
        return self._written.tables
