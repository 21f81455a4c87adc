"""Names and notes that come from users are text in every file: never a formula, never markup, never a path."""

from __future__ import annotations

import html
import re
import unicodedata
from typing import Any

import pandas as pd

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the beginning of a formula (from memory of the usual advice on CSV injection)."""

_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
_LONGEST_BYTES = 120


def guarded(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would take for a formula; numbers stay.

    >>> guarded("=1+1"), guarded("-4.5"), guarded("apple")
    ("'=1+1", '-4.5', 'apple')
    """
    text = printable(text)
    if not text.startswith(FORMULA_SIGNS):
        return text
    try:
        float(text)
    except ValueError:
        return f"'{text}"
    return text


def guarded_table(table: pd.DataFrame) -> pd.DataFrame:
    """Guard all texts of a table, in columns as in their names."""
    texts = table.select_dtypes(include=["object", "string"]).columns
    done: dict[Any, Any] = {name: [guarded(v) if isinstance(v, str) else v for v in table[name]] for name in texts}
    return table.assign(**done)


def printable(text: str) -> str:
    r"""Take out what no table, page or XML may hold: control characters and halves of letters.

    >>> printable("a\x07b\ud800c\n")
    'abc\n'
    """
    return "".join(c for c in text if c in "\t\n\r" or unicodedata.category(c) not in {"Cc", "Cs"})


def as_markup(text: str) -> str:
    """Text for a place that viewers read as markup, such as the description of a place in KML.

    >>> as_markup("<b>]]>")
    '&lt;b&gt;]]&gt;'
    """
    return html.escape(printable(text), quote=False)


def file_stem(text: str) -> str:
    """Name of a file, without its ending, that every system takes.

    >>> file_stem('a/b:c*. '), file_stem("con"), file_stem("...")
    ('a_b_c_', '_con', 'unnamed')
    """
    plain = re.sub(r'[<>:"/\\|?*\x00-\x1f\x7f]', "_", printable(text)).strip(" .")
    while len(plain.encode()) > _LONGEST_BYTES:
        plain = plain[:-1]
    plain = plain.strip(" .") or "unnamed"
    return f"_{plain}" if _RESERVED.fullmatch(plain) else plain
