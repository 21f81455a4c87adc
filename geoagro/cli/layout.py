"""`geoagro layout`: design file in, result folder out, and a short account on the terminal."""

from __future__ import annotations

from pathlib import Path

import click


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
    from geoagro.cli.summary import layout_summary
    from geoagro.cli.terminal import shown_progress
    from geoagro.inputs.design_file import read_design
    from geoagro.outputs.layout_files import check_result_folder, write_layout

    asked = read_design(design)
    folder = output or asked.folder / asked.output.folder
    check_result_folder(folder)
    with shown_progress() as progress:
        laid = pipeline.layout(asked, progress=progress)
        written = write_layout(laid, folder, design_file=design, progress=progress)
    click.echo(layout_summary(laid, written))
