"""`geoagro stakes`: from the written layout to stakes in the ground."""

from __future__ import annotations

from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geoagro.cli.habits.arguments import LAID, design_argument, folder_option
from geoagro.cli.habits.language import locale_option, words_of
from geoagro.cli.habits.told import tell_files, tell_measures
from geoagro.values.design import Design

if TYPE_CHECKING:
    from geoagro.stakeout.records.stakes import StakeOut


@click.command("stakes")
@design_argument()
@folder_option(words=LAID)
@click.option("--fresh-names", is_flag=True, help="Forget the names and places of an earlier stake-out.")
@click.option("--no-heights", is_flag=True, help="Leave heights empty: the elevation isn't read.")
@locale_option()
def command(design: Path, output: Path | None, fresh_names: bool, no_heights: bool, locale: str | None) -> None:
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
    words = words_of(locale, asked)
    earlier = None if fresh_names else earlier_marks(folder, laid.crs)
    with shown_progress() as progress:
        site, rows = laid.site(), laid.rows()
        terrain = None if no_heights else _terrain(asked, site, progress)
        beds = laid.beds()
        stakes = pipeline.stakes_of(asked, site, rows, beds, terrain, earlier=earlier, progress=progress)
        written = write_stakes(
            stakes, rows, site, asked.stakeout, folder / "stakes", beds=beds, words=words, progress=progress
        )
    _say(stakes, earlier, written)


def _terrain(design: Design, site: Any, progress: Any) -> Any:
    from geoagro import pipeline
    from geoagro.inputs.raster.ground_source import read_ground_source

    return pipeline.terrain_of(design, site, read_ground_source(design, site), progress=progress)


def _say(stakes: StakeOut, earlier: Any, written: list[Path]) -> None:
    from geoagro.stakeout.records import figures as f

    value = stakes.summary
    ((step, per_ha),) = value.at(f.COMMON_PER_HA).items()
    click.echo(
        f"{value[f.MARKS]:.0f} stakes, {value[f.MARKS_PER_HA]:.0f} per ha of rows, on average {value[f.EVEN_STEP]:.1f} m "
        f"apart; as many at even steps would leave rows up to {100 * value[f.EVEN_OFF_TAPE]:.0f} cm off the tape, and "
        f"one every {step:g} m ({per_ha:.0f} per ha) up to {100 * value.at(f.COMMON_OFF_TAPE)[step]:.0f} cm."
    )
    if not isnan(value[f.FIXED_STEP]):
        click.echo(
            f"A fixed step that keeps the tolerance everywhere is {value[f.FIXED_STEP]:g} m: {value[f.FIXED_PER_HA]:.0f} "
            "stakes per ha."
        )
    click.echo(
        "With another stakeout.tolerance_m: "
        + ", ".join(f"{tolerance:g} m {n:.0f} stakes" for tolerance, n in value.at(f.MARKS_AT_TOLERANCE).items())
        + "."
    )
    (beyond,) = value.at(f.BEYOND).values()
    if beyond:
        click.echo(f"{beyond:.0f} tapes lie farther off their row than the tolerance.")
    click.echo(
        f"Walk {value[f.WALK] / 1000:.2f} km, {value[f.HOURS]:.1f} h, {value[f.DAYS]:.0f} day(s); between rows "
        f"{value[f.BETWEEN]:.0f} m (back and forth by number {value[f.BETWEEN_BACK_AND_FORTH]:.0f} m, one way "
        f"{value[f.BETWEEN_ONE_WAY]:.0f} m, no order below {value[f.BETWEEN_BOUND]:.0f} m)."
    )
    if earlier is not None:
        kept = int(stakes.marks["stake"].isin(earlier["stake"]).sum())
        click.echo(
            f"{kept} of {len(earlier)} earlier names kept, where rows still run within a quarter of their spacing."
        )
    for sentence in stakes.procedure.sentences:
        click.echo(sentence)
    for line in stakes.receivers.itertuples():
        click.echo(f"  {line.receiver}: 95 % of row spacings within {line.error_p95_m:.2f} m. {line.advice}")
    tell_files(written)
    tell_measures(value)
    click.echo("\n".join(f"wrote {path}" for path in written))
