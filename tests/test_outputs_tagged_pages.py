"""Printed pages for readers who listen: structure tree, alternative text, language, title and bookmarks (ISO 32000-1, 14.7-14.9)."""

import resource
import subprocess
import sys

import pikepdf
import pytest
import season_cases as cases
from builders import UTM
from report_builders import laid_out

from geoagro.outputs.drawing.paper import Page, pdf_pages
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.report.pdf import write_report_pdf
from geoagro.outputs.season.files import write_season
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.values.report import ReportRule


def elements(node):
    """All structure elements below a node."""
    below = node.get("/K", [])
    for kid in below if isinstance(below, pikepdf.Array) else [below]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield kid
            yield from elements(kid)


def checked(path, *, title, language):
    """Open a file, check what every tagged file has, and give its elements."""
    with pikepdf.open(path) as pdf:
        root = pdf.Root
        assert root.MarkInfo.Marked is True or bool(root.MarkInfo.Marked)
        assert str(root.Lang) == language
        with pdf.open_metadata() as about:
            assert title in {about.get("dc:title"), str(pdf.docinfo.get("/Title"))}
        with pdf.open_outline() as outline:
            marks = [str(item.title) for item in outline.root]
        found = [(str(e.S), str(e.get("/Alt", ""))) for e in elements(root.StructTreeRoot)]
        assert all("/StructParents" in page.obj for page in pdf.pages)
        return marks, found, len(pdf.pages)


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_report_is_tagged_with_tables_headings_and_pictures_told_in_words(tmp_path, language):
    laid, rule = laid_out(size_m=30.0), ReportRule()
    words = Words(language)
    write_report_pdf(account_for(laid, rule), rule, MapData(laid, None, words), tmp_path / "report.pdf")
    marks, found, _ = checked(tmp_path / "report.pdf", title=laid.name, language=language)
    kinds = [kind for kind, _ in found]
    assert {"For the programme", "Areas", "Limits"} <= set(marks)
    assert kinds.count("/Table") >= 5 and "/TH" in kinds and "/H1" in kinds
    pictures = [alt for kind, alt in found if kind == "/Figure"]
    assert pictures and all(pictures)


def test_the_season_plan_is_tagged_too(tmp_path):
    plan = cases.plan(size_m=20)
    write_season(plan, cases.field(20)[0], UTM, tmp_path)
    marks, found, _ = checked(tmp_path / "season.pdf", title=plan.name, language="en")
    assert {"Calendar", "Work", "Money"} <= set(marks)
    pictures = [alt for kind, alt in found if kind == "/Figure"]
    assert len(pictures) >= 6 and all(pictures)


def test_drawn_pages_are_figures_with_their_names_and_the_same_bytes(tmp_path):
    for name in ("a.pdf", "b.pdf"):
        with pdf_pages(tmp_path / name, "Stakes of a field") as add:
            for sheet in ("Overview", "Sheet 1"):
                page = Page(100, 80, name=sheet)
                page.write(10, 70, "12-035")
                add(page)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    marks, found, pages = checked(tmp_path / "a.pdf", title="Stakes of a field", language="en")
    assert marks == ["Overview", "Sheet 1"] and pages == 2
    assert found == [("/Document", ""), ("/Figure", "Overview"), ("/Figure", "Sheet 1")]
    with pikepdf.open(tmp_path / "a.pdf") as pdf:
        for page in pdf.pages:
            operators = [str(operator) for _, operator in pikepdf.parse_content_stream(page)]
            assert operators[0] == "BDC" and operators[-1] == "EMC"
            assert operators.count("q") == operators.count("Q")


TAGGED = """\
import sys
from pathlib import Path
from geoagro.outputs.drawing.tagged import tag_pages
try:
    tag_pages(Path(sys.argv[1]), ["a page"])
except OSError as error:
    print("refused:", error)
"""


def test_a_page_that_finds_no_room_is_refused_and_ends_no_program(tmp_path):
    path = tmp_path / "page.pdf"
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        pdf.save(path)
    room = path.stat().st_size  # what is added finds none
    done = subprocess.run(
        [sys.executable, "-c", TAGGED, str(path)], capture_output=True, text=True, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (room, room)),
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("refused:")
