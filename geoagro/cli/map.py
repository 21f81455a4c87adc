"""`geoagro map`: the layout as one HTML file that opens without network, on a phone as on a laptop."""

from __future__ import annotations

from pathlib import Path

import click

from geoagro.cli.habits.arguments import LAID, design_argument, folder_option
from geoagro.cli.habits.language import design_and_words, locale_option
from geoagro.cli.habits.told import tell_files
from geoagro.values.words import say


@click.command("map")
@design_argument()
@folder_option("folder", words=LAID)
@locale_option()
def command(design: Path, folder: Path | None, locale: str | None) -> None:
    """Write map.html for the field of a DESIGN file from its written layout.

    The page is the field's notebook, too: step from plant to plant along a row, in a sample plot or from stake to stake,
    tap what you see, and write out a file that `geoagro survey` reads. Stakes and plots are on it where `geoagro stakes`
    and `geoagro sample-plots` were run before.
    """
    from geoagro import pipeline
    from geoagro.cli.approved import open_approved
    from geoagro.cli.terminal import shown_progress
    from geoagro.inputs.laid.stakes_file import earlier_marks, earlier_plots
    from geoagro.outputs.report.files import write_map
    from geoagro.outputs.report.maps import MapData

    asked, words = design_and_words(design, locale)
    with shown_progress(words) as progress:
        found = open_approved(design, folder, progress=progress, words=words, read=asked)
        account = pipeline.account_of(found.laid, found.design.report, progress=progress)
        stakes, plots = earlier_marks(found.folder, found.laid.crs), earlier_plots(found.folder, found.laid.crs)
        data = MapData(found.laid, found.terrain, words, stakes=stakes, sample_plots=plots)
        path = write_map(account, data, found.folder)
    tell_files([path])
    message = say("wrote {path} ({size:.1f} MB); open it in any browser, no network needed")
    click.echo(words(message, path=str(path), size=path.stat().st_size / 1e6))
