"""`geoagro watch`: lay out again whenever the design or a file that it names is saved."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.cli.habits.arguments import design_argument, folder_option
from geoagro.cli.habits.language import locale_option, quiet_words, spoken, words_of
from geoagro.cli.habits.told import (
    is_json,
    tell_event,
    tell_figure,
    tell_files,
    tell_finding,
    tell_findings,
    tell_measures,
)
from geoagro.errors import GeoagroError, InputError, OutputError
from geoagro.inputs.design.located import located
from geoagro.values.progress import Progress
from geoagro.values.words import say

if TYPE_CHECKING:
    from geoagro.outputs.words.say import Words
    from geoagro.values.design import Design

POLL_S = 0.25


class SavedAgainError(Exception):
    """A file was saved while the work for its last state went on."""


@dataclass
class Watched:
    """Files that a design names, with their times and sizes when they were last looked at."""

    design_file: Path
    stamps: dict[Path, tuple[int, int]] = field(default_factory=dict)

    def look(self) -> None:
        """Remember all files as they are now; a design that can't be read is watched with the files known before."""
        from geoagro.inputs.design.file import read_design
        from geoagro.inputs.site import named_files

        try:
            paths = [self.design_file, *named_files(read_design(self.design_file))]
        except GeoagroError:
            paths = [self.design_file, *self.stamps]
        self.stamps = {path: _stamp(path) for path in paths}

    def look_at_own(self, folder: Path) -> None:
        """Remember files in a result folder as they are now: what a run wrote itself is no reason for another."""
        own = [path for path in self.stamps if path.resolve().parent == folder.resolve() and path != self.design_file]
        self.stamps |= {path: _stamp(path) for path in own}

    def changed(self) -> list[Path]:
        """Files that differ from when they were last looked at."""
        return [path for path, stamp in self.stamps.items() if _stamp(path) != stamp]


def _stamp(path: Path) -> tuple[int, int]:
    """Time of the last save and size, of the file and what a GeoPackage keeps beside it; noughts where it isn't there."""
    time_ns = size = 0
    for part in (path, path.with_name(path.name + "-wal")):
        try:
            found = part.stat()
        except OSError:
            continue
        time_ns, size = max(time_ns, found.st_mtime_ns), size + found.st_size
    return time_ns, size


@click.command("watch")
@design_argument("design_file")
@folder_option()
@click.option("--rows-only", is_flag=True, help="Lay tree rows only, without beds and plants.")
@locale_option()
def command(design_file: Path, output: Path | None, *, rows_only: bool, locale: str | None) -> None:
    """Lay out the field of DESIGN now, and again whenever DESIGN or a file that it names is saved; Ctrl+C ends it.

    First come quick rows as a picture (rows.png), then the whole layout as a picture (layout.png), then layout.gpkg, with
    the same result as `geoagro layout`. With --json every event is a line. Both pictures come even while a viewer holds layout.gpkg. Saved again meanwhile, the work starts anew. A file that can't be read says why, and the last
    good result stays.
    """
    if not design_file.is_file():
        raise InputError(
            f"{design_file} isn't there, or is no file. `geoagro new FOLDER` writes a design to start from."
        )
    if locale is not None:
        words_of(locale)  # refused now, not after the first round
    watched, words = Watched(design_file), spoken(design_file, locale)
    text = words(say("Watching {design} and the files that it names; Ctrl+C ends it."), design=str(design_file))
    tell_event("watching", text)
    try:
        while True:
            watched.look()
            _round(watched, output, rows_only=rows_only, locale=locale)
            _wait(watched, words)
    except KeyboardInterrupt:
        tell_event("ended", words(say("Ended.")))


def _wait(watched: Watched, words: Words) -> None:
    """Wait for a save, then until nothing is saved for a moment, since programs save in several steps."""
    while not watched.changed():
        time.sleep(POLL_S)
    names = ", ".join(sorted({path.name for path in watched.changed()}))
    tell_event("saved", "\n" + words(say("{files} saved"), files=names))
    quiet = False
    while not quiet:
        watched.look()
        time.sleep(POLL_S)
        quiet = not watched.changed()


def _round(watched: Watched, output: Path | None, *, rows_only: bool, locale: str | None) -> None:
    """Lay out once: quick rows, then all; a failure is told and leaves the last result."""
    begin = time.monotonic()
    last = [begin]

    def progress(step: str, share: float) -> None:  # noqa: ARG001
        if time.monotonic() - last[0] >= POLL_S:
            last[0] = time.monotonic()
            if watched.changed():
                raise SavedAgainError

    try:
        with located(watched.design_file):
            for path in _steps(watched.design_file, output, progress, rows_only=rows_only, locale=locale):
                seconds = time.monotonic() - begin
                tell_files([path])
                tell_figure("seconds", round(seconds, 1), "s")
                words = spoken(watched.design_file, locale)
                tell_event(
                    "written", words("{seconds} s  {path}", seconds=words.number(seconds, 1).rjust(5), path=str(path))
                )
                watched.look_at_own(path.parent)
    except SavedAgainError:
        return
    except OutputError as error:
        _failed(watched, error, say("The pictures are new; close the file and save again to renew the rest."), locale)
    except GeoagroError as error:
        _failed(watched, error, say("The last good result stays."), locale)


def _failed(watched: Watched, error: GeoagroError, message: str, locale: str | None) -> None:
    """Say on stderr why a round failed; programs that read along get it as an event."""
    stays = spoken(watched.design_file, locale)(message)
    if is_json():
        tell_finding("failure", watched.design_file.name, str(error))
        tell_event("failed", stays)
    else:
        click.echo(f"geoagro: {error}\n{stays}", err=True)


def _steps(
    design_file: Path, output: Path | None, progress: Progress, *, rows_only: bool, locale: str | None = None
) -> Iterator[Path]:
    """Files in the order in which they are new: quick rows, the whole layout as a picture, then all of it."""
    yield _quick_rows(design_file, output, progress, locale)
    if rows_only:
        return
    from geoagro import pipeline
    from geoagro.cli.layout import tell_layout, write_laid
    from geoagro.inputs.design.file import read_design
    from geoagro.outputs.layout.files import check_result_folder, write_first_picture

    design = read_design(design_file)
    words = _words(locale, design)
    folder = output or design.folder / design.output.folder
    laid = pipeline.layout(design, progress=progress)
    yield write_first_picture(laid, folder, words)
    check_result_folder(folder)
    done = write_laid(laid, design_file, folder, progress, words)
    tell_layout(done)
    yield done.written[0]


def _quick_rows(design_file: Path, output: Path | None, progress: Progress, locale: str | None) -> Path:
    from geoagro import pipeline
    from geoagro.inputs.design.file import read_design
    from geoagro.inputs.raster.ground_source import read_ground_source
    from geoagro.inputs.site import read_site
    from geoagro.outputs.rows.files import write_quick_picture

    design = read_design(design_file)
    quick = design.model_copy(update={"rows": design.rows.model_copy(update={"thorough": False})})
    site = read_site(quick)
    plan = pipeline.rows_of(quick, site, read_ground_source(quick, site), progress=progress)
    tell_measures(plan.quality)
    tell_findings([*plan.site.findings, *plan.ground.findings, *plan.rows.findings])
    return write_quick_picture(plan, output or design.folder / design.output.folder, _words(locale, design))


def _words(locale: str | None, design: Design) -> Words:
    """Make the words of a round, silently: what to know of a language was told when the watch began."""
    return quiet_words(locale, design)
