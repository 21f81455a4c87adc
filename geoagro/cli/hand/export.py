"""`geoagro export`: layers of a layout in other formats."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geoagro.cli.habits.arguments import LAID, design_argument, folder_option
from geoagro.cli.habits.language import design_and_words, locale_option, say_written
from geoagro.cli.habits.told import tell_files

if TYPE_CHECKING:
    from geoagro.inputs.laid.layout_file import LayoutFile

_KINDS = ("geoparquet", "flatgeobuf", "geojson", "shapefile", "kml")
_OUTLINE = "field"


@click.command("export")
@design_argument()
@folder_option("folder", words=LAID)
@click.option("--format", "kind", type=click.Choice(_KINDS), required=True, help="What to write.")
@click.option("--layer", "layers", multiple=True, help="Layer to write (may be given again); the outline if left out.")
@click.option("--all", "everything", is_flag=True, help="Every layer that holds something.")
@locale_option()
def command(
    design: Path, *, folder: Path | None, kind: Any, layers: tuple[str, ...], everything: bool, locale: str | None
) -> None:
    """Write layers of a DESIGN file's layout as GeoParquet, FlatGeobuf, GeoJSON, zipped Shapefile or KML.

    Without --layer or --all the outline of the field is written. Files go into the folder `export` beside the layout, one
    for each layer. GeoJSON and KML are in longitude and latitude, the others in the layout's CRS; Shapefiles have names of ten
    letters, and names.csv in the zip says which is which.
    """
    from geoagro.cli.laid import layout_of
    from geoagro.outputs.exchange.formats import write_layers

    if layers and everything:
        raise click.UsageError("--layer and --all can't both be; give one of them.")
    asked, words = design_and_words(design, locale)
    laid, place = layout_of(asked, folder, words)
    frames = _filled(laid) if everything else {name: _placed(laid, name) for name in layers or (_OUTLINE,)}
    written = write_layers(frames, kind, place / "export")
    tell_files(written)
    say_written(written, words)


def _placed(laid: LayoutFile, name: str) -> Any:
    """Give a layer with geometry; raises InputError for a table."""
    from geoagro.errors import InputError

    _refuse_unknown(laid, name)
    if laid.is_large(name):
        return laid.parts(name)
    frame = laid.frame(name)
    if not hasattr(frame, "crs"):
        raise InputError(f"'{name}' is a table without shapes; read it from {laid.path.name}, or name a layer.")
    return frame


def _refuse_unknown(laid: LayoutFile, name: str) -> None:
    """Raise InputError for a layer that the layout hasn't: whoever wrote the name can mend it, another layout can't."""
    from geoagro.errors import InputError

    if name in laid.sealed.seals:
        return
    drawn = sorted(known for known, seal in laid.sealed.seals.items() if "geometry" in seal.columns)
    meant = _meant(name, drawn)
    fix = f"Did you mean {' or '.join(meant)}?" if meant else "Name one of these."
    raise InputError(f"--layer: {laid.path} has no layer '{name}'; it has {', '.join(drawn)}. {fix}")


def _meant(name: str, layers: Sequence[str]) -> list[str]:
    """Layers that a name may mean: those that had it before, hold it (plants of each crop), or are nearly called so."""
    from geoagro.values.rules.renamed import old_names

    before = [layer for layer in layers if name in old_names("layer", layer)]
    return (
        before
        or [layer for layer in layers if name and name.lower() in layer]
        or difflib.get_close_matches(name, layers, n=1)
    )


def _filled(laid: LayoutFile) -> dict[str, Any]:
    large = {name: laid.parts(name) for name in laid.sealed.seals if laid.is_large(name)}
    frames = {name: laid.frame(name) for name in laid.sealed.seals if name not in large}
    return {name: frame for name, frame in frames.items() if hasattr(frame, "crs") and len(frame)} | large
