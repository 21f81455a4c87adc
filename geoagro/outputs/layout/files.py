"""The result folder of a layout: `layout.png` and `light.png` to look at, `layout.gpkg` to work with; one set."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from geoagro.errors import OutputError
from geoagro.light.records.bed_light import BedLight
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.layout.early import Early
from geoagro.outputs.layout.layers import layout_layers
from geoagro.outputs.layout.names import CHART, GEOPACKAGE, PICTURE
from geoagro.outputs.layout.pictures import write_light_chart, write_picture
from geoagro.outputs.layout.sealing import as_written, seals_of, write_seals
from geoagro.outputs.layout.shown import Shown
from geoagro.outputs.staging import check_folder, staged
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.base.doors import door
from geoagro.values.layout import Layout
from geoagro.values.progress import Progress, silent
from geoagro.values.results.as_written import AsWritten
from geoagro.values.words import Sentence
from geoagro.yields.records.tables import RecipeYields


@door
def write_layout(
    layout: Layout,
    folder: Path,
    *,
    design_file: Path | None = None,
    more: Sequence[OutputLayer] = (),
    light: tuple[BedLight, RecipeYields] | None = None,
    words: Words = ENGLISH,
    progress: Progress = silent,
) -> list[Path]:
    """Write the result of a layout into `folder`; what stood there stays until all of it is finished.

    Parameters
    ----------
    folder
        Made where it isn't there.
    design_file
        The file that the design was read from; its text is kept in the table `layout_source`.
    more
        Further layers, drawn above the plants, and tables.
    light
        Light on the beds and yields in company, drawn as `light.png`; without them an earlier one goes.

    words
        Language of the pictures and of what a GIS viewer shows; names of layers and columns, and what they hold, stay.

    Returns
    -------
    list of Path
        The files written: the GeoPackage, then the picture, then the chart.

    Raises
    ------
    OutputError
        Where the folder can't be written to, an old result is open in another program, or crops share a
        layer name.

    >>> from pathlib import Path
    >>> from geoagro import example_layout, write_layout
    >>> import tempfile
    >>> laid = example_layout()
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     print([path.name for path in write_layout(laid, Path(folder))])
    ['layout.gpkg', 'layout.png']
    """
    return write_and_hold(
        layout, folder, design_file=design_file, more=more, light=light, words=words, progress=progress
    ).files


@dataclass(frozen=True, eq=False)
class Written:
    """The files of a layout, GeoPackage first, and what a reader of it gets (None where it has to be read)."""

    files: list[Path]
    held: AsWritten | None


def write_and_hold(
    layout: Layout,
    folder: Path,
    *,
    design_file: Path | None,
    more: Sequence[OutputLayer],
    light: tuple[BedLight, RecipeYields] | None,
    words: Words,
    progress: Progress,
    early: Early | None = None,
) -> Written:
    """Write what `write_layout` writes; whoever goes on from the layout needn't read it back.

    Where `early` has begun the file, it is gone on with.
    """
    folder = Path(folder)
    text = None if design_file is None else Path(design_file).read_text(encoding="utf-8-sig")
    layers = _tables_last(_plants_above([*layout_layers(layout, design_text=text), *more]))
    charts = [CHART] if light else []
    with staged(folder, [*charts, PICTURE, GEOPACKAGE], gone=[] if light else [CHART]) as new:
        drawn = early.is_drawing if early else False
        if not drawn:
            _draw(layout, light, new, words, progress)
        progress(Sentence("sealing {file}", file=GEOPACKAGE), 0.0)
        seals = seals_of(layers)
        write_geopackage(
            new / GEOPACKAGE,
            layers,
            layout.site.crs,
            project=layout.site.name,
            begun=early.move_plants(new / GEOPACKAGE) if early else (),
            words=words,
            progress=progress,
        )
        write_seals(new / GEOPACKAGE, seals, layout.site.crs, words)
        if early and drawn:
            early.move_pictures(new)
    held = as_written(folder / GEOPACKAGE, layers, seals, layout.site.crs)
    return Written([folder / name for name in (GEOPACKAGE, PICTURE, *charts)], held)


def _draw(
    layout: Layout, light: tuple[BedLight, RecipeYields] | None, folder: Path, words: Words, progress: Progress
) -> None:
    progress(Sentence("drawing {file}", file=PICTURE), 0.0)
    write_picture(Shown.of(layout), folder / PICTURE, words)
    if light:
        write_light_chart(*light, layout.design.name, folder / CHART, words)


_STRIPS = "Rows and beds"


def _plants_above(layers: list[OutputLayer]) -> list[OutputLayer]:
    """Put further layers about beds under the first layer of plants, which they would hide."""
    first = next((k for k, layer in enumerate(layers) if layer.group == "Plants"), len(layers))
    below = [layer for layer in layers[first:] if layer.group == _STRIPS]
    return [*layers[:first], *below, *(layer for layer in layers[first:] if layer.group != _STRIPS)]


def write_first_picture(layout: Layout, folder: Path, words: Words = ENGLISH) -> Path:
    """Write layout.png alone, before all else; gives its path."""
    with staged(Path(folder), [PICTURE]) as new:
        write_picture(Shown.of(layout), new / PICTURE, words)
    return Path(folder) / PICTURE


def keep_edited(folder: Path) -> Path:
    """Copy a layout that someone edited beside itself before it is replaced; gives the path of the copy.

    Raises OutputError where it can't be copied.
    """
    path = Path(folder) / GEOPACKAGE
    number = 1
    while (kept := path.with_name(f"layout_edited_{number}.gpkg")).exists():
        number += 1
    try:
        shutil.copy2(path, kept)
    except OSError as error:
        raise OutputError(
            f"{kept}: the edited layout can't be kept there ({error.strerror}). Move it away yourself."
        ) from error
    return kept


def check_result_folder(folder: Path) -> None:
    """Raise OutputError now where `write_layout` would fail later; touches nothing."""
    check_folder(Path(folder), [CHART, PICTURE, GEOPACKAGE])


def _tables_last(layers: list[OutputLayer]) -> list[OutputLayer]:
    return sorted(layers, key=lambda layer: layer.spec.geometry == "none")
