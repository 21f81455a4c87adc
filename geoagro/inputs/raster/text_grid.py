"""Rasters in plain text: looked through before they are read, since the reader takes a word for zero without telling."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from geoagro.errors import InputError

TEXT_DRIVERS = ("AAIGrid", "GRASSASCIIGrid")

_AT_ONCE = 16_000_000
_OF_NUMBERS = b"0123456789.,+-eE \t\r\n"
_NO_NUMBER = re.compile(rb"(?<!\S)(?!(?:[+-]?(?:nan|inf|1\.#\w+)|\*)(?!\S))\S*[^\s0-9.,+\-eE]\S*", re.IGNORECASE)
_HEAD_LINE = re.compile(rb"\s*[A-Za-z_]+[:\s][^\n]*\n?")


def refuse_torn_text(dataset: Any, path: Path, *, where: str) -> None:
    """Raise InputError where a text raster holds a word among its numbers, or too few or too many of them."""
    wanted, found = dataset.width * dataset.height, 0
    with path.open("rb") as file:
        text = file.read(_AT_ONCE)
        start = 0
        while head := _HEAD_LINE.match(text, start):
            start = head.end()
        line, text = text[:start].count(b"\n") + 1, text[start:]
        while text:
            more = file.read(_AT_ONCE)
            whole, text = _cut(text, last=not more)
            _refuse_words(whole, line, where)
            found, line = found + len(whole.split()), line + whole.count(b"\n")
            text += more
    if found != wanted:
        raise InputError(
            f"{where}: holds {found:,} numbers where its head tells of {dataset.width} columns and {dataset.height} rows "
            f"({wanted:,} cells). Copy it again, or save it as GeoTIFF."
        )


def _cut(text: bytes, *, last: bool) -> tuple[bytes, bytes]:
    """Whole lines, and the rest that goes on in the next part of the file."""
    end = len(text) if last else text.rfind(b"\n") + 1 or len(text)
    return text[:end], text[end:]


def _refuse_words(text: bytes, line: int, where: str) -> None:
    if not text.translate(None, _OF_NUMBERS):
        return
    word = _NO_NUMBER.search(text)
    if word:
        told, at = word[0][:30].decode("ascii", "replace").replace("\0", "?"), text.count(b"\n", 0, word.start())
        raise InputError(f"{where}: line {line + at}: '{told}' is not a number. Put it right, or save the raster anew.")
