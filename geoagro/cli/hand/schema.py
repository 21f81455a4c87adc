"""`geoagro schema`: the design file's keys for editors."""

from __future__ import annotations

from pathlib import Path

import click

from geoagro.cli.habits.told import tell_files


@click.command()
@click.option("--output", "-o", type=click.Path(path_type=Path), help="File to write, instead of the terminal.")
def command(output: Path | None) -> None:
    """Print the JSON Schema of a design file: keys, units, limits, defaults and meanings.

    Editors complete and check a design by it: `geoagro new` writes it beside the design and names it in the first line.
    `geoagro guide design` lists the same keys to read.
    """
    from geoagro.inputs.design.schema import schema_text
    from geoagro.outputs.staging import staged

    text = schema_text()
    if output is None:
        click.echo(text, nl=False)
        return
    with staged(output.parent, [output.name]) as folder:
        (folder / output.name).write_text(text, encoding="utf-8")
    tell_files([output])
    click.echo(f"wrote {output}")
