"""`geoagro new`: a design file to start from."""

from __future__ import annotations

from pathlib import Path

import click

from geoagro.cli.habits.told import tell_files


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
def command(folder: Path) -> None:
    """Write FOLDER/design.yaml, a commented design to start from."""
    from geoagro.inputs.design.template import write_design_template

    path = write_design_template(folder / "design.yaml")
    tell_files([path])
    click.echo(f"wrote {path}\nPoint it at your boundary and elevation, then run: geoagro check {path}")
