"""`geoagro stakes`: from the written layout to stakes in the ground."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geoagro.cli.habits.arguments import LAID, design_argument, folder_option
from geoagro.cli.habits.language import design_and_words, locale_option, say_written
from geoagro.cli.habits.told import tell_files, tell_measures
from geoagro.values.base.records import records
from geoagro.values.design import Design
from geoagro.values.words import say

if TYPE_CHECKING:
    from geoagro.outputs.words.say import Words
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
    from geoagro.cli.laid import layout_of
    from geoagro.cli.terminal import shown_progress
    from geoagro.inputs.laid.stakes_file import earlier_marks
    from geoagro.outputs.stakes.files import write_stakes

    asked, words = design_and_words(design, locale)
    laid, folder = layout_of(asked, output, words)
    earlier = None if fresh_names else earlier_marks(folder, laid.crs)
    with shown_progress(words) as progress:
        site, rows = laid.site(), laid.rows()
        terrain = None if no_heights else _terrain(asked, site, progress)
        beds = laid.beds()
        stakes = pipeline.stakes_of(asked, site, rows, beds, terrain, earlier=earlier, progress=progress)
        written = write_stakes(
            stakes, rows, site, asked.stakeout, folder / "stakes", beds=beds, words=words, progress=progress
        )
    _say(stakes, earlier, written, words)


def _terrain(design: Design, site: Any, progress: Any) -> Any:
    from geoagro import pipeline
    from geoagro.inputs.raster.ground_source import read_ground_source

    return pipeline.terrain_of(design, site, read_ground_source(design, site), progress=progress)


def _say(stakes: StakeOut, earlier: Any, written: list[Path], words: Words) -> None:
    for line in (*_counts(stakes, words), *_walk(stakes, earlier, words)):
        click.echo(line)
    for sentence in stakes.procedure.sentences:
        click.echo(words(sentence))
    message = say("{receiver}: 95 % of row spacings within {error:.2f} m. {advice}")
    for one in records(stakes.receivers):
        told = {"receiver": words(one.text("receiver")), "error": one.number("error_p95_m")}
        click.echo("  " + words(message, **told, advice=words.again(one.text("advice"))))
    tell_files(written)
    tell_measures(stakes.summary)
    say_written(written, words)


def _counts(stakes: StakeOut, words: Words) -> Iterator[str]:
    """Give how many stakes there are, and how many other rules would take."""
    from geoagro.stakeout.records import figures as f

    value = stakes.summary
    ((step, per_ha),) = value.at(f.COMMON_PER_HA).items()
    message = say(
        "{n:.0f} stakes, {per_ha:.0f} per ha of rows, on average {apart:.1f} m apart; as many at even steps would leave rows up "
        "to {even:.0f} cm off the tape, and one every {step:g} m ({common:.0f} per ha) up to {off:.0f} cm."
    )
    yield words(
        message, n=value[f.MARKS], per_ha=value[f.MARKS_PER_HA], apart=value[f.EVEN_STEP], even=100 * value[f.EVEN_OFF_TAPE],
        step=step, common=per_ha, off=100 * value.at(f.COMMON_OFF_TAPE)[step],
    )  # fmt: skip
    if not isnan(value[f.FIXED_STEP]):
        message = say("A fixed step that keeps the tolerance everywhere is {step:g} m: {per_ha:.0f} stakes per ha.")
        yield words(message, step=value[f.FIXED_STEP], per_ha=value[f.FIXED_PER_HA])
    one = say("{tolerance:g} m {n:.0f} {n:stake|stakes}")
    others = [words(one, tolerance=tolerance, n=n) for tolerance, n in value.at(f.MARKS_AT_TOLERANCE).items()]
    yield words(say("With another stakeout.tolerance_m: {others}."), others=", ".join(others))
    (beyond,) = value.at(f.BEYOND).values()
    if beyond:
        yield words(
            say("{n:.0f} {n:tape lies farther off its row|tapes lie farther off their row} than the tolerance."),
            n=beyond,
        )


def _walk(stakes: StakeOut, earlier: Any, words: Words) -> Iterator[str]:
    """Give the walk, and how many names of an earlier run stay."""
    from geoagro.stakeout.records import figures as f

    value = stakes.summary
    message = say(
        "Walk {km:.2f} km, {hours:.1f} h, {days:.0f} {days:day|days}; between rows {between:.0f} m (back and "
        "forth by number {back:.0f} m, one way {one_way:.0f} m, no order below {bound:.0f} m)."
    )
    yield words(
        message, km=value[f.WALK] / 1000, hours=value[f.HOURS], days=value[f.DAYS], between=value[f.BETWEEN],
        back=value[f.BETWEEN_BACK_AND_FORTH], one_way=value[f.BETWEEN_ONE_WAY], bound=value[f.BETWEEN_BOUND],
    )  # fmt: skip
    if earlier is not None:
        kept = int(stakes.marks["stake"].isin(earlier["stake"]).sum())
        message = say("{n} of {all} earlier names kept, where rows still run within a quarter of their spacing.")
        yield words(message, n=kept, all=len(earlier))
