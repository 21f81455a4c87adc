"""What a command tells programs: files that it wrote, figures, findings; and whether it speaks to people at all.

A command adds what it found while it runs. With --json its words are kept back and one line of JSON is printed at the end;
with --quiet nothing is, failures aside. The same record serves both, so that no command knows which is asked.
"""

from __future__ import annotations

import functools
import io
import json
import math
import sys
from collections.abc import Callable, Iterable, Mapping
from contextlib import redirect_stdout
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Protocol, TextIO

import click

_JSON, _QUIET = "geoagro.json", "geoagro.quiet"
Plain = float | int | str | bool | None


class Finds(Protocol):
    """A finding: how much it matters, what it is about, and its words."""

    @property
    def level(self) -> str:
        """note, repair, caution or warning."""

    @property
    def where(self) -> str:
        """File, key or place."""

    @property
    def text(self) -> str:
        """The finding in words."""


class Names(Protocol):
    """What a figure is of."""

    @property
    def key(self) -> str:
        """Its name in files."""

    @property
    def written_unit(self) -> str:
        """Its unit in files."""

    def written(self, value: float) -> float:
        """Give a value as files hold it."""


class Counts(Protocol):
    """A figure that was measured."""

    @property
    def quantity(self) -> Names:
        """What it is of."""

    @property
    def at(self) -> float:
        """What it was measured at; NaN where that is nothing."""

    @property
    def value(self) -> float:
        """Its value."""


@dataclass(eq=False)
class Told:
    """What one run told so far."""

    files: list[str] = field(default_factory=list)
    figures: list[dict[str, Plain]] = field(default_factory=list)
    findings: list[dict[str, str]] = field(default_factory=list)

    def forget(self) -> None:
        """Begin anew."""
        self.files, self.figures, self.findings = [], [], []

    def line(self, command: str, words: str, **more: str) -> str:
        """Write it as one line of JSON; no NaN in it, as the standard knows none."""
        told = {"command": command, **more, **asdict(self), "words": words}
        return json.dumps(told, ensure_ascii=False, allow_nan=False)


@dataclass(eq=False)
class _Run:
    """The command that runs: its name, where it prints, and whether it told events, each with a line of its own."""

    command: str = ""
    out: TextIO = field(default_factory=lambda: sys.stdout)
    told_events: bool = False


_NOW = Told()
_RUN = _Run()


def tell_files(paths: Iterable[Path]) -> None:
    """Add files that were written."""
    _NOW.files += [str(path) for path in paths]


def tell_figure(key: str, value: float | str | None, unit: str = "", of: str = "") -> None:
    """Add one figure; `of` says of what there are several, e.g. a crop."""
    of_what = {"of": of} if of else {}
    _NOW.figures.append({"key": key, **of_what, "value": _plain(value), "unit": unit})


def _plain(value: float | str | None) -> Plain:
    """Give a number, text or null; numpy's kinds become plain."""
    if value is None or isinstance(value, str):
        return value
    number = float(value)
    if not math.isfinite(number):
        return None
    return number if isinstance(value, float) else int(number)


def tell_figures(figures: Mapping[str, float | None], unit: str = "", of: str = "") -> None:
    """Add figures that share a unit."""
    for key, value in figures.items():
        tell_figure(key, value, unit, of)


def tell_measures(measures: Iterable[Counts]) -> None:
    """Add measures, each with what it was measured at."""
    for one in measures:
        tell_figure(
            one.quantity.key,
            one.quantity.written(one.value),
            one.quantity.written_unit,
            "" if math.isnan(one.at) else f"{one.at:g}",
        )


def tell_findings(findings: Iterable[Finds]) -> None:
    """Add findings."""
    for one in findings:
        tell_finding(str(one.level), str(one.where), str(one.text))


def tell_finding(level: str, about: str, text: str) -> None:
    """Add one finding."""
    _NOW.findings.append({"severity": level, "about": about, "text": text})


def tell_event(event: str, words: str) -> None:
    """Tell what happened while a command goes on: in words, or as a line of JSON with all that was told since the last."""
    if not is_json():
        click.echo(words)
        return
    print(_NOW.line(_RUN.command, words.strip(), event=event), file=_RUN.out, flush=True)
    _NOW.forget()
    _RUN.told_events = True


def is_json() -> bool:
    """Tell whether programs read along."""
    context = click.get_current_context(silent=True)
    return bool(context and context.meta.get(_JSON))


def is_quiet() -> bool:
    """Tell whether nothing but failures is to be said."""
    context = click.get_current_context(silent=True)
    return bool(context and context.meta.get(_QUIET))


def habit_options() -> list[click.Option]:
    """--quiet and --json, for every command and before its name."""
    return [
        click.Option(
            ["--quiet", "-q"], is_flag=True, expose_value=False, callback=_keeps(_QUIET), help="Say nothing but failures."
        ),
        click.Option(
            ["--json"], is_flag=True, expose_value=False, callback=_keeps(_JSON),
            help="Print result, figures and findings as one line of JSON instead of words; a failure too, on stderr.",
        ),
    ]  # fmt: skip


def _keeps(name: str) -> Callable[[click.Context, click.Parameter, bool], None]:
    def keep(context: click.Context, _option: click.Parameter, value: bool) -> None:
        context.meta[name] = context.meta.get(name, False) or value

    return keep


def with_habits(name: str, command: Callable[..., object]) -> Callable[..., object]:
    """Run a command so that it says what was asked for: words, one line of JSON, or nothing."""

    @functools.wraps(command)
    def run(*given: object, **named: object) -> object:
        context = click.get_current_context(silent=True)  # none where a command is called from Python
        meta = context.meta if context else {}
        _NOW.forget()
        _RUN.command, _RUN.out, _RUN.told_events = name, sys.stdout, False
        if not (meta.get(_JSON) or meta.get(_QUIET)):
            return command(*given, **named)
        words = io.StringIO()
        try:
            with redirect_stdout(words):
                return command(*given, **named)
        finally:
            if meta.get(_JSON) and not _RUN.told_events and (_ended() or _NOW.findings):
                click.echo(_NOW.line(name, words.getvalue().strip()))

    return run


def _ended() -> bool:
    """Tell whether the command came to its end: by itself, or with an exit code of its own."""
    kind = sys.exc_info()[0]
    return kind is None or issubclass(kind, click.exceptions.Exit)
