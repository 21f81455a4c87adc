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

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.cli.habits.arguments import Decorator
from geoagro.cli.habits.told import Finds, is_quiet, tell_finding
from geoagro.errors import GeoagroError
from geoagro.values.words import say

if TYPE_CHECKING:
    from geoagro.outputs.words.say import Words
    from geoagro.values.design import Design

_ELSE = "key `locale` of the design"


def locale_option(*, otherwise: str = _ELSE) -> Decorator:
    """Take the language as --locale; `otherwise` says which holds without it."""
    meaning = f"Language and number format, e.g. en, en_GB, es, pt_BR, fr; else {otherwise}."
    return click.option("--locale", metavar="CODE", callback=_a_language, help=meaning)


def _a_language(_context: click.Context, _option: click.Parameter, value: str | None) -> str | None:
    """Refuse a code that is no language before any file is read."""
    if value is not None:
        from geoagro.outputs.words.say import Words

        try:
            Words(value, where="--locale")
        except GeoagroError as error:
            raise click.UsageError(str(error)) from error
    return value


def words_of(locale: str | None, design: Design | None = None) -> Words:
    """Make the words of a command, and say on stderr what to know of its language.

    Raises DesignError where the code is no language.
    """
    words = quiet_words(locale, design)
    tell_language(words)
    return words


def tell_language(words: Words) -> None:
    """Say on stderr what to know of a language: that texts stay English, or that no native practitioner has read them."""
    if not words.has_texts:
        _note(
            say(
                "texts stay English, as there is no translation into {language} yet; numbers and days follow the language"
            ),
            words,
        )
    elif not words.is_reviewed:
        _note(say("the texts in {language} haven't been reviewed by a native practitioner yet"), words)


def quiet_words(locale: str | None, design: Design | None = None) -> Words:
    """Make words that leave the design's own names as they are, and say nothing about their language."""
    from geoagro.inputs.design.own_names import crop_names, own_crop_names, own_place_names
    from geoagro.outputs.words.say import Words

    where = "locale" if locale is None else "--locale"
    if design is None:
        return Words(locale or "en", where=where)
    return Words(
        locale or design.locale,
        where=where,
        own_crops=own_crop_names(design),
        crop_names=crop_names(design),
        own_places=own_place_names(design),
    )


def design_and_words(design_file: Path, locale: str | None) -> tuple[Design, Words]:
    """Read a design, and make the words of a command that works on it."""
    from geoagro.inputs.design.file import read_design

    design = read_design(design_file)
    return design, words_of(locale, design)


def spoken(design_file: Path, locale: str | None) -> Words:
    """Make words without a word about them, for commands that go on for long; English where the design can't be read."""
    from geoagro.inputs.design.file import read_design
    from geoagro.outputs.words.say import Words

    try:
        return quiet_words(locale, read_design(design_file))
    except GeoagroError:
        return Words() if locale is None else Words(locale, where="--locale")


def titled(title: str) -> str:
    """Give a title, underlined."""
    return f"{title}\n" + "=" * len(title)


def headed(head: str, body: str, words: Words) -> str:
    """Put a head, a message, over lines."""
    return f"{words(head)}\n{body}"


def files_told(paths: Iterable[Path], uses: Mapping[str, str], words: Words) -> str:
    """List files that were written, each with what it is for; `uses` by the files' names."""
    lines = (f"  {path}\n    {words(uses[path.name]) if path.name in uses else ''}".rstrip() for path in paths)
    return headed(say("Result"), "\n".join(lines), words)


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


def _note(message: str, words: Words) -> None:
    language = words.locale.get_display_name("en")
    tell_finding("note", "locale", message.format(language=language))
    if not is_quiet():
        own = words.locale.get_display_name() if words.has_texts else language
        click.echo(f"geoagro: {words(message, language=own)}.", err=True)
