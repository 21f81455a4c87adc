"""`geoagro batch`: many fields laid out one by one."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.cli.habits.arguments import folder_option
from geoagro.cli.habits.language import locale_option, quiet_words, say_written, spoken, tell_language
from geoagro.cli.habits.told import tell_figures, tell_files
from geoagro.errors import InputError
from geoagro.values.words import say

if TYPE_CHECKING:
    from geoagro.outputs.words.say import Words
    from geoagro.values.results.field_result import FieldResult

FIELDS = "fields"
_TELL_EVERY_S = 10.0
_TOLD = 20


@click.command("batch")
@click.argument("source", type=click.Path(path_type=Path))
@click.option("--design", "shared", type=click.Path(path_type=Path), help="Design that all fields of a layer share.")
@click.option("--layer", help="Layer of SOURCE that holds the fields, where there are several.")
@click.option("--where", help="Takes only some fields of the layer, e.g. \"region = 'north'\".")
@click.option("--name-column", default="name", show_default=True, help="Column with the fields' names.")
@folder_option(words="Folder for the result; needed for a layer, else SOURCE.")
@click.option("--workers", type=click.IntRange(1, 1024), help="Processes of this machine; else one per processor.")
@click.option("--scheduler", help="Address of a Dask scheduler, e.g. tcp://10.0.0.5:8786, instead of own processes.")
@locale_option(otherwise="key `locale` of each design")
def command(  # noqa: PLR0917
    source: Path,
    shared: Path | None,
    layer: str | None,
    where: str | None,
    name_column: str,
    output: Path | None,
    workers: int | None,
    scheduler: str | None,
    locale: str | None,
) -> None:
    """Lay out many fields: those of a layer (SOURCE) by a shared --design, or every design in a folder.

    In a layer, a column that is called like a key of the design, such as rows.spacing_m, sets it for its field. Each
    field gets a folder with its own design.yaml and result, so that every other command works on it. Writes fields.csv
    (a line per field, as it goes), portfolio.gpkg, and portfolio/ as GeoParquet that `geoagro portfolio` adds up.

    Run again, it goes on where it was stopped: fields whose design, files and program are the same aren't laid out again.
    One broken field doesn't stop the others; its line says why.
    """
    from geoagro.cli.holding import hold
    from geoagro.cli.many.own_designs import designs_of_layer
    from geoagro.outputs.portfolio.store import GEOPACKAGE, TABLE, write_progress, write_store
    from geoagro.values.design import VectorSource

    if source.is_dir() and shared is not None:
        raise click.UsageError("--design is for a layer of fields; designs in a folder are complete")
    if not source.is_dir() and (shared is None or output is None):
        raise click.UsageError("a layer of fields needs --design (what they share) and --output (a folder)")
    if locale is not None:
        quiet_words(locale)  # refused now, not field by field
    root = output or source
    hold(root, [TABLE, GEOPACKAGE])
    if shared is None:
        jobs = _designs(source)
    else:
        asked = VectorSource(file=source.absolute(), layer=layer, where=where)
        jobs = designs_of_layer(asked, shared, root / FIELDS, name_column=name_column)
    words = spoken(jobs[0], locale)
    tell_language(words)  # once, not field by field
    results = _Results(jobs, words)
    told = time.monotonic()
    for job, result in _run(jobs, root, workers=workers, scheduler=scheduler, locale=locale, words=words):
        click.echo(results.add(job, result), err=True)
        if time.monotonic() - told > _TELL_EVERY_S:
            write_progress(results.ordered(), root)
            told = time.monotonic()
    written = write_store(results.ordered(), root, words)
    tell_files(written)
    tell_figures({"fields": len(jobs), "failed": len(results.failed)})
    click.echo(results.summary())
    say_written(written[:2], words)
    message = say("wrote {path} ({n} {n:part|parts}); `geoagro portfolio {folder}` adds it up")
    click.echo(words(message, path=str(written[-1].parents[1]), n=len(written) - 2, folder=str(root)))
    if results.failed:
        click.get_current_context().exit(1)


def _designs(folder: Path) -> list[Path]:
    from geoagro.inputs.design.own_file import design_files

    found = list(design_files(folder))
    if not found:
        raise InputError(
            f"{folder}: holds no designs (design.yaml in folders below it, or *.yaml). Name a folder of designs, or a layer "
            "of fields with --design."
        )
    return found


def _run(
    jobs: list[Path], root: Path, *, workers: int | None, scheduler: str | None, locale: str | None, words: Words
) -> Iterator[tuple[Path, FieldResult]]:
    from geoagro.cli.many.one_field import lay_one
    from geoagro.cli.many.runners import in_processes, on_cluster

    lay = partial(lay_one, locale=locale)
    if scheduler is not None:
        alone = words(say("no worker is connected to {address}; waiting until one is"), address=scheduler)
        tell_alone = partial(click.echo, f"geoagro: {alone}", err=True)
        return on_cluster(jobs, root, scheduler=scheduler, lay=lay, tell_alone=tell_alone)
    return in_processes(jobs, root, workers=min(workers or os.cpu_count() or 1, len(jobs)), lay=lay)


class _Results:
    """Results so far, by job, and how far the work is."""

    def __init__(self, jobs: list[Path], words: Words) -> None:
        self.jobs, self.words, self.begin = jobs, words, time.monotonic()
        self.found: dict[Path, FieldResult] = {}
        self.worked = 0

    def add(self, job: Path, result: FieldResult) -> str:
        """Take a result and tell it in a line, with the time that is left where that can be told."""
        self.found[job] = result
        kept = result.seconds > time.monotonic() - self.begin
        self.worked += not kept
        left = len(self.jobs) - len(self.found)
        told = {"number": len(self.found), "all": len(self.jobs), "name": result.field}
        if result.status != "done":
            return self.words(say("{number} of {all}: {text}"), **told, text=self._failed(result))
        told |= {"seconds": result.seconds}
        if not (left and self.worked):
            return self.words(say("{number} of {all}: {name}: {seconds:.1f} s"), **told)
        ahead = (time.monotonic() - self.begin) / self.worked * left
        message = say("{number} of {all}: {name}: {seconds:.1f} s; about {time} left")
        return self.words(message, **told, time=_duration(ahead, self.words))

    def _failed(self, result: FieldResult) -> str:
        message = say("{name}: failed: {why}") if result.status == "failed" else say("{name}: died: {why}")
        return self.words(message, name=result.field, why=result.problem)

    def ordered(self) -> list[FieldResult]:
        """Results in the order of the source, whatever came first."""
        return [self.found[job] for job in self.jobs if job in self.found]

    @property
    def failed(self) -> list[FieldResult]:
        """Fields that weren't laid out."""
        return [result for result in self.ordered() if result.status != "done"]

    def summary(self) -> str:
        """Say how many fields came to what."""
        done = [result for result in self.ordered() if result.status == "done"]
        planted = sum(result.figures["planted_m2"] for result in done) / 1e4
        message = say("{n} of {all} fields laid out, {area:.2f} ha planted")
        text = self.words(message, n=len(done), all=len(self.jobs), area=planted)
        return text + "".join(f"\n  {self._failed(result)}" for result in self.failed[:_TOLD])


def _duration(seconds: float, words: Words) -> str:
    if seconds < 90:
        return words("{n:.0f} s", n=seconds)
    return words("{n:.0f} min", n=seconds / 60) if seconds < 5400 else words("{n:.1f} h", n=seconds / 3600)
