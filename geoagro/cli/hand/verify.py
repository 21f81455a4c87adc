"""`geoagro verify`: whether the layout still is what was written, and agrees with its inputs."""

from __future__ import annotations

from pathlib import Path

import click

from geoagro.cli.habits.arguments import design_argument, folder_option
from geoagro.cli.habits.language import design_and_words, locale_option
from geoagro.cli.habits.told import tell_figures, tell_finding
from geoagro.errors import EditedError
from geoagro.values.words import say


@click.command("verify")
@design_argument("design_file")
@folder_option(words="Folder that holds the layout; if left out, output.folder of the design.")
@locale_option()
def command(design_file: Path, output: Path | None, locale: str | None) -> None:
    """Tell what was edited in the layout of DESIGN since it was written, and what no longer agrees with it.

    Layers and tables are held against the checksums of their content that the layout carries, the design against the
    one that was in force, input files against their checksums then. Opening the file in a viewer changes nothing of
    that. Ends with an exit code above 0 where something differs. Writes nothing.
    """
    from geoagro.inputs.laid.agreement import agreement
    from geoagro.inputs.laid.layout_file import read_layout_file

    design, words = design_and_words(design_file, locale)
    laid = read_layout_file(output or design.folder / design.output.folder, edited=True)
    found = agreement(laid, design)
    message = say("{path}: {layers} layers and tables, {features} {features:feature|features}")
    click.echo(words(message, path=str(laid.path), layers=found.layers, features=found.features))
    tell_figures({"layers": found.layers, "features": found.features})
    for difference in found.differences:
        tell_finding("warning", difference.what, difference.text)
        told = words(say("{name}: {text}"), name=words(difference.what), text=words(difference.text))
        click.echo(f"  {told}")
    for note in found.notes:
        tell_finding("note", "", str(note))
        click.echo("  " + words(say("note: {text}"), text=words(note)))
    if found.differences:
        count = len(found.differences)
        raise EditedError(
            f"{laid.path}: {count} thing{'s' if count > 1 else ''} differ{'' if count > 1 else 's'} from what was written. "
            f"{found.way_on}"
        )
    click.echo(words(say("Everything is as it was written, and agrees with the design and its files.")))
