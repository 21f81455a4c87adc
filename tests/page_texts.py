"""What PDF pages say, and how far down they are filled, read by PDFium (a reader in Python takes ten times as long)."""

from pathlib import Path

import pypdfium2

FOOT = 0.055
"""Share of a page's height below which only the line at the foot stands."""


def page_texts(path: Path) -> list[str]:
    """Text of each page."""
    return [text for _, text in filled_and_told(path)]


def filled(path: Path) -> list[float]:
    """How far down each page its text reaches, as a share of its height; the line at the foot doesn't count."""
    return [share for share, _ in filled_and_told(path)]


def filled_and_told(path: Path) -> list[tuple[float, str]]:
    """`filled`, and the text, of each page."""
    with pypdfium2.PdfDocument(path) as document:
        return [_page(page) for page in document]


def _page(page: pypdfium2.PdfPage) -> tuple[float, str]:
    words = page.get_textpage()
    bottoms = [words.get_rect(k)[1] / page.get_height() for k in range(words.count_rects())]
    text = words.get_text_range().replace("\r\n", "\n").replace("\ufffe", "-")
    return max((1 - low for low in bottoms if low > FOOT), default=0.0), text
