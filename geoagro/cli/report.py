"""`geoagro report`: the account of an approved layout, as PDF, spreadsheet and files for programs."""

from __future__ import annotations

from pathlib import Path

import click

from geoagro.cli.habits.arguments import LAID, design_argument, folder_option
from geoagro.cli.habits.language import design_and_words, locale_option, say_written
from geoagro.cli.habits.told import tell_figures, tell_files, tell_finding
from geoagro.values.words import say


@click.command("report")
@design_argument()
@folder_option("folder", words=LAID)
@locale_option()
def command(design: Path, folder: Path | None, locale: str | None) -> None:
    """Account for the field of a DESIGN file from its written layout: areas, counts, densities, maps.

    Writes report.pdf, report.xlsx, report.json, report.gpkg, one CSV file per table, and field_parts.geojson
    (outlines in longitude and latitude).
    """
    from geoagro import pipeline
    from geoagro.cli.approved import open_approved
    from geoagro.cli.terminal import shown_progress
    from geoagro.outputs.report.files import write_report
    from geoagro.outputs.report.maps import MapData

    asked, words = design_and_words(design, locale)
    with shown_progress(words) as progress:
        found = open_approved(design, folder, progress=progress, words=words, read=asked)
        rule = found.design.report
        account = pipeline.account_of(found.laid, rule, terrain=found.terrain, progress=progress)
        data = MapData(found.laid, found.terrain, words)
        written = write_report(account, rule, data, found.folder, progress=progress)
    head = account.headline
    tell_files(written)
    tell_figures({key: value for key, value in vars(head).items() if isinstance(value, int | float)})
    planted, field = (words.hectares(area, account.area_sd_m2) for area in (head.planted_m2, head.field_m2))
    message = say(
        "{name}: {planted} ha planted, {trees} trees, {at_once} plants standing at once, {plants} planted in all, on a field of "
        "{field} ha"
    )
    click.echo(
        words(
            message, name=account.name, planted=planted, trees=head.trees, at_once=head.standing_at_once,
            plants=head.all_plantings, field=field,
        )
    )  # fmt: skip
    for caution in account.cautions:
        text = words(caution.text, **caution.values)
        tell_finding("caution", "report", text)
        click.echo("  " + words(say("Caution: {text}"), text=text))
    say_written(written, words)
