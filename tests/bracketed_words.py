"""A made-up language in which every message stands in brackets, so that what isn't translated shows."""

from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from geoagro.outputs.words.say import CATALOGS


def write_bracketed(folder: Path, language: str = "eo", marks: str = "«»") -> Path:
    """Write a language's catalog into a folder of catalogs; return the folder."""
    with (CATALOGS / "geoagro.pot").open("rb") as file:
        template = read_po(file)
    catalog = Catalog(locale=language)
    for message in template:
        if message.id:
            catalog.add(message.id, f"{marks[0]}{message.id}{marks[1]}", context=message.context)
    with (folder / f"{language}.po").open("wb") as file:
        write_po(file, catalog)
    return folder
