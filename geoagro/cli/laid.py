"""The layout that a design file has already given, for commands that work on it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.cli.holding import hold

if TYPE_CHECKING:
    from geoagro.inputs.laid.layout_file import LayoutFile
    from geoagro.values.design import Design


def design_and_layout(design_file: Path, output: Path | None) -> tuple[Design, LayoutFile, Path]:
    """Read a design and the layout written for it, and its folder; say if the design was changed since."""
    from geoagro.inputs.design.file import read_design
    from geoagro.inputs.laid.layout_file import read_layout_file

    design = read_design(design_file)
    folder = output or design.folder / design.output.folder
    if folder.is_dir():
        hold(folder)
    laid = read_layout_file(folder)
    changed = laid.differs_from(design)
    if changed:
        click.echo(
            f"Note: {', '.join(changed)} of the design changed since the layout was written; what follows goes by the "
            "layout as it was written. Run `geoagro layout` to renew it.",
            err=True,
        )
    return design, laid, folder
