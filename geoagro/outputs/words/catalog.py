"""The catalog of texts (gettext template) that translators start from, collected from the code itself."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from babel.messages import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import write_po

from geoagro.outputs.tables.cells import WORKBOOK_TABLES
from geoagro.outputs.tables.column_words import plain_heads
from geoagro.outputs.words.say import CROP
from geoagro.outputs.written_layers import DRAWN_LAYERS, WRITTEN_LAYERS
from geoagro.season.records.tables import SEASON_TABLES

_SAID: dict[str, Any] = {"say": None, "meant": ((1, "c"), 2), "Sentence": None, "Caution": None, "progress": (1,)}
_KEYWORDS = {**_SAID, "Field": (3,), "LayerSpec": (2,)}
_ROOMS = (
    "values/reasons.py",
    "values/report.py",
    "values/layout.py",
    "reports/**/*.py",
    "water/criteria.py",
    "water/records/words.py",
    "outputs/**/*.py",
)
"""Where messages stand, meanings of columns among them."""
_SAYING_ROOMS = tuple(
    f"{room}/**/*.py"
    for room in (
        "values",
        "beds",
        "cli",
        "ground",
        "inputs",
        "light",
        "pipeline",
        "plants",
        "rows",
        "season",
        "stakeout",
        "terrain",
        "water",
        "yields",
    )
)
"""Where only marked ones do; the season's columns are taken from its tables, as some are made in threes."""
_HEADER = "# Texts of geoagro's reports and maps. Save your translation beside this file as LANGUAGE.po, e.g. pt_BR.po."
_TO_SAY = re.compile(r"[^\W\d_]|[:;%]( |$)")
"""What makes a message one to translate: a letter, or a mark before which languages want a space, or none."""
_LIBRARY_WORDS = re.compile(r"^  (name|caution|order_caution): (.+)$", re.MULTILINE)


def catalog_text(package: Path) -> str:
    """Write the catalog of all texts in the package and of the library's crops; the same code gives the same catalog."""
    catalog = Catalog(project="geoagro", header_comment=_HEADER, charset="utf-8")
    for rooms, keywords in ((_ROOMS, _KEYWORDS), (_SAYING_ROOMS, _SAID)):
        methods = [(room, "python") for room in rooms]
        for name, line, message, _comments, context in extract_from_dir(
            package, methods, {}, keywords=keywords, directory_filter=lambda _: True
        ):
            if message and _TO_SAY.search(re.sub(r"\{[^}|]*\}", "", str(message))):
                catalog.add(message, locations=[(name, line)], context=context)
    for text in (*_season_tables(), *_account_tables(), *_viewer_tables()):
        catalog.add(text)
    for key, text in _library(package / "inputs" / "design" / "library"):
        catalog.add(text, context=CROP if key == "name" else None)
    file = io.BytesIO()
    write_po(file, catalog, width=100, omit_header=True, sort_output=True, no_location=True)
    header = f'{_HEADER}\nmsgid ""\nmsgstr ""\n"MIME-Version: 1.0\\n"\n"Content-Type: text/plain; charset=utf-8\\n"\n\n'
    return header + file.getvalue().decode("utf-8")


def _season_tables() -> Iterator[str]:
    """Meanings of columns, with the titles of the tables."""
    for spec in SEASON_TABLES:
        yield spec.title
        yield from (field.description for field in spec.fields)


def _viewer_tables() -> Iterator[str]:
    """Titles of layers, heads that are made of columns' names, and what columns of drawn layers mean."""
    yield from (spec.title for spec in WRITTEN_LAYERS)
    yield from (field.description for spec in DRAWN_LAYERS for field in spec.fields)
    yield from plain_heads((*WRITTEN_LAYERS, *WORKBOOK_TABLES, *SEASON_TABLES))


def _account_tables() -> Iterator[str]:
    """Meanings of columns."""
    for spec in WORKBOOK_TABLES:
        yield from (field.description for field in spec.fields)


def _library(library: Path) -> Iterator[tuple[str, str]]:
    """Names and cautions of the crops that come with the package, each with its key."""
    for file in sorted(library.glob("*.yaml")):
        for key, text in _LIBRARY_WORDS.findall(file.read_text(encoding="utf-8")):
            yield key, text.strip('"')
