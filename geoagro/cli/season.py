"""`geoagro season`: from a layout to what must be bought, done and expected."""

from __future__ import annotations

from pathlib import Path

import click

from geoagro.cli.habits.arguments import LAID, design_argument, folder_option
from geoagro.cli.habits.language import design_and_words, locale_option
from geoagro.cli.habits.told import tell_figure, tell_files, tell_finding


@click.command()
@design_argument("design_file")
@folder_option(words=LAID)
@locale_option()
def command(design_file: Path, output: Path | None, locale: str | None) -> None:
    """Plan the season of DESIGN, whose layout has been written by `geoagro layout`.

    Writes season.pdf (to read and print), season.xlsx, season.ics (for a calendar program or a phone),
    season.gpkg (tables, and the beds with their dates) and charts as PNG and SVG. Prices, wages and yields are
    your assumptions in the section `season:` of the design file.
    """
    from geoagro.cli.season_summary import season_summary
    from geoagro.cli.season_work import read_and_plan
    from geoagro.cli.terminal import shown_progress
    from geoagro.outputs.season.files import check_season_folder, write_season
    from geoagro.values.base.records import records

    design, words = design_and_words(design_file, locale)
    with shown_progress(words) as progress:
        job = read_and_plan(design, design_file, output, progress)
        check_season_folder(job.folder)
        written = write_season(job.plan, job.beds, job.crs, job.folder, words=words, progress=progress)
    tell_files(written)
    for line in records(job.plan.figures):
        tell_figure(line.text("key"), line.number("value"), line.text("unit"))
    for found in records(job.plan.findings):
        tell_finding(found.text("severity"), found.text("subject"), found.text("text"))
    click.echo(season_summary(job.plan, written, words))
