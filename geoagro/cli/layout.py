"""`geoagro layout`: design file in, result folder out, and a short account on the terminal."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.cli.habits.arguments import design_argument, folder_option
from geoagro.cli.habits.language import locale_option, words_of
from geoagro.cli.habits.told import tell_figure, tell_files, tell_findings, tell_measures
from geoagro.errors import DesignError
from geoagro.values.progress import silent
from geoagro.values.words import say

if TYPE_CHECKING:
    import geopandas as gpd

    from geoagro.light.records.bed_light import BedLight
    from geoagro.outputs.layout.early import Early
    from geoagro.outputs.words.say import Words
    from geoagro.plants.records.recipe_analysis import RecipeAnalysis
    from geoagro.values.beds import Beds
    from geoagro.values.design import Design
    from geoagro.values.layout import Layout
    from geoagro.values.progress import Progress
    from geoagro.values.results.as_written import AsWritten
    from geoagro.values.site import Site
    from geoagro.yields.records.tables import RecipeYields


@click.command("layout")
@design_argument()
@folder_option()
@locale_option()
def command(design: Path, output: Path | None, locale: str | None) -> None:
    """Lay out the field of a DESIGN file and write the result.

    Writes layout.gpkg (all layers and tables, for any GIS viewer), layout.png (the field on one page)
    and light.png (light on beds by month, and what company leaves of yields).
    An earlier result stays until the new one is complete.
    """
    from geoagro.cli.holding import hold
    from geoagro.cli.recipe_words import recipe_lines
    from geoagro.cli.summary import layout_summary
    from geoagro.cli.terminal import shown_progress
    from geoagro.inputs.design.file import read_design
    from geoagro.inputs.design.located import located

    asked = read_design(design)
    words = words_of(locale, asked)
    hold(output or asked.folder / asked.output.folder)
    with shown_progress(words) as progress, located(design):
        done = lay_out_and_write(design, output, progress, words, read=asked, alone=True)
    tell_layout(done)
    click.echo(layout_summary(done.laid, done.written, words))
    if done.recipe is None:
        click.echo("\n" + words(say("The recipe wasn't analysed: {why}"), why=done.missing))
    else:
        for line in [*recipe_lines(done.recipe, words), *(_company_told(done, words))]:
            click.echo(line)


def _company_told(done: Done, words: Words) -> list[str]:
    from geoagro.cli.recipe_words import company_lines

    return company_lines(done.company[0], words, done.company[1]) if done.company else []


def tell_layout(done: Done) -> None:
    """Tell programs the files, figures and findings of a layout."""
    tables = done.laid.tables
    tell_files(done.written)
    for item, area in tables.area_summary[["item", "area_m2"]].itertuples(index=False):
        tell_figure("area_m2", area, "m2", of=str(item))
    for crop, points in tables.crop_summary[["crop", "plants"]].itertuples(index=False):
        tell_figure("planting_points", points, of=str(crop))
    tell_measures(tables.layout_quality)
    tell_findings(done.laid.findings)


@dataclass(frozen=True)
class Done:
    """A layout, its analysis (or what that would need), yields and light, the files written, what a reader of them gets."""

    laid: Layout
    recipe: RecipeAnalysis | None
    missing: str
    company: tuple[RecipeYields, BedLight | None] | None
    written: list[Path]
    held: AsWritten | None


def lay_out_and_write(
    design: Path,
    output: Path | None,
    progress: Progress,
    words: Words | None = None,
    *,
    read: Design | None = None,
    alone: bool = False,
) -> Done:
    """Lay out a design file (`read` where it was read before) and write the result, in the design's language if none is given.

    A layout that someone edited is kept beside the new one. Where no other field is laid out meanwhile (`alone`), another process
    draws the pictures.
    """
    from geoagro import pipeline
    from geoagro.inputs.design.file import read_design
    from geoagro.outputs.layout.early import Early
    from geoagro.outputs.layout.files import check_result_folder

    asked = read or read_design(design)
    folder = output or asked.folder / asked.output.folder
    check_result_folder(folder)
    words = words or words_of(None, asked)
    with Early(folder, asked, words, pictures=alone) as early:
        edited, fitted = _edited_meanwhile(early, folder), _Fitted(early, asked)
        laid = pipeline.layout(asked, fitted=fitted, placing=early.placing, placed=early.placed, progress=progress)
        return write_laid(laid, design, folder, progress, words, early=early, edited=edited, yields=fitted.yields)


class _Fitted:
    """Has the other process reckon yields in company from when beds are fitted: they ask for no plants.

    Attributes
    ----------
    yields
        Gives them; None where there is no other process.
    """

    def __init__(self, early: Early, design: Design) -> None:
        """Have it load what it reckons with."""
        self._early, self._design = early, design
        self.yields: Callable[[], RecipeYields] | None = None
        early.meanwhile(_load_yields)

    def __call__(self, site: Site, beds: Beds) -> None:
        """Begin."""
        if self._early.apart is not None:
            self.yields = self._early.meanwhile(_yields, self._design, site, beds.tree_beds)


def _edited_meanwhile(early: Early, folder: Path) -> Callable[[], tuple[str, ...]]:
    """Look for edited layers of the last layout while the new one is laid out; once more at the end if the file changed since."""
    from geoagro.inputs.laid.layout_file import edited_layers
    from geoagro.outputs.layout.names import GEOPACKAGE

    def state() -> tuple[int, int] | None:
        path = folder / GEOPACKAGE
        return (path.stat().st_mtime_ns, path.stat().st_size) if path.exists() else None

    before, found = state(), early.meanwhile(edited_layers, folder)
    return lambda: found() if state() == before else edited_layers(folder)


def write_laid(
    laid: Layout,
    design: Path,
    folder: Path,
    progress: Progress,
    words: Words,
    *,
    early: Early | None = None,
    edited: Callable[[], tuple[str, ...]] | None = None,
    yields: Callable[[], RecipeYields] | None = None,
) -> Done:
    """Analyse a layout and write its result; one that someone edited is kept beside the new one."""
    from geoagro.inputs.laid.layout_file import edited_layers
    from geoagro.outputs.layout.company_layers import light_layers, yield_layers
    from geoagro.outputs.layout.files import keep_edited, write_and_hold
    from geoagro.outputs.layout.recipe_layers import recipe_layers

    if early is not None:
        early.laid(laid, progress)
    recipe, missing = _recipe(laid, progress)
    more = recipe_layers(recipe) if recipe else []
    company = _company(laid, progress, yields) if recipe else None
    if company is not None:
        more = [*(light_layers(company[1]) if company[1] else []), *more, *yield_layers(company[0])]
    light = (company[1], company[0]) if company is not None and company[1] is not None else None
    if early is not None and light is not None:
        early.weighed(*light)
    if layers := edited() if edited else edited_layers(folder):
        kept = keep_edited(folder)
        message = say("{layers} of the last layout had been edited; it is kept as {path}.")
        click.echo(words(message, layers=", ".join(layers), path=str(kept)), err=True)
    written = write_and_hold(
        laid, folder, design_file=design, more=more, light=light, words=words, progress=progress, early=early
    )
    return Done(laid, recipe, missing, company, written.files, written.held)


def _company(
    laid: Layout, progress: Progress, begun: Callable[[], RecipeYields] | None
) -> tuple[RecipeYields, BedLight | None]:
    """Reckon yields in company (or take those that were `begun`), and the light on beds."""
    from geoagro import pipeline
    from geoagro.inputs.design.crop_library import read_crop_library

    yields = begun() if begun else _yields(laid.design, laid.site, laid.beds.tree_beds, progress)
    return yields, pipeline.bed_light_of(laid, read_crop_library(), progress=progress)


def _load_yields() -> None:
    """Load what yields are reckoned with, which takes longer than to reckon them."""
    from geoagro.inputs.design.crop_library import read_crop_library
    from geoagro.pipeline import recipe_yields_of  # noqa: F401

    read_crop_library()


def _yields(design: Design, site: Site, tree_beds: gpd.GeoDataFrame, progress: Progress = silent) -> RecipeYields:
    """Reckon yields in company."""
    from geoagro import pipeline
    from geoagro.inputs.design.crop_library import read_crop_library

    return pipeline.recipe_yields_of(
        design,
        read_crop_library(),
        latitude_deg=site.latitude_deg,
        bearings=pipeline.bearings_of(tree_beds),
        progress=progress,
    )


def _recipe(laid: Layout, progress: Progress) -> tuple[RecipeAnalysis | None, str]:
    """Analyse the recipe, or say which value of an own crop it would need."""
    from geoagro import pipeline
    from geoagro.inputs.design.crop_library import read_crop_library

    try:
        return pipeline.recipe_of(laid, read_crop_library(), progress=progress), ""
    except DesignError as error:
        return None, str(error)
