"""Open what a report or map starts from: the approved layout of a design, and the ground it lies on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from geoagro.cli.holding import hold
from geoagro.errors import InputError
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.design import Design
from geoagro.values.progress import Progress
from geoagro.values.results.as_written import AsWritten
from geoagro.values.timeline import Timeline
from geoagro.values.words import say


@dataclass(frozen=True, eq=False)
class Approved:
    """A design, its layout as written, and the ground (None where its files can't be read any more)."""

    design: Design
    folder: Path
    laid: Any
    terrain: Any


def open_approved(
    design_file: Path,
    folder: Path | None,
    *,
    progress: Progress,
    ground: bool = True,
    words: Words = ENGLISH,
    read: Design | None = None,
    held: AsWritten | None = None,
) -> Approved:
    """Read the layout that lies in the design's result folder (or in `folder`).

    Where the ground's files are gone or were changed so that they can't be read, that is said on stderr and
    maps have no relief. Without `ground` it isn't read at all, and the folder isn't held, as nothing is written there.
    A layout that was just written, by a run that still holds the folder, isn't read where it is `held`; a design that was
    `read` before isn't read again.
    """
    from geoagro import pipeline
    from geoagro.inputs.design.crop_library import read_crop_library
    from geoagro.inputs.design.file import read_design
    from geoagro.inputs.laid.laid_out import read_laid_out
    from geoagro.inputs.laid.layout_file import layout_just_written, read_layout_file
    from geoagro.pipeline.sizes import refuse_reading

    design = read or read_design(design_file)
    place = folder or design.folder / design.output.folder
    if ground and place.is_dir():
        hold(place)
    progress("reading the layout", 0.0)
    file = layout_just_written(held) if held else read_layout_file(place, large_later=True)
    refuse_reading(file.plant_count, narrow=True)
    crops = pipeline.crop_facts(file.design, read_crop_library())
    laid = read_laid_out(file, crops, design=design)
    known = pipeline.crops_of(file.design, read_crop_library())
    timeline = Timeline.of(laid.plants, known, file.design.season, start=file.design.start_date)
    laid = replace(laid, timeline=timeline)
    if laid.changed:
        message = say(
            "{design} was changed after the layout was made (sections {sections}); this is about the layout as it was written. "
            "Run `geoagro layout` to bring it up to date."
        )
        text = words(message, design=str(design_file), sections=", ".join(laid.changed))
        click.echo(f"geoagro: {text}", err=True)
    progress("reading the layout", 1.0)
    return Approved(design, place, laid, _terrain(design, progress, words) if ground else None)


def _terrain(design: Design, progress: Progress, words: Words) -> Any:
    from geoagro import pipeline
    from geoagro.inputs.raster.ground_source import read_ground_source
    from geoagro.inputs.site import read_site

    try:
        site = read_site(design)
        return pipeline.terrain_of(design, site, read_ground_source(design, site), progress=progress)
    except InputError as error:
        text = words(say("maps have no relief, as the ground can't be read any more: {why}"), why=str(error))
        click.echo(f"geoagro: {text}", err=True)
        return None
