"""`geoagro report`: the account of an approved layout, as PDF, spreadsheet and files for programs."""

from __future__ import annotations

from pathlib import Path

import click

from geoagro.cli.habits.arguments import LAID, design_argument, folder_option
from geoagro.cli.habits.language import locale_option, say_written, words_of
from geoagro.cli.habits.told import tell_figures, tell_files, tell_finding


@click.command("report")
@design_argument()
@folder_option("folder", words=LAID)
@locale_option()
def command(design: Path, folder: Path | None, locale: str | None) -> None:
    """Account for the field of a DESIGN file from its written layout: areas, counts, densities, maps.

    Writes report.pdf, report.xlsx, report.json, report.gpkg, one CSV file per table, and plots.geojson
    (outlines in longitude and latitude).
    """
    from geoagro import pipeline
    from geoagro.cli.approved import open_approved
    from geoagro.cli.terminal import shown_progress
    from geoagro.outputs.report.files import write_report
    from geoagro.outputs.report.maps import MapData

    with shown_progress() as progress:
        found = open_approved(design, folder, progress=progress)
        rule = found.design.report
        words = words_of(locale, found.design)
        account = pipeline.account_of(found.laid, rule, terrain=found.terrain, progress=progress)
        data = MapData(found.laid, found.terrain, words)
        written = write_report(account, rule, data, found.folder, progress=progress)
    head = account.headline
    tell_files(written)
    tell_figures({key: value for key, value in vars(head).items() if isinstance(value, int | float)})
    click.echo(
        f"{account.name}: {words.hectares(head.planted_m2, account.area_sd_m2)} ha planted, {words.number(head.trees)} trees, ",
        nl=False,
    )
    click.echo(
        f"{words.number(head.standing_at_once)} plants standing at once, {words.number(head.all_plantings)} planted in all, on a field of {words.hectares(head.field_m2, account.area_sd_m2)} ha"
    )
    for caution in account.cautions:
        tell_finding("caution", "report", words(caution.text, **caution.values))
        click.echo(f"  caution: {words(caution.text, **caution.values)}")
    say_written(written, words)
