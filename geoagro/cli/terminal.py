"""Progress for people: a bar per step on a terminal, one line per step anywhere else; always on stderr."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from geoagro.cli.habits.told import is_quiet
from geoagro.values.progress import Progress

if TYPE_CHECKING:
    from geoagro.outputs.words.say import Words

_PARTS = 100
_LABEL_WIDTH = 34


@contextmanager
def shown_progress(words: Words) -> Iterator[Progress]:
    """Give a Progress that shows where the work is, in words; the last bar is closed when the block ends."""
    steps = _Nothing() if is_quiet() else _Bars(words) if sys.stderr.isatty() else _Lines(words)
    try:
        yield steps
    finally:
        steps.close()


class _Nothing:
    """Silence, for --quiet."""

    def __call__(self, what: str, share: float) -> None:
        """Say nothing."""

    def close(self) -> None:
        """Nothing is left open."""


class _Lines:
    """One line per step, for logs and pipes."""

    def __init__(self, words: Words) -> None:
        self.words, self.what = words, ""

    def __call__(self, what: str, _share: float) -> None:
        """Print a step once, when it begins."""
        if what != self.what:
            click.echo(self.words(what), err=True)
        self.what = what

    def close(self) -> None:
        """Nothing is left open."""


class _Bars:
    """One bar per step, with the time it took."""

    def __init__(self, words: Words) -> None:
        self.words, self.what = words, ""
        self.bar: Any = None

    def __call__(self, what: str, share: float) -> None:
        """Move the step's bar; a new step closes the bar before it, full."""
        if what != self.what:
            self._finish()
            self._open(what)
        self._reach(share)

    def close(self) -> None:
        """Leave the last bar where it is and go to the next line."""
        if self.bar is not None:
            self.bar.render_finish()
            self.bar = None

    def _open(self, what: str) -> None:
        self.what = what
        self.bar = click.progressbar(
            length=_PARTS, label=self.words(what).ljust(_LABEL_WIDTH), file=sys.stderr, width=24, show_eta=False
        )
        self.bar.render_progress()

    def _reach(self, share: float) -> None:
        steps = int(min(max(share, 0.0), 1.0) * _PARTS) - self.bar.pos
        if steps > 0:
            self.bar.update(steps)

    def _finish(self) -> None:
        if self.bar is not None:
            self._reach(1.0)
        self.close()
