"""`geoagro check`: read a design and its files, and say what was found."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("design_file", type=click.Path(path_type=Path))
def command(design_file: Path) -> None:
    """Read DESIGN_FILE and its files, and say what was found. Writes nothing.

    Ends with exit code 1 where the layout would refuse, with the reason and what to do.
    """
    from geoagro import pipeline
    from geoagro.inputs import field_check as found
    from geoagro.inputs.design_file import read_design
    from geoagro.inputs.ground_source import read_ground_source
    from geoagro.inputs.site import read_site

    design = read_design(design_file)
    site = read_site(design)
    findings = site.findings
    _say(found.describe_site(design, site))
    try:
        source = read_ground_source(design, site)
        findings += source.findings
        _say(found.describe_ground(site, source))
        terrain = pipeline.terrain_of(design, site, source)
        _say(found.describe_slope(design, site, terrain))
        _say(found.describe_plantable(pipeline.ground_of(design, site, terrain)))
    finally:
        _say(found.describe_findings(findings))
    click.echo("\nFiles and ground are ready for the layout.")


def _say(lines: list[str]) -> None:
    for line in lines:
        click.echo(line)
