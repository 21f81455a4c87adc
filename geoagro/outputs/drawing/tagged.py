"""Structure of drawn pages: what a screen reader says of each, bookmarks, language and title (ISO 32000-1, 14.7 and 14.8)."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pikepdf
from pikepdf import Array, Dictionary, Name, OutlineItem, Pdf, String

from geoagro.outputs.drawing.pdf_file import save_pdf


def tag_pages(path: Path, names: Sequence[str], *, language: str = "en") -> None:
    """Make each page a figure with its name as alternative text and bookmark; the drawing and its letters stay as they are."""
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        tree = pdf.make_indirect(Dictionary(Type=Name.StructTreeRoot))
        whole = pdf.make_indirect(Dictionary(Type=Name.StructElem, S=Name.Document, P=tree))
        figures = [_figure(pdf, number, name, whole) for number, name in enumerate(names)]
        whole.K = Array(figures)
        tree.K = whole
        parents = [item for number, figure in enumerate(figures) for item in (number, Array([figure]))]
        tree.ParentTree = pdf.make_indirect(Dictionary(Nums=Array(parents)))
        tree.ParentTreeNextKey = len(figures)
        pdf.Root.StructTreeRoot = tree
        pdf.Root.MarkInfo = Dictionary(Marked=True)
        pdf.Root.Lang = String(language)
        pdf.Root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
        with pdf.open_outline() as outline:
            outline.root.extend(OutlineItem(name, number) for number, name in enumerate(names))
        save_pdf(pdf, path)


def _figure(pdf: Pdf, number: int, name: str, whole: pikepdf.Object) -> pikepdf.Object:
    """Mark all that a page draws as one figure."""
    page = pdf.pages[number]
    page.contents_add(b"/Figure <</MCID 0>> BDC\n", prepend=True)
    page.contents_add(b"\nEMC\n")
    page.obj.StructParents = number
    page.obj.Tabs = Name.S
    return pdf.make_indirect(
        Dictionary(Type=Name.StructElem, S=Name.Figure, P=whole, Pg=page.obj, K=0, Alt=String(name))
    )
