"""The catalog of texts (gettext template) that translators start from, collected from the code itself."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path

from babel.messages import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import write_po

_KEYWORDS = {"say": None, "tell": (1,), "Caution": None, "Field": (3,), "LayerSpec": (2,)}
_ROOMS = (
    "values/reasons.py",
    "values/report.py",
    "values/layout.py",
    "reports/**/*.py",
    "water/criteria.py",
    "water/records/words.py",
    "outputs/**/*.py",
)
_SPOKEN_KEYWORDS = {"say": None, "tell": (1,)}
_SPOKEN = ("stakeout/**/*.py", "values/stakeout.py")
"""Where only what is marked is printed: what columns of data hold isn't."""
_HEADER = "# Texts of geoagro's reports and maps. Save your translation beside this file as LANGUAGE.po, e.g. pt_BR.po."


def catalog_text(package: Path) -> str:
    """Write the catalog of all texts in the package and of the library's crops; the same code gives the same catalog."""
    catalog = Catalog(project="geoagro", header_comment=_HEADER, charset="utf-8")
    for rooms, keywords in ((_ROOMS, _KEYWORDS), (_SPOKEN, _SPOKEN_KEYWORDS)):
        methods = [(room, "python") for room in rooms]
        for name, line, message, _comments, context in extract_from_dir(
            package, methods, {}, keywords=keywords, directory_filter=lambda _: True
        ):
            if message:
                catalog.add(message, locations=[(name, line)], context=context)
    for name in _crop_names(package / "inputs" / "design" / "library"):
        catalog.add(name)
    file = io.BytesIO()
    write_po(file, catalog, width=100, omit_header=True, sort_output=True, no_location=True)
    header = f'{_HEADER}\nmsgid ""\nmsgstr ""\n"MIME-Version: 1.0\\n"\n"Content-Type: text/plain; charset=utf-8\\n"\n\n'
    return header + file.getvalue().decode("utf-8")


def _crop_names(library: Path) -> Iterator[str]:
    for file in sorted(library.glob("*.yaml")):
        yield from re.findall(r"^  name: (.+)$", file.read_text(encoding="utf-8"), re.MULTILINE)
