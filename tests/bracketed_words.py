"""A made-up language in which every message stands in brackets, so that what isn't translated shows."""

from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from geoagro.outputs.words.say import CATALOGS


def write_bracketed(folder: Path) -> Path:
    """Write eo.po into a folder of catalogs; return the folder."""
    with (CATALOGS / "geoagro.pot").open("rb") as file:
        template = read_po(file)
    catalog = Catalog(locale="eo")
    for message in template:
        if message.id:
            catalog.add(message.id, f"«{message.id}»", context=message.context)
    with (folder / "eo.po").open("wb") as file:
        write_po(file, catalog)
    return folder
