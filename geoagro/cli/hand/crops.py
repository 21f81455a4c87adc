"""`geoagro crops`: what the library knows, and from where."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from geoagro.cli.habits.language import locale_option, words_of
from geoagro.errors import InputError
from geoagro.values.rules.crop_words import MATERIALS, STRATA, stratum_words
from geoagro.values.words import meant, say

if TYPE_CHECKING:
    from collections.abc import Mapping

    from geoagro.outputs.words.say import Words
    from geoagro.values.recipe import Crop

_NEAR = 3
_HIDDEN = ("sources", "name", "like")
_LONG = ("caution", "order_caution")
_SET = {**STRATA, **MATERIALS, "uproot": say("uproot"), "cut": meant("harvest", "cut"), "pick": say("pick")}


@click.command()
@click.argument("name", required=False)
@locale_option(otherwise="English")
def command(name: str | None, locale: str | None) -> None:
    """List the crops and trees of the library, or show one: each value with its unit and its source.

    NAME is a code from the list (sweet_potato), a name or a scientific name. Any value can be changed in the design under
    `crops:`; `geoagro guide crops` explains them.
    """
    from geoagro.cli.columns import grid
    from geoagro.inputs.design.crop_library import read_crop_library

    library, words = read_crop_library(), words_of(locale)
    if name is None:
        heads = (say("code"), say("name"), say("scientific name"), say("stratum"), say("lives"))
        click.echo(grid([[*map(words, heads)], *(_line(code, crop, words) for code, crop in library.items())], left=5))
        return
    code = _found(name, library, words)
    click.echo("\n".join(_page(code, library[code], words)))


def _line(code: str, crop: Crop, words: Words) -> list[str]:
    last = (crop.harvest_weeks or (0, 0))[1]
    lives = (
        words(say("{n} {n:week|weeks}"), n=last) if last < 104 else words(say("{n:.0f} {n:year|years}"), n=last / 52)
    )
    return [code, words.crop(crop.name or code), crop.scientific or "", words(stratum_words(crop.stratum or "")), lives]


def _found(name: str, library: Mapping[str, Crop], words: Words) -> str:
    """Code of the crop that is meant, by a name in English or the reader's language; InputError with the nearest ones else."""
    from difflib import get_close_matches

    names = {words.crop(crop.name or code).lower(): code for code, crop in library.items()}
    names |= {code.replace("_", " "): code for code in library}
    names |= {str(crop.name).lower(): code for code, crop in library.items() if crop.name}
    names |= {str(crop.scientific).lower(): code for code, crop in library.items() if crop.scientific}
    asked = " ".join(name.replace("_", " ").lower().split())
    if asked in names:
        return names[asked]
    near = dict.fromkeys(names[found] for found in get_close_matches(asked, names, _NEAR, 0.6))
    hint = f"did you mean {', '.join(near)}?" if near else "`geoagro crops` lists them."
    raise InputError(f"the library has no crop '{name}'; {hint} Others can be added under `crops:` in the design")


def _page(code: str, crop: Crop, words: Words) -> list[str]:
    """Values with the number of their source, then the sources."""
    from geoagro.cli.columns import grid, paragraph
    from geoagro.inputs.design.schema import unit_of
    from geoagro.outputs.tables.cited import cited
    from geoagro.outputs.tables.column_words import unit_words

    given = crop.model_dump(exclude_none=True, exclude=set(_HIDDEN))
    numbers = {
        source: n for n, source in enumerate(dict.fromkeys(crop.sources[k] for k in given if k in crop.sources), 1)
    }
    rows = [
        (
            key,
            f"{_text(value, words)} {unit_words(unit_of(key), words)}".strip(),
            f"[{numbers[crop.sources[key]]}]" if key in crop.sources else "",
        )
        for key, value in given.items()
        if key not in _LONG
    ]
    warnings = [
        paragraph(f"{words(text)} [{numbers[crop.sources[key]]}]" if key in crop.sources else words(text))
        for key in _LONG
        if (text := given.get(key))
    ]
    sources = [paragraph(f"[{n}] {cited(source, words)}") for source, n in numbers.items()]
    return [
        f"{words.crop(crop.name or code)} ({code})",
        "",
        grid(rows, left=3),
        *(["", *warnings] if warnings else []),
        "",
        *sources,
    ]


def _text(value: Any, words: Words) -> str:
    """Give a value as one writes it in a design, but for numbers and set words, which are as people write them."""
    if isinstance(value, bool):
        return words(say("yes")) if value else words(say("no"))
    if isinstance(value, tuple | list):
        parts = [_text(one, words) for one in value]
        return words.listed(parts) if value and isinstance(value[0], tuple | list) else " - ".join(parts)
    return words.brief(value) if isinstance(value, float) else words(_SET.get(str(value), str(value)))
