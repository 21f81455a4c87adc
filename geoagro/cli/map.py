"""`geoagro map`: the layout as one HTML file that opens without network, on a phone as on a laptop."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.cli.habits.arguments import LAID, design_argument, folder_option
from geoagro.cli.habits.language import design_and_words, locale_option
from geoagro.cli.habits.told import tell_files
from geoagro.values.words import say

if TYPE_CHECKING:
    from geoagro.outputs.words.say import Words


@click.command("map")
@design_argument()
@folder_option("folder", words=LAID)
@click.option(
    "--plants-per-page",
    type=click.IntRange(min=100),
    help="Most plants of a page; 600000 if not given. A field with more gets a page for each of its parts; fewer make pages "
    "quicker on a slow phone.",
)
@locale_option()
def command(design: Path, folder: Path | None, plants_per_page: int | None, locale: str | None) -> None:
    """Write map.html for the field of a DESIGN file from its written layout.

    The map of a field with many plants comes in pages: map.html shows the whole and leads to those of its parts, in folder
    map_parts beside it. Each part's page holds all that stands there, and opens by itself, too.

    The page is the field's notebook, too: step from plant to plant along a row, in a sample plot or from stake to stake,
    tap what you see, and write out a file that `geoagro survey` reads. Stakes and plots are on it where `geoagro stakes`
    and `geoagro sample-plots` were run before.
    """
    from geoagro import pipeline
    from geoagro.cli.approved import open_approved
    from geoagro.cli.terminal import shown_progress
    from geoagro.inputs.laid.stakes_file import earlier_marks, earlier_plots
    from geoagro.outputs.map.parts import PAGE_CARRIES
    from geoagro.outputs.report.files import write_map
    from geoagro.outputs.report.maps import MapData

    asked, words = design_and_words(design, locale)
    with shown_progress(words) as progress:
        found = open_approved(design, folder, progress=progress, words=words, read=asked)
        account = pipeline.account_of(found.laid, found.design.report, progress=progress)
        stakes, plots = earlier_marks(found.folder, found.laid.crs), earlier_plots(found.folder, found.laid.crs)
        data = MapData(found.laid, found.terrain, words, stakes=stakes, sample_plots=plots)
        pages = write_map(account, data, found.folder, page_carries=plants_per_page or PAGE_CARRIES, progress=progress)
    tell_files(pages)
    click.echo(_told(pages, words))


def _told(pages: list[Path], words: Words) -> str:
    """Say what was written; `pages` begin with the one to open first."""
    path, sizes = str(pages[0]), [page.stat().st_size / 1e6 for page in pages]
    if len(pages) == 1:
        message = say("wrote {path} ({size:.1f} MB); open it in any browser, no network needed")
        return words(message, path=path, size=sizes[0])
    message = say(
        "wrote {path} and {count} pages of parts in {folder} ({size:.1f} MB in all, each at most {largest:.1f} MB); open "
        "the first in any browser, no network needed"
    )
    return words(
        message, path=path, count=len(pages) - 1, folder=str(pages[1].parent), size=sum(sizes), largest=max(sizes)
    )
