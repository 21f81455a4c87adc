"""The catalog of texts (gettext template) that translators start from, collected from the code itself."""

from __future__ import annotations

import io
from pathlib import Path

from babel.messages import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import write_po

_KEYWORDS = {"say": None, "Caution": None, "Field": (3,), "LayerSpec": (2,)}
_ROOMS = (
    "values/reasons.py",
    "values/report.py",
    "values/layout.py",
    "reports/**/*.py",
    "water/criteria.py",
    "water/records/words.py",
    "outputs/**/*.py",
)
_HEADER = "# Texts of geoagro's reports and maps. Save your translation beside this file as LANGUAGE.po, e.g. pt_BR.po."


def catalog_text(package: Path) -> str:
    """Write the catalog of all texts in the package; the same code gives the same catalog."""
    catalog = Catalog(project="geoagro", header_comment=_HEADER, charset="utf-8")
    methods = [(room, "python") for room in _ROOMS]
    for name, line, message, _comments, context in extract_from_dir(
        package, methods, {}, keywords=_KEYWORDS, directory_filter=lambda _: True
    ):
        if message:
            catalog.add(message, locations=[(name, line)], context=context)
    file = io.BytesIO()
    write_po(file, catalog, width=100, omit_header=True, sort_output=True, no_location=True)
    header = f'{_HEADER}\nmsgid ""\nmsgstr ""\n"MIME-Version: 1.0\\n"\n"Content-Type: text/plain; charset=utf-8\\n"\n\n'
    return header + file.getvalue().decode("utf-8")
