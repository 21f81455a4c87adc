"""`geoagro season`: from a layout to what must be bought, done and expected."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("design_file", type=click.Path(path_type=Path))
@click.option(
    "--output",
    "-o",
    type=click.Path(path_type=Path),
    help="Folder that holds layout.gpkg and takes the result, instead of output.folder of the design file.",
)
def command(design_file: Path, output: Path | None) -> None:
    """Plan the season of DESIGN_FILE, whose layout has been written by `geoagro layout`.

    Writes season.pdf (to read and print), season.xlsx, season.ics (for a calendar program or a phone),
    season.gpkg (tables, and the beds with their dates) and charts as PNG and SVG. Prices, wages and yields are
    your assumptions in the section `season:` of the design file.
    """
    from geoagro.cli.season_summary import season_summary
    from geoagro.cli.season_work import read_and_plan
    from geoagro.cli.terminal import shown_progress
    from geoagro.outputs.season.files import check_season_folder, write_season

    with shown_progress() as progress:
        job = read_and_plan(design_file, output, progress)
        check_season_folder(job.folder)
        written = write_season(job.plan, job.beds, job.crs, job.folder, progress=progress)
    click.echo(season_summary(job.plan, written))
