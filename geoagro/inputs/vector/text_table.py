"""Tables in plain text, read line by line so that every mistake is told with its line."""

from __future__ import annotations

import csv
import io
import math
from pathlib import Path
from typing import Any

import pandas as pd

from geoagro.errors import InputError

MOST_COLUMNS = 500
"""Receivers write some twenty; what has more isn't a table of points. Our own choice."""

LINE = "line of the file"
"""Index name: the line (from 1) that each row of the table comes from."""


def read_text(path: Path, *, where: str) -> str:
    """Text of a file in UTF-8, without its byte order mark.

    Raises InputError where it is none, or holds zero bytes.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{where}: isn't text in UTF-8; save it as UTF-8.") from error
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise InputError(f"{where}: line {line}: holds zero bytes, so it isn't text or was cut off. Copy it again.")
    return text


def table_of(text: str, *, where: str) -> Any:
    """Frame of texts (None where empty) of a table whose first line names the columns, indexed by line (`LINE`).

    Columns are separated by comma, semicolon or tab. Blank lines and lines that begin with # are left out.

    Raises InputError naming the line that has more fields than the head, or that can't be parted.
    """
    first = text.lstrip().splitlines()[0] if text.strip() else ""
    separator = max(";\t,", key=first.count)
    if separator not in first:
        raise InputError(f"{where}: the first line must name columns separated by , or ; (found '{first[:60]}').")
    lines = _fields(text, separator, where)
    names = _unlike([name.strip() for name in lines[0][1]])
    return _frame(names, lines[1:], where)


def listed(text: str, names: list[str], *, where: str) -> Any:
    """Do the same for a list without a head, whose columns come in a known order; further ones are numbered."""
    lines = _fields(text, ",", where)
    widest = max((len(fields) for _, fields in lines), default=0)
    return _frame([*names, *(str(k) for k in range(len(names), widest))], lines, where)


def number(text: str | None, *, comma: bool = False) -> float:
    """Read the number in a field; NaN where there is none.

    >>> number(" 12.5 "), number("12,5", comma=True), number("twelve")
    (12.5, 12.5, nan)
    """
    try:
        found = float((text or "").replace(",", ".") if comma else text or "")
    except ValueError:
        return math.nan
    return found if math.isfinite(found) else math.nan


def _fields(text: str, separator: str, where: str) -> list[tuple[int, list[str]]]:
    """Line number and fields of every line that says something."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, skipinitialspace=True)
    found = []
    try:
        for fields in reader:
            while fields and not fields[-1].strip():
                fields.pop()
            if len(fields) > MOST_COLUMNS:
                raise InputError(
                    f"{where}: line {reader.line_num}: has {len(fields):,} columns; at most {MOST_COLUMNS}."
                )
            if fields and not fields[0].startswith("#"):
                found.append((reader.line_num, fields))
    except csv.Error as error:
        raise InputError(f"{where}: line {reader.line_num}: isn't a table ({error}). Look at its quotes.") from error
    if not found:
        raise InputError(f"{where}: holds no line that says anything.")
    return found


def _unlike(names: list[str]) -> list[str]:
    """Give names that stand twice a number, but for columns of coordinates, where it has to be told."""
    seen: dict[str, int] = {}
    for place, name in enumerate(names):
        seen[name] = seen.get(name, 0) + 1
        if seen[name] > 1:
            names[place] = f"{name} ({seen[name]})"
    return names


def _frame(names: list[str], lines: list[tuple[int, list[str]]], where: str) -> Any:
    for line, fields in lines:
        if len(fields) > len(names):
            raise InputError(
                f"{where}: line {line}: has {len(fields)} fields where the first line names {len(names)}. Put texts that hold "
                "the separator in quotes, or name every column."
            )
    if not lines:
        raise InputError(f"{where}: holds nothing below its first line.")
    rows = [[*(f.strip() or None for f in fields), *[None] * (len(names) - len(fields))] for _, fields in lines]
    return pd.DataFrame(rows, columns=names, index=pd.Index([line for line, _ in lines], name=LINE), dtype=object)
