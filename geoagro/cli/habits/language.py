"""The language of a command: `--locale`, else the design's own, else English.

A command that writes for people takes `locale_option()` and makes its `Words` once by `words_of`. Writers take them as
`words: Words` and hand them on; whatever is read on paper, picture, sheet or calendar is made last, by
`words(say("... {name} ..."), name=...)` for a whole sentence (one for one, another for many; never glued from parts),
`words.number`, `words.day` and the like for figures. Values and tables keep keys and numbers, files for programs stay
as they are. A command's own lines on the terminal are said likewise, findings by `finding_line`; failures, --help, the guide
and what --json prints are English. A message that isn't a literal where it is said (a field's meaning, a kind of bed) is marked by `say`
where it stands, in one of the rooms that `outputs/words/catalog.py` lists.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.cli.habits.arguments import Decorator
from geoagro.cli.habits.told import Finds, is_quiet, tell_finding
from geoagro.values.words import say

if TYPE_CHECKING:
    from geoagro.outputs.words.say import Words
    from geoagro.values.design import Design

_ELSE = "key `locale` of the design"


def locale_option(*, otherwise: str = _ELSE) -> Decorator:
    """Take the language as --locale; `otherwise` says which holds without it."""
    return click.option(
        "--locale", metavar="CODE", help=f"Language and number format, e.g. en, en_GB, es, pt_BR, fr; else {otherwise}."
    )


def words_of(locale: str | None, design: Design | None = None) -> Words:
    """Make the words of a command, and say on stderr what to know of its language.

    Raises DesignError where the code is no language.
    """
    from geoagro.outputs.words.say import Words

    given = locale if locale is not None else "en" if design is None else design.locale
    words = Words(given, where="locale" if locale is None else "--locale")
    language = words.locale.get_display_name("en")
    if not words.has_texts:
        _note(
            f"texts stay English, as there is no translation into {language} yet; numbers and days follow the language"
        )
    elif not words.is_reviewed:
        _note(f"the texts in {language} haven't been reviewed by a native practitioner yet")
    return words


def say_written(paths: Iterable[Path], words: Words) -> None:
    """Say which files were written, a line for each."""
    for path in paths:
        click.echo(words(say("wrote {path}"), path=str(path)))


def finding_line(finding: Finds, words: Words) -> str:
    """Give a finding in a line: how much it matters, what it is about, and its text."""
    from geoagro.outputs.report.cell_words import LEVELS, about_words

    return words(
        say("{level}: {about}: {finding}"),
        level=words(LEVELS[finding.level]).lower(),
        about=about_words(finding.where, words),
        finding=words.again(finding.text),
    )


def _note(text: str) -> None:
    tell_finding("note", "locale", text)
    if not is_quiet():
        click.echo(f"geoagro: {text}.", err=True)
