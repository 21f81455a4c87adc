"""`geoagro rows`: tree rows only, and what each limit costs."""

from __future__ import annotations

from pathlib import Path

import click

from geoagro.cli.habits.arguments import design_argument, folder_option
from geoagro.cli.habits.language import locale_option, words_of
from geoagro.cli.habits.told import tell_files, tell_findings, tell_measures


@click.command("rows")
@design_argument()
@folder_option()
@locale_option()
@click.option("--compare", "gone", flag_value="--compare", hidden=True)
@click.option("--grades", "gone_grades", hidden=True)
@click.option("--tolerances", "gone_tolerances", hidden=True)
def command(
    design: Path,
    *,
    output: Path | None,
    locale: str | None,
    gone: str | None,
    gone_grades: str | None,
    gone_tolerances: str | None,
) -> None:
    """Lay only the tree rows of a DESIGN file: no beds, no plants.

    Prints what the rows are like, what each limit costs in ground, and which limit the ground reaches first. Writes
    rows.gpkg (rows, cut pieces, ground without rows by reason), rows.png, difficulty.png and difficulty.tif.
    """
    if gone or gone_grades or gone_tolerances:
        raise click.UsageError(
            "settings are compared by `geoagro compare` now, e.g. geoagro compare DESIGN --vary rows.max_grade_pct=2,4,6 "
            "--vary rows.spacing_tolerance_pct=5,10"
        )
    from geoagro import pipeline
    from geoagro.cli.holding import hold
    from geoagro.cli.rows_summary import rows_summary
    from geoagro.cli.terminal import shown_progress
    from geoagro.inputs.design.file import read_design
    from geoagro.inputs.design.located import located
    from geoagro.inputs.raster.ground_source import read_ground_source
    from geoagro.inputs.site import read_site
    from geoagro.outputs.rows.files import check_rows_folder, write_rows

    asked = read_design(design)
    words = words_of(locale, asked)
    folder = output or asked.folder / asked.output.folder
    check_rows_folder(folder)
    hold(folder)
    site = read_site(asked)
    pipeline.refuse_what_cannot_fit(asked, site, None)
    source = read_ground_source(asked, site)
    with shown_progress(words) as progress, located(design):
        plan = pipeline.rows_of(asked, site, source, progress=progress)
        written = list(write_rows(plan, folder, words=words, progress=progress))
        text = rows_summary(plan, written, words)
    tell_files(written)
    tell_measures(plan.quality)
    tell_findings([*plan.site.findings, *plan.ground.findings, *plan.rows.findings])
    click.echo(text)
