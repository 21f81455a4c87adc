"""Pieces that a report's pages are made of, as plain data for `report.typ`: text never becomes markup."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Literal

Block = dict[str, Any]


def heading(text: str, level: int = 1) -> Block:
    """Give a heading."""
    return {"kind": "heading", "level": level, "text": text}


def paragraph(text: str) -> Block:
    """Give a paragraph."""
    return {"kind": "text", "text": text}


def small(text: str) -> Block:
    """Give a paragraph in small grey letters."""
    return {"kind": "small", "text": text}


def bullets(items: Sequence[str]) -> Block:
    """Give a list."""
    return {"kind": "list", "items": list(items)}


def terms(items: Iterable[tuple[str, str]]) -> Block:
    """Give terms and their meanings."""
    return {"kind": "terms", "items": [{"term": term, "meaning": meaning} for term, meaning in items]}


def column(
    head: str,
    *,
    align: Literal["left", "right"] = "right",
    width: int | Literal["auto"] = "auto",
    note: bool = False,
    fixed_mm: float | None = None,
) -> Block:
    """Give a table's column; `width` is a share of what is left of the page, or "auto"; notes are small and grey.

    A column of `fixed_mm` is as wide as that, where what is left for it could be nothing.
    """
    return {"head": head, "align": align, "width": width, "note": note, "fixed_mm": fixed_mm}


def row(cells: Sequence[str], *, strong: bool = False, indent: int = 0) -> Block:
    """Give a table's row."""
    return {"cells": list(cells), "strong": strong, "indent": indent}


def grid(columns: Sequence[Block], rows: Sequence[Block], *, size: float = 8.0) -> Block:
    """Give a table, letters of `size` points."""
    return {"kind": "table", "columns": list(columns), "rows": list(rows), "size": size}


def bar(label: str, value: str, share: float, shade: str) -> Block:
    """Give one bar, `share` of the full length."""
    return {"label": label, "value": value, "share": min(max(share, 0.0), 1.0), "shade": shade}


def bars(items: Sequence[Block], *, label_mm: float = 42) -> Block:
    """Give bars under each other."""
    return {"kind": "bars", "items": list(items), "label_mm": label_mm}


def picture(file: str, caption: str, *, width: int = 100, head: str | None = None, waits: bool = False) -> Block:
    """Give a picture over `width` percent of the page, with a heading of its own.

    One that `waits` goes to the foot of this page, or of the next that has room, while the text flows on.
    """
    return {"kind": "picture", "file": file, "caption": caption, "width": width, "head": head, "waits": waits}


def figure(label: str, value: str, unit: str = "", note: str = "", *, main: bool = False) -> Block:
    """Give a figure of the first page."""
    return {"label": label, "value": value, "unit": unit, "note": note, "main": main}


BREAK: Block = {"kind": "break"}
