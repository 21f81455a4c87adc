"""`geoagro water`: what water does on a laid-out field."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.cli.habits.arguments import LAID, design_argument, folder_option
from geoagro.cli.habits.language import design_and_words, finding_line, locale_option, say_written
from geoagro.cli.habits.told import tell_figures, tell_files, tell_findings
from geoagro.values.words import say

if TYPE_CHECKING:
    from geoagro.outputs.words.say import Words
    from geoagro.water.records.tables import WaterPlan


@click.command()
@design_argument("design_file")
@folder_option(words=LAID)
@locale_option()
def command(design_file: Path, output: Path | None, locale: str | None) -> None:
    """Follow water over the ground and along the rows of DESIGN, laid out by `geoagro layout`.

    Says where water gathers, which way it runs along each row and how far, where it stands, and what a storm does that
    you name in the section `water:` of the design: what rows hold, where they run over, who receives it. Writes water.png
    (look at it first) and water.gpkg. Read `geoagro guide water` before you act on it.
    """
    from geoagro import pipeline
    from geoagro.cli.laid import layout_of
    from geoagro.cli.terminal import shown_progress
    from geoagro.inputs.raster.ground_source import read_ground_source
    from geoagro.inputs.site import read_site
    from geoagro.outputs.water.files import check_water_folder, write_water
    from geoagro.outputs.water.picture import WaterMap
    from geoagro.values.rules.water import checksum_of

    design, words = design_and_words(design_file, locale)
    with shown_progress(words) as progress:
        laid, folder = layout_of(design, output, words)
        check_water_folder(folder)
        site, rows = read_site(design), laid.rows()
        terrain = pipeline.terrain_of(design, site, read_ground_source(design, site), progress=progress)
        plan = pipeline.water_of(design, site, rows, terrain, progress=progress)
        drawn = WaterMap(site, rows, terrain, laid.frame("contours"))
        written = write_water(
            plan,
            drawn,
            folder,
            of_rows=laid.rows_checksum(),
            of_rule=checksum_of(design.water),
            words=words,
            progress=progress,
        )
    tell_files(written)
    tell_figures(
        {str(item): float(volume) for item, volume in plan.water_balance[["item", "volume_m3"]].to_numpy()}, "m3"
    )
    tell_findings(plan.findings)
    click.echo(_summary(site.name, plan, words))
    say_written(written, words)


def _summary(name: str, plan: WaterPlan, words: Words) -> str:
    from geoagro.cli.columns import grid, paragraph

    parts = [words(say("Water on {name}"), name=name), ""]
    parts += [paragraph(finding_line(finding, words)) for finding in plan.findings]
    if len(plan.water_balance):
        cells = [(words(say("Balance of the storm")), "m³")]
        counted = zip(plan.water_balance["definition"], plan.water_balance["volume_m3"], strict=True)
        cells += [(words.again(str(what)), words.number(float(volume), 1)) for what, volume in counted]
        parts += ["", grid(cells)]
    parts += ["", "  " + words(say("Published criteria")), *_criteria(plan, words)]
    return "\n".join(parts)


def _criteria(plan: WaterPlan, words: Words) -> Iterator[str]:
    """Each criterion with its verdict, below it the limit and what was found: as columns they'd be wider than a screen."""
    from geoagro.cli.columns import paragraph

    for line in plan.water_criteria[["criterion", "verdict", "limit", "value"]].to_numpy().tolist():
        criterion, verdict, limit, value = (words.again(str(cell)) for cell in line)
        yield paragraph(words(say("{name}: {text}"), name=criterion, text=verdict))
        yield paragraph(words(say("limit: {limit}; here: {value}"), limit=limit, value=value), deeper=2)
