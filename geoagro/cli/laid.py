"""The layout that a design file has already given, for commands that work on it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.cli.holding import hold
from geoagro.values.words import say

if TYPE_CHECKING:
    from geoagro.inputs.laid.layout_file import LayoutFile
    from geoagro.outputs.words.say import Words
    from geoagro.values.design import Design


def layout_of(design: Design, output: Path | None, words: Words) -> tuple[LayoutFile, Path]:
    """Read the layout written for a design, and its folder; say if the design was changed since."""
    from geoagro.inputs.laid.layout_file import read_layout_file

    folder = output or design.folder / design.output.folder
    if folder.is_dir():
        hold(folder)
    laid = read_layout_file(folder)
    changed = laid.differs_from(design)
    if changed:
        message = say(
            "Note: {sections} of the design changed since the layout was written; what follows goes by the layout as it was "
            "written. Run `geoagro layout` to renew it."
        )
        click.echo(words(message, sections=", ".join(changed)), err=True)
    return laid, folder
