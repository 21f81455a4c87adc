"""`geoagro layout`: design file in, result folder out, and a short account on the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.errors import DesignError

if TYPE_CHECKING:
    from geoagro.plants.records.recipe_analysis import RecipeAnalysis
    from geoagro.values.layout import Layout
    from geoagro.values.progress import Progress


@click.command("layout")
@click.argument("design", type=click.Path(path_type=Path))
@click.option(
    "--output",
    "-o",
    type=click.Path(path_type=Path),
    help="Folder for the result, instead of output.folder of the design file.",
)
def command(design: Path, output: Path | None) -> None:
    """Lay out the field of a DESIGN file and write the result.

    Writes layout.gpkg (all layers and tables, for any GIS viewer) and layout.png (the field on one page).
    An earlier result stays until the new one is complete.
    """
    from geoagro import pipeline
    from geoagro.cli.holding import hold
    from geoagro.cli.recipe_words import recipe_lines
    from geoagro.cli.summary import layout_summary
    from geoagro.cli.terminal import shown_progress
    from geoagro.inputs.design.file import read_design
    from geoagro.outputs.layout.files import check_result_folder, write_layout
    from geoagro.outputs.layout.recipe_layers import recipe_layers

    asked = read_design(design)
    folder = output or asked.folder / asked.output.folder
    check_result_folder(folder)
    hold(folder)
    with shown_progress() as progress:
        laid = pipeline.layout(asked, progress=progress)
        recipe, missing = _recipe(laid, progress)
        more = recipe_layers(recipe) if recipe else []
        written = write_layout(laid, folder, design_file=design, more=more, progress=progress)
    click.echo(layout_summary(laid, written))
    if recipe is None:
        click.echo(f"\nThe recipe wasn't analysed: {missing}")
    else:
        for line in recipe_lines(recipe):
            click.echo(line)


def _recipe(laid: Layout, progress: Progress) -> tuple[RecipeAnalysis | None, str]:
    """Analyse the recipe, or say which value of an own crop it would need."""
    from geoagro import pipeline
    from geoagro.inputs.design.crop_library import read_crop_library

    try:
        return pipeline.recipe_of(laid, read_crop_library(), progress=progress), ""
    except DesignError as error:
        return None, str(error)
