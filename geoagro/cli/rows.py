"""`geoagro rows`: tree rows only, what each limit costs, and settings side by side."""

from __future__ import annotations

from pathlib import Path

import click


def _numbers(ctx: click.Context, param: click.Parameter, value: str | None) -> tuple[float, ...] | None:
    """Read "2,4,6", percent; anything else is refused with an example."""
    if value is None:
        return None
    try:
        numbers = tuple(float(part) for part in value.split(","))
    except ValueError:
        raise click.BadParameter(f"'{value}' must be numbers parted by commas, like 2,4,6", ctx, param) from None
    if not all(0 < number <= 100 for number in numbers):
        raise click.BadParameter(f"'{value}': each number must be above 0 and at most 100 percent", ctx, param)
    return numbers


@click.command("rows")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--output", "-o", type=click.Path(path_type=Path), help="Result folder, instead of output.folder.")
@click.option("--compare", is_flag=True, help="Lay rows at several settings and put them side by side.")
@click.option(
    "--grades",
    callback=_numbers,
    metavar="NUMBERS",
    help="Grade limits to compare, percent, like 2,4,6. Implies --compare.",
)
@click.option(
    "--tolerances",
    callback=_numbers,
    metavar="NUMBERS",
    help="Spacing tolerances to compare, percent, like 5,10,15. Implies --compare.",
)
def command(
    design: Path,
    *,
    output: Path | None,
    compare: bool,
    grades: tuple[float, ...] | None,
    tolerances: tuple[float, ...] | None,
) -> None:
    """Lay only the tree rows of a DESIGN file: no beds, no plants.

    Prints what the rows are like, what each limit costs in ground, and which limit the ground reaches first. Writes
    rows.gpkg (rows, cut pieces, unserved ground by reason), rows.png, difficulty.png and difficulty.tif.

    With --compare, lays rows at grade limits and tolerances around the design's own, straight rows too (and rows
    parallel to the guides, where there are any); prints them side by side and writes rows_compared.csv and .png.
    """
    from geoagro import pipeline
    from geoagro.cli.holding import hold
    from geoagro.cli.rows_summary import comparison_summary, rows_summary
    from geoagro.cli.terminal import shown_progress
    from geoagro.inputs.design.file import read_design
    from geoagro.inputs.raster.ground_source import read_ground_source
    from geoagro.inputs.site import read_site
    from geoagro.outputs.rows.files import check_rows_folder, write_comparison, write_rows

    asked = read_design(design)
    folder = output or asked.folder / asked.output.folder
    check_rows_folder(folder)
    hold(folder)
    site = read_site(asked)
    pipeline.refuse_what_cannot_fit(asked, site, None)
    source = read_ground_source(asked, site)
    with shown_progress() as progress:
        if compare or grades or tolerances:
            table = pipeline.rows_compared(
                asked,
                site,
                source,
                grades_pct=grades or (),
                tolerances=tuple(value / 100 for value in tolerances or ()),
                progress=progress,
            )
            text = comparison_summary(site.name, table, write_comparison(table, folder, title=site.name))
        else:
            plan = pipeline.rows_of(asked, site, source, progress=progress)
            text = rows_summary(plan, write_rows(plan, folder, progress=progress))
    click.echo(text)
