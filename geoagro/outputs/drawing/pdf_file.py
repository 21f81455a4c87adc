"""Write a PDF that was opened and changed."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

from pikepdf import Pdf


def save_pdf(pdf: Pdf, path: Path, **options: Any) -> None:
    """Write a PDF, with pikepdf's options; the same content gives the same bytes. Raises OSError where it can't be written.

    It is made in memory first: the library ends the whole program where a file of its own finds no room on the disk.
    """
    made = BytesIO()
    pdf.save(made, deterministic_id=True, **options)
    path.write_bytes(made.getbuffer())
