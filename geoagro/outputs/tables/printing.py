"""How worksheets print, and how their tables are named: one way for every workbook."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Sequence
from typing import Any

A4, LETTER = 9, 1
"""Numbers of paper sizes in the file format (from memory of ECMA-376, attribute paperSize)."""
_LINE_PT = 15.0
_INDENT = 2.5
"""Letters of a cell's width that its indent, the air at its edges and bold letters take."""
_MARGIN_IN = 0.4
_FOOT_IN = 0.7
_LETTERS_ACROSS = 230.0
"""Letters of eleven points that stand side by side on a page across at two thirds of their size."""
_TABLE_LOOK = "Table Style Light 1"  # bands of grey, no colour to print


def set_up_page(
    sheet: Any, *, title: str, paper: int = A4, head_rows: int = 1, upright: bool = False, letters: float = 0.0
) -> None:
    """Have a worksheet print on as many pages as it needs, its head on every page.

    `upright` for narrow sheets of text; the rest lies across. `head_rows` are repeated. A sheet of more `letters` across than
    a page shows at a size that can be read prints on several pages beside each other, its first column on each.
    """
    if upright:
        sheet.set_portrait()
    else:
        sheet.set_landscape()
    sheet.set_paper(paper)
    sheet.set_margins(left=_MARGIN_IN, right=_MARGIN_IN, top=_MARGIN_IN, bottom=_FOOT_IN)
    across = max(math.ceil(letters / _LETTERS_ACROSS), 1)
    sheet.fit_to_pages(across, 0)
    if across > 1:
        sheet.repeat_columns(0, 0)
    if head_rows:
        sheet.repeat_rows(0, head_rows - 1)
    sheet.set_footer(f"&L&8{_plain(title)} · &A&R&8&P / &N")


def _plain(text: str) -> str:
    """Text for a footer, where & begins a code, short enough for the format (255 signs)."""
    return text.replace("&", "&&")[:120]


def name_table(sheet: Any, name: str, heads: Sequence[str], rows: int, head_looks: Sequence[Any]) -> None:
    """Make the cells under a head a named table that can be filtered; the head's cells are written here, each with its look.

    Without rows only the head is written, as a table needs one.
    """
    if not rows:
        for place, head in enumerate(heads):
            sheet.write_string(0, place, head, head_looks[place])
        return
    sheet.add_table(
        0, 0, rows, len(heads) - 1,
        {
            "name": table_name(name),
            "style": _TABLE_LOOK,
            "columns": [
                {"header": head, "header_format": look} for head, look in zip(told_apart(heads), head_looks, strict=True)
            ],
        },
    )  # fmt: skip


def told_apart(heads: Sequence[str]) -> list[str]:
    """Give heads that come again a number, as a spreadsheet's table takes no two alike; capitals don't tell them apart.

    >>> told_apart(["Value", "Unit", "value"])
    ['Value', 'Unit', 'value (2)']
    """
    seen: list[str] = []
    out = []
    for head in heads:
        seen.append(head.casefold())
        times = seen.count(head.casefold())
        out.append(head if times == 1 else f"{head} ({times})")
    return out


def sheet_name(name: str, book: Any) -> str:
    """Make a sheet's name as short as the format has it (31 signs), without signs that it refuses, and by itself in the book."""
    plain = re.sub(r"[\[\]:*?/\\]", " ", name)[:31].strip()
    taken = {sheet.get_name().lower() for sheet in book.worksheets()}
    return next(n for n in (plain, *(f"{plain[:28]} {k}" for k in range(2, 100))) if n.lower() not in taken)


def row_height(texts: Sequence[tuple[str, float]]) -> float | None:
    """Height in points of a row whose texts wrap in columns of these widths (letters); None where one line is enough.

    Programs that print without a screen don't find it out themselves, and long texts would lie over each other.

    >>> row_height([("a" * 50, 20.0), ("b", 5.0)]), row_height([("short", 20.0)])
    (45.0, None)
    """
    lines = max((len(textwrap.wrap(text, max(int(width - _INDENT), 1))) for text, width in texts), default=1)
    return _LINE_PT * lines if lines > 1 else None


def number_letters(value: float, decimals: int) -> int:
    """Letters that a number takes with its marks of thousands, and its sign.

    >>> number_letters(-1234.5, 2)
    9
    """
    return len(f"{value:,.{decimals}f}")


def column_width(head: str, longest: int, *, most: float, head_most: int = 18) -> float:
    """Width of a column in letters: room for its longest cell, up to a width at which cells wrap, and for its head's words.

    A head breaks into lines before it makes a column much wider; bold letters and the button of the filter take more room.

    >>> column_width("Planted in all", 4, most=60.0), column_width("Notes", 200, most=60.0)
    (17.0, 60.0)
    """
    word = max(map(len, head.split()), default=0)
    return float(min(max(longest + 3, word + 5, min(len(head) + 3, head_most)), most))


def table_name(text: str) -> str:
    """Name that a spreadsheet takes for a table: letters, digits and underscores, no reference to a cell.

    >>> table_name("season_bed tasks"), table_name("AB12")
    ('season_bed_tasks', 't_AB12')
    """
    name = re.sub(r"\W", "_", text)
    return f"t_{name}" if re.fullmatch(r"[A-Za-z]{1,3}\d+|[RrCc]|\d.*", name) else name
