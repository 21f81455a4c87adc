"""`geoagro stakes`: from the written layout to stakes in the ground."""

from __future__ import annotations

from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from geoagro.values.stakeout import StakeOut


@click.command("stakes")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--output", "-o", type=click.Path(path_type=Path), help="Result folder, instead of output.folder.")
@click.option("--fresh-names", is_flag=True, help="Forget the names and places of an earlier stake-out.")
@click.option("--no-heights", is_flag=True, help="Leave heights empty: the elevation isn't read.")
def command(design: Path, output: Path | None, fresh_names: bool, no_heights: bool) -> None:
    """Set stakes for the layout of a DESIGN file, as section `stakeout` says.

    Reads layout.gpkg as it was approved and writes the folder `stakes` beside it: GPX, KML, GeoJSON, DXF, point lists
    and a GeoPackage; printed sheets true to scale and a pocket list; tables for tape, baseline and level. Stakes of
    an earlier run keep their names and places where the rows still run there.
    """
    from geoagro import pipeline
    from geoagro.cli.laid import design_and_layout
    from geoagro.cli.terminal import shown_progress
    from geoagro.inputs.laid.stakes_file import earlier_marks
    from geoagro.outputs.stakes.files import write_stakes

    asked, laid, folder = design_and_layout(design, output)
    earlier = None if fresh_names else earlier_marks(folder, laid.crs)
    with shown_progress() as progress:
        site, rows = laid.site(), laid.rows()
        terrain = None if no_heights else _terrain(asked, site, progress)
        stakes = pipeline.stakes_of(asked, site, rows, laid.beds(), terrain, earlier=earlier, progress=progress)
        written = write_stakes(stakes, rows, site, asked.stakeout, folder / "stakes", progress=progress)
    _say(stakes, earlier, written)


def _terrain(design: Any, site: Any, progress: Any) -> Any:
    from geoagro import pipeline
    from geoagro.inputs.raster.ground_source import read_ground_source

    return pipeline.terrain_of(design, site, read_ground_source(design, site), progress=progress)


def _say(stakes: StakeOut, earlier: Any, written: list[Path]) -> None:
    value = dict(zip(stakes.summary["measure"], stakes.summary["value"], strict=True))
    click.echo(
        f"{value['marks']:.0f} stakes, {value['marks_per_ha']:.0f} per ha of rows, on average {value['even_step']:.1f} m "
        f"apart; as many at even steps would leave rows up to {100 * value['even_off_tape']:.0f} cm off the tape, and "
        f"one every 10 m ({value['common_per_ha']:.0f} per ha) up to {100 * value['common_off_tape']:.0f} cm."
    )
    if not isnan(value["fixed_step"]):
        click.echo(
            f"A fixed step that keeps the tolerance everywhere is {value['fixed_step']:g} m: {value['fixed_per_ha']:.0f} "
            "stakes per ha."
        )
    coarser = [(name, n) for name, n in value.items() if name.startswith("marks_at_")]
    click.echo(
        "With another stakeout.tolerance_m: "
        + ", ".join(f"{int(name.split('_')[2]) / 1000:g} m {n:.0f} stakes" for name, n in coarser)
        + "."
    )
    if value["beyond_tolerance"]:
        click.echo(f"{value['beyond_tolerance']:.0f} tapes lie farther off their row than the tolerance.")
    click.echo(
        f"Walk {value['walk'] / 1000:.2f} km, {value['hours']:.1f} h, {value['days']:.0f} day(s); between rows "
        f"{value['between_rows']:.0f} m (back and forth by number {value['between_back_and_forth']:.0f} m, one way "
        f"{value['between_one_way']:.0f} m, no order below {value['between_bound']:.0f} m)."
    )
    if earlier is not None:
        kept = int(stakes.marks["mark"].isin(earlier["mark"]).sum())
        click.echo(
            f"{kept} of {len(earlier)} earlier names kept, where rows still run within a quarter of their spacing."
        )
    for line in stakes.receivers.itertuples():
        click.echo(f"  {line.receiver}: 95 % of row spacings within {line.error_p95_m:.2f} m. {line.advice}")
    click.echo("Written: " + ", ".join(str(path) for path in written))
