"""What another process makes of a result while the layout is still measured, analysed and sealed: plants' layers, and pictures.

Of a large field only the plants, which take it longer than all else takes this one. It can be handed more, that asks for no
plants.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack, suppress
from functools import partial
from pathlib import Path
from typing import Any, ParamSpec, TypeVar, cast

from pyproj import CRS

from geoagro.errors import OutputError
from geoagro.light.records.bed_light import BedLight
from geoagro.outputs.apart import Apart
from geoagro.outputs.geopackage.apart import begin_layers
from geoagro.outputs.geopackage.layer import OutputLayer, spoken
from geoagro.outputs.layout.layers import bare_plant_layer, plant_layers
from geoagro.outputs.layout.names import CHART, PICTURE
from geoagro.outputs.layout.pictures import load_drawing, write_light_chart, write_picture
from geoagro.outputs.layout.shown import Shown
from geoagro.outputs.staging import beginning
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.design import Design
from geoagro.values.layout import Layout
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress
from geoagro.values.results.stored_plants import PlantsToCome, StoredPlants
from geoagro.values.words import Sentence
from geoagro.yields.records.tables import RecipeYields

PLANTS = "plants.gpkg"
P = ParamSpec("P")
R = TypeVar("R")


class Early:
    """Begins layout.gpkg with the plants, those of the largest crop first, where they come in blocks: while they are placed.

    With `pictures` it begins any field's so, and the pictures; the process is started at once, since what draws takes
    long to load. A batch, whose processors are busy with other fields, doesn't ask for them.

    Ends the other process, and clears away what it made, where nobody took it over when the block ends.
    """

    def __init__(self, folder: Path, design: Design, words: Words = ENGLISH, *, pictures: bool = False) -> None:
        self._folder, self._design, self._words, self._pictures = Path(folder), design, words, pictures
        self._open = ExitStack()
        self._place: Path | None = None
        self.apart: Apart | None = None
        self._tasks: dict[str, int] = {}

    def __enter__(self) -> Early:
        """Have the other process load what it draws with."""
        self._pictures = self._pictures and Apart.can_start()
        if self._pictures:
            self._started().hand(load_drawing)
        return self

    def __exit__(self, *_: Any) -> None:
        """Clear away what nobody took over."""
        self._open.close()

    def placing(self, coming: PlantsToCome) -> None:
        """Begin to write the plants of a large field as they are placed; raises OutputError where the folder can't be written to."""
        if Apart.can_start():
            layers = [bare_plant_layer(self._design, crop, frame) for crop, frame in coming.by_crop().items()]
            self._begin(layers, coming.crs)
            self._pictures = False

    def placed(self, plants: Plants | StoredPlants) -> None:
        """Begin to write plants, if they aren't begun; raises OutputError as `placing`."""
        is_large = isinstance(plants, StoredPlants)
        if PLANTS in self._tasks or not Apart.can_start() or not (is_large or self._pictures):
            return
        layers = plant_layers(self._design, plants)
        self._begin(sorted(layers, key=lambda layer: -len(layer.frame)), plants.crs)
        self._pictures = self._pictures and not is_large

    def _begin(self, layers: list[OutputLayer], crs: CRS | None) -> None:
        self._tasks[PLANTS] = begin_layers(self._begun() / PLANTS, spoken(layers, self._words), crs, self._started())

    def laid(self, layout: Layout, progress: Progress) -> None:
        """Begin to draw the field, unless the plants take longer than all else; raises OutputError as `placed`."""
        if self._pictures:
            progress(Sentence("drawing {file}", file=PICTURE), 0.0)
            place = self._begun() / PICTURE
            self._tasks[PICTURE] = self._started().hand(write_picture, Shown.of(layout), place, self._words)

    def weighed(self, light: BedLight, yields: RecipeYields) -> None:
        """Begin to draw the light on beds, and yields, after the field."""
        if self.is_drawing:
            place = self._begun() / CHART
            self._tasks[CHART] = self._started().hand(
                write_light_chart, light, yields, self._design.name, place, self._words
            )

    def meanwhile(self, task: Callable[P, R], *args: P.args, **more: P.kwargs) -> Callable[[], R]:
        """Have something looked up or reckoned meanwhile; gives what asks for it.

        It is done here, when it is asked for, where there is no other process, or that one couldn't.
        """
        apart = self.apart
        number = apart.hand(partial(task, **more), *args) if apart else 0

        def found() -> R:
            if apart is not None:
                with suppress(OutputError):
                    return cast(R, apart.wait(number, self._folder))
            return task(*args, **more)

        return found

    @property
    def is_drawing(self) -> bool:
        """Tell whether the pictures are drawn by the other process."""
        return PICTURE in self._tasks

    def move_plants(self, path: Path) -> frozenset[str]:
        """Move the plants' file, once it is whole, and name the layers in it: none where nothing was begun.

        Raises OutputError where it couldn't be written.
        """
        if PLANTS not in self._tasks:
            return frozenset()
        begun = self._begun() / PLANTS
        tables = cast(frozenset[str], self._started().wait(self._tasks[PLANTS], begun))
        if tables:
            begun.rename(path)
        return tables

    def move_pictures(self, folder: Path) -> None:
        """Move the pictures, once they are drawn; raises OutputError where one couldn't be written."""
        for name in (PICTURE, CHART):
            if name in self._tasks:
                begun = self._begun() / name
                self._started().wait(self._tasks[name], begun)
                begun.rename(folder / name)

    def _started(self) -> Apart:
        if self.apart is None:
            self.apart = Apart()
            self._open.callback(self.apart.stop)
        return self.apart

    def _begun(self) -> Path:
        if self._place is None:
            self._place = self._open.enter_context(beginning(self._folder))
        return self._place
