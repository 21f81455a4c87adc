"""`geoagro beds`: a page per bed to plant from, and what to mind, before any field is laid out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.cli.habits.arguments import design_argument, folder_option
from geoagro.cli.habits.language import finding_line, locale_option, words_of
from geoagro.cli.habits.told import tell_figures, tell_files, tell_findings
from geoagro.values.words import say

if TYPE_CHECKING:
    from geoagro.outputs.words.say import Words


@click.command()
@design_argument("design_file")
@folder_option(words="Folder for the result; if left out, `beds` in output.folder of the design.")
@click.option("--month", "months", type=click.IntRange(1, 600), multiple=True, help="Month of a side view; may repeat.")
@locale_option()
def command(design_file: Path, output: Path | None, months: tuple[int, ...], locale: str | None) -> None:
    """Draw the beds of DESIGN's recipe: plan, list, side views and cautions, one page each.

    Needs no boundary and no elevation: the recipe is looked at on straight rows on an even slope. Writes
    bed_1.png, bed_2.png, ... and recipe.png (cover and strata by month), and says where lifting harms roots, what to
    change, and what is dangerous to eat.
    """
    from geoagro import pipeline
    from geoagro.cli.recipe_words import company_lines, recipe_lines, section
    from geoagro.inputs.design.crop_library import read_crop_library
    from geoagro.inputs.design.file import read_design
    from geoagro.outputs.beds.files import check_beds_folder, write_beds
    from geoagro.outputs.beds.sides import WEEKS_PER_MONTH

    design = read_design(design_file)
    words = words_of(locale, design)
    folder = output or design.folder / design.output.folder / "beds"
    check_beds_folder(folder)
    library = read_crop_library()
    sheets = pipeline.bed_sheets_of(design, library)
    empty = [m for m in months if not any(kind.size((m - 0.5) * WEEKS_PER_MONTH) for s in sheets for kind in s.kinds)]
    if empty:
        raise click.BadParameter(f"nothing stands in month {empty[0]}; name another one", param_hint="--month")
    plants, analysis = pipeline.recipe_on_model(design, library)
    *pages, cover = write_beds(sheets, analysis, design.name, folder, months, words=words)
    tell_files([*pages, cover])
    tell_findings(plants.findings)
    for sheet, path in zip(sheets, pages, strict=True):
        tell_figures({kind.planting: kind.per_10_m for kind in sheet.kinds}, "places per 10 m", of=str(sheet.title))
        told_of = {"title": words(sheet.title), "beds": words(sheet.beds), "path": str(path)}
        click.echo(words(say("{title} ({beds}): {path}"), **told_of))
    click.echo(words(say("Cover and strata by month: {path}"), path=str(cover)))
    cautions = {kind.name: kind.caution for sheet in sheets for kind in sheet.kinds if kind.caution}
    told = [
        *section(words(say("Directions and places")), [finding_line(f, words) for f in plants.findings], words),
        *recipe_lines(analysis, words),
        *company_lines(pipeline.recipe_yields_of(design, library), words),
        *section(
            words(say("Caution")), [_caution(name, text, words) for name, text in sorted(cautions.items())], words
        ),
    ]
    for line in told:
        click.echo(line)


def _caution(name: str, text: str, words: Words) -> str:
    return words(say("{name}: {text}"), name=words.crop(name), text=words(text))
