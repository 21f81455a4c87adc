"""`geoagro crops`: what the library knows, and from where."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from geoagro.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from geoagro.values.recipe import Crop

_NEAR = 3
_HIDDEN = ("sources", "name", "like")
_LONG = ("caution", "order_caution")


@click.command()
@click.argument("name", required=False)
def command(name: str | None) -> None:
    """List the crops and trees of the library, or show one: each value with its unit and its source.

    NAME is a code from the list (sweet_potato), a name or a scientific name. Any value can be changed in the design under
    `crops:`; `geoagro guide crops` explains them.
    """
    from geoagro.cli.columns import grid
    from geoagro.inputs.design.crop_library import read_crop_library

    library = read_crop_library()
    if name is None:
        click.echo(
            grid([("code", "name", "scientific name", "stratum", "lives"), *map(_line, library.items())], left=5)
        )
        return
    code = _found(name, library)
    click.echo("\n".join(_page(code, library[code])))


def _line(entry: tuple[str, Crop]) -> tuple[str, str, str, str, str]:
    code, crop = entry
    last = (crop.harvest_weeks or (0, 0))[1]
    lives = f"{last} weeks" if last < 104 else f"{last / 52:.0f} years"
    return code, crop.name or code, crop.scientific or "", crop.stratum or "", lives


def _found(name: str, library: Mapping[str, Crop]) -> str:
    """Code of the crop that is meant; InputError with the nearest ones where there is none."""
    from difflib import get_close_matches

    names = {code.replace("_", " "): code for code in library}
    names |= {str(crop.name).lower(): code for code, crop in library.items() if crop.name}
    names |= {str(crop.scientific).lower(): code for code, crop in library.items() if crop.scientific}
    asked = " ".join(name.replace("_", " ").lower().split())
    if asked in names:
        return names[asked]
    near = dict.fromkeys(names[found] for found in get_close_matches(asked, names, _NEAR, 0.6))
    hint = f"did you mean {', '.join(near)}?" if near else "`geoagro crops` lists them."
    raise InputError(f"the library has no crop '{name}'; {hint} Others can be added under `crops:` in the design")


def _page(code: str, crop: Crop) -> list[str]:
    """Values with the number of their source, then the sources."""
    from geoagro.cli.columns import grid, paragraph
    from geoagro.inputs.design.schema import unit_of

    given = crop.model_dump(exclude_none=True, exclude=set(_HIDDEN))
    numbers = {
        source: n for n, source in enumerate(dict.fromkeys(crop.sources[k] for k in given if k in crop.sources), 1)
    }
    rows = [
        (
            key,
            f"{_text(value)} {unit_of(key)}".strip(),
            f"[{numbers[crop.sources[key]]}]" if key in crop.sources else "",
        )
        for key, value in given.items()
        if key not in _LONG
    ]
    warnings = [
        paragraph(f"{crop_text} [{numbers[crop.sources[key]]}]" if key in crop.sources else crop_text)
        for key in _LONG
        if (crop_text := given.get(key))
    ]
    sources = [paragraph(f"[{n}] {source}") for source, n in numbers.items()]
    return [
        f"{crop.name or code} ({code})",
        "",
        grid(rows, left=3),
        *(["", *warnings] if warnings else []),
        "",
        *sources,
    ]


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple | list):
        return (
            " - ".join(map(_text, value))
            if not value or not isinstance(value[0], tuple | list)
            else "; ".join(map(_text, value))
        )
    return f"{value:g}" if isinstance(value, float) else str(value)
