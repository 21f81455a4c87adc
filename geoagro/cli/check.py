"""`geoagro check`: read a design and its files, and say what was found."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.cli.habits.arguments import design_argument
from geoagro.cli.habits.language import design_and_words, locale_option
from geoagro.cli.habits.told import tell_figure, tell_findings
from geoagro.errors import GeoagroError
from geoagro.values.words import say

if TYPE_CHECKING:
    from geoagro.outputs.words.say import Words
    from geoagro.values.design import Design


@click.command()
@design_argument("design_file")
@locale_option()
def command(design_file: Path, locale: str | None) -> None:
    """Read DESIGN and its files, and say what was found. Writes nothing.

    Ends with an exit code above 0 where the layout would refuse, with the reason and what to do.
    """
    from geoagro.inputs.design.located import located

    with located(design_file):
        design, words = design_and_words(design_file, locale)
        _check(design, words)
    click.echo("\n" + words(say("Files, crops, addresses and ground are ready for the layout.")))


def _check(design: Design, words: Words) -> None:
    from geoagro import pipeline
    from geoagro.cli import check_words as found
    from geoagro.inputs.design.crop_library import read_crop_library
    from geoagro.inputs.raster.ground_source import read_ground_source
    from geoagro.inputs.site import read_site
    from geoagro.pipeline.readiness import refuse_before_rows, refuse_names, refuse_on_known_rows

    problems: list[GeoagroError] = []
    site = read_site(design)
    findings = site.findings
    tell_figure("field_m2", site.boundary.area, "m2")
    _say(found.describe_site(design, site, words))
    pipeline.refuse_what_cannot_fit(design, site, None)
    crops = None
    with _noted(problems):
        library = read_crop_library()
        crops = pipeline.crops_of(design, library)
        _say(found.describe_crops(crops, design, words))
        pipeline.refuse_what_cannot_fit(design, site, crops)
        refuse_names(design, crops, library)
    with _noted(problems):
        source = read_ground_source(design, site)
        findings += source.findings
        _say(found.describe_ground(site, source, words))
        pipeline.refuse_short_memory(design, site, source, pipeline.refuse_what_cannot_fit(design, site, None))
        terrain = pipeline.terrain_of(design, site, source)
        _say(found.describe_slope(design, site, terrain, words))
        ground = pipeline.ground_of(design, site, terrain)
        findings += ground.findings
        tell_figure("plantable_m2", ground.plantable.area, "m2")
        _say(found.describe_plantable(ground, site.area_sd_m2, words))
        if terrain.heights is not None:
            _say(found.describe_difficulty(pipeline.difficulty_of(design, terrain, ground), words))
        if crops is not None:
            refuse_before_rows(design, site, terrain, ground, crops)
            refuse_on_known_rows(design, site, terrain, ground)
    tell_findings(findings)
    _say(found.describe_findings(findings, words))
    _stop_at(problems)


@contextmanager
def _noted(problems: list[GeoagroError]) -> Iterator[None]:
    """Go on after a problem, so that one run tells all of them."""
    try:
        yield
    except GeoagroError as error:
        problems.append(error)


def _stop_at(problems: list[GeoagroError]) -> None:
    """Raise all that was found as one, each line once."""
    if not problems:
        return
    lines = list(dict.fromkeys(line for problem in problems for line in str(problem).splitlines()))
    if len(problems) == 1 or len(lines) == 1:
        raise problems[0]
    raise type(problems[0])("\n".join(lines))


def _say(lines: list[str]) -> None:
    for line in lines:
        click.echo(line)
