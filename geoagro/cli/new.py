"""`geoagro new`: a design file to start from."""

from __future__ import annotations

from pathlib import Path

import click

from geoagro.cli.habits.language import locale_option, say_written, words_of
from geoagro.cli.habits.told import tell_files
from geoagro.values.words import say


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@locale_option(otherwise="English")
def command(folder: Path, locale: str | None) -> None:
    """Write FOLDER/design.yaml, a commented design to start from.

    Its comments are English. With --locale the design asks for that language, so that every other command speaks it.
    """
    from geoagro.inputs.design.template import write_design_template

    words = words_of(locale)
    path = write_design_template(folder / "design.yaml", locale=locale)
    tell_files([path])
    say_written([path], words)
    click.echo(words(say("Point it at your boundary and elevation, then run: geoagro check {path}"), path=str(path)))
    if words.locale.language != "en":
        click.echo(words(say("Its comments are English; `locale: {code}` in it holds for all commands."), code=locale))
