"""`geoagro guide`: the pages of the guide, read without network."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable

import click

from geoagro.errors import InputError


@click.command()
@click.argument("topic", required=False)
def command(topic: str | None) -> None:
    """Print a page of the guide, or the list of its pages.

    TOPIC is a name from the list, e.g. `geoagro guide rows`. The guide is in English.
    """
    pages = _pages()
    if topic is None:
        click.echo("Pages of the guide; `geoagro guide TOPIC` prints one.\n")
        width = max(map(len, pages))
        click.echo("\n".join(f"  {name:{width}}  {_title(page)}" for name, page in pages.items()))
    elif topic in pages:
        click.echo_via_pager(pages[topic].read_text(encoding="utf-8"))
    else:
        raise InputError(f"the guide has no page '{topic}'; its pages are {', '.join(pages)}")


def _pages() -> dict[str, Traversable]:
    """Pages by topic, in alphabetical order."""
    found = (page for page in files("geoagro").joinpath("guide").iterdir() if page.name.endswith(".md"))
    return {page.name.removesuffix(".md"): page for page in sorted(found, key=lambda page: page.name)}


def _title(page: Traversable) -> str:
    """First heading of a page."""
    return page.read_text(encoding="utf-8").splitlines()[0].lstrip("# ")
