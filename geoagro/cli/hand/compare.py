"""`geoagro compare`: designs, or one design with settings varied, side by side."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.cli.columns import grid, paragraph
from geoagro.cli.habits.arguments import folder_option
from geoagro.cli.habits.language import files_told, headed, locale_option, words_of
from geoagro.cli.habits.told import tell_figures, tell_files, tell_finding
from geoagro.cli.hand.option_names import option_name
from geoagro.errors import DesignError, GeoagroError
from geoagro.values.words import say

if TYPE_CHECKING:
    from geoagro.outputs.words.say import Words
    from geoagro.values.design import Design
    from geoagro.values.results.options import Compared, OptionResult

    Asked = tuple[str, Design, Path, dict[str, str]]

FOLDER = "comparison"
MOST = 60
_USE = {
    "options.png": say("table, charts and small maps; look at this first"),
    "options.csv": say("the same as a table"),
    "options.json": say("the same as data; what a further run goes on from"),
}


@click.command("compare")
@click.argument("designs", type=click.Path(path_type=Path), nargs=-1, required=True, metavar="DESIGN...")
@click.option(
    "--vary",
    "varied",
    multiple=True,
    metavar="KEY=A,B,C",
    help="Lay out each design with these values of a key, e.g. --vary rows.spacing_m=4.5,5,6. Repeat it for all pairs.",
)
@folder_option(words="Folder for the result; if left out, `comparison` in output.folder of the first design.")
@locale_option(otherwise="key `locale` of the first design")
def command(designs: tuple[Path, ...], varied: tuple[str, ...], output: Path | None, locale: str | None) -> None:
    """Lay out several DESIGNs, or one with settings varied, and put them side by side.

    Writes options.png (table, charts, small maps), options.csv and options.json, anew after every option. Run again, it
    goes on where it was stopped: what hasn't changed isn't laid out again. The designs' own results aren't touched.

    An option that can't be laid out keeps its line, with the reason.
    """
    from geoagro import pipeline
    from geoagro.cli.terminal import shown_progress
    from geoagro.outputs.options.files import check_options_folder, earlier_options, write_options

    asked = _asked(designs, [_choice(text) for text in varied])
    first = asked[0][1]
    words = words_of(locale, first)
    folder = output or first.folder / first.output.folder / FOLDER
    check_options_folder(folder)
    known = earlier_options(folder)
    compared = pipeline.figures_compared()
    title = page_title({design.name for _, design, _, _ in asked}, words)
    done = [_as_asked(known.get(_state(option[1])), option) for option in asked]
    written: list[Path] = []
    for number, (name, design, file, settings) in enumerate(asked):
        click.echo(
            words(say("{number} of {all}: {name}"), number=number + 1, all=len(asked), name=words(name)), err=True
        )
        if done[number] is None:
            with shown_progress(words) as progress:
                done[number] = pipeline.option_of(name, design, design_file=file, settings=settings, progress=progress)
            written = write_options([option for option in done if option], compared, folder, words, title=title)
    results = [option for option in done if option]
    written = written or write_options(results, compared, folder, words, title=title)
    tell_files(written)
    for option in results:
        figures = {item.quantity.key: option.value(item) for item in compared}
        tell_figures(figures, of=option.name)
        if option.problem:
            tell_finding("warning", option.name, option.problem)
    click.echo(options_summary(results, compared, written, words))


def _state(design: Design) -> str:
    """Checksum of what an option depends on; empty where its files can't be read, which laying it out will tell."""
    from geoagro import pipeline

    try:
        return pipeline.option_state(design)
    except GeoagroError:
        return ""


def _as_asked(known: OptionResult | None, option: Asked) -> OptionResult | None:
    """Give what an earlier run found, under the name and settings that are asked for now."""
    name, _, file, settings = option
    return None if known is None else replace(known, name=name, design_file=str(file), settings=settings)


def _choice(text: str) -> tuple[str, list[str]]:
    """Take "key=a,b,c" apart."""
    key, sign, values = text.partition("=")
    found = [value.strip() for value in values.split(",")]
    if not sign or not key.strip() or not all(found):
        raise click.UsageError(f"--vary {text}: give a key and its values, e.g. --vary rows.spacing_m=4.5,5,6")
    return key.strip(), found


def page_title(fields: set[str], words: Words) -> str:
    """Say what the page is, and of which field where all options are of one."""
    if len(fields) == 1:
        return words(say("{field}: options side by side"), field=min(fields))
    return words(say("Options side by side"))


def _asked(files: Sequence[Path], choices: list[tuple[str, list[str]]]) -> list[Asked]:
    """Name, design, file and varied settings of every option; every design is read before any is laid out."""
    from geoagro.inputs.design.file import read_design

    twice = [key for key, _ in choices if sum(key == other for other, _ in choices) > 1]
    if twice:
        raise click.UsageError(f"--vary {twice[0]} is given twice; give all its values at once, separated by commas")
    count = len(files)
    for _, values in choices:
        count *= len(values)
    if count > MOST:
        raise click.UsageError(f"{count} options are more than fit side by side ({MOST}); vary fewer values at a time")
    names = _names(files)
    asked: list[Asked] = []
    keys = [key for key, _ in choices]
    for file, name in zip(files, names, strict=True):
        for combination in product(*(values for _, values in choices)):
            settings = dict(zip(keys, combination, strict=True))
            design = read_design(file, changes=settings)
            called = option_name(name if len(files) > 1 or not settings else "", settings)
            asked.append((called, design, file, settings))
    if len(asked) < 2:
        raise DesignError(
            f"{files[0]}: one option is nothing to compare. Name another design, or vary a key with --vary."
        )
    return asked


def _names(files: Sequence[Path]) -> list[str]:
    """File names without ending where they differ, else with their folder."""
    stems = [file.stem for file in files]
    if len(set(stems)) == len(stems):
        return stems
    return [f"{file.absolute().parent.name}/{file.stem}" for file in files]


def options_summary(
    options: Sequence[OptionResult], compared: Sequence[Compared], written: Iterable[Path], words: Words
) -> str:
    """One line per figure, one column per option; which couldn't be laid out; where the result is."""
    from geoagro.outputs.options.page import number
    from geoagro.outputs.tables.column_words import unit_words
    from geoagro.values.results.trades import trades

    laid = [option for option in options if not option.problem]
    line = say("{name}: {text}")
    failed = [paragraph(words(line, name=words(one.name), text=one.problem)) for one in options if one.problem]
    shown = [item for item in compared if any(not math.isnan(option.value(item)) for option in laid)]
    currency = next((option.currency for option in laid if option.currency), "")
    units = {"share": "%", "money": currency}
    cells = [("", "", *(words(option.name) for option in laid))]
    for item in shown:
        unit = item.quantity.unit
        values = (number(option.value(item), unit, words) for option in laid)
        cells.append((words(item.quantity.words), units[unit] if unit in units else unit_words(unit, words), *values))
    won = "\n".join(paragraph(words(text)) for text in trades(options))
    parts = [
        grid(cells, left=2) if laid else "",
        won,
        headed(say("Not laid out"), "\n".join(failed), words) if failed else "",
        files_told(written, _USE, words),
    ]
    return "\n\n".join(part for part in parts if part)
