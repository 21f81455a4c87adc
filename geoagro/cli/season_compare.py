"""`geoagro season-compare`: two designs side by side."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("first", type=click.Path(path_type=Path))
@click.argument("second", type=click.Path(path_type=Path))
@click.option(
    "--output", "-o", type=click.Path(path_type=Path), help="Folder for the result; that of FIRST if left out."
)
def command(first: Path, second: Path, output: Path | None) -> None:
    """Compare the season plans of two design files FIRST and SECOND, each laid out before.

    Writes season_comparison.xlsx and a chart of both balances, and prints the main figures.
    """
    from geoagro import pipeline
    from geoagro.cli.season_summary import comparison_summary
    from geoagro.cli.season_work import read_and_plan
    from geoagro.cli.terminal import shown_progress
    from geoagro.outputs.season.files import write_comparison

    with shown_progress() as progress:
        one, two = (read_and_plan(path, None, progress) for path in (first, second))
        table = pipeline.season_comparison(one.plan, two.plan)
        written = write_comparison(one.plan, two.plan, table, output or one.folder)
    click.echo(comparison_summary(one.plan, two.plan, table, written))
