"""Nothing on paper is set so small that a sheet in the hand, or a copy of it, no longer shows it; in French, the longest."""

import ctypes

import pypdfium2
import pytest
import season_cases as cases
from matplotlib.text import Text
from pypdfium2 import raw
from report_builders import laid_out

from geoagro import example_layout, stakes_of, write_stakes
from geoagro.outputs.drawing.letters import LEAST_PT
from geoagro.outputs.report import maps
from geoagro.outputs.report.pdf import write_report_pdf
from geoagro.outputs.season.chart_style import PAGE_MOST_IN, PAGE_SHARE
from geoagro.outputs.season.charts import CHARTS
from geoagro.outputs.season.names import Names
from geoagro.outputs.season.report import write_report
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.values.report import ReportRule

WORDS = Words("fr")
PLAN = cases.standard_plan()


def smaller(path, least=LEAST_PT - 0.05):
    """Letters on each page that are smaller than the least, by their size on paper (font size times the page's matrix)."""
    found, matrix = {}, raw.FS_MATRIX()
    with pypdfium2.PdfDocument(path) as document:
        for number, page in enumerate(document, start=1):
            text = page.get_textpage()
            for k in range(text.count_chars()):
                raw.FPDFText_GetMatrix(text, k, ctypes.byref(matrix))
                letter = chr(raw.FPDFText_GetUnicode(text, k))
                size = raw.FPDFText_GetFontSize(text, k) * (matrix.c**2 + matrix.d**2) ** 0.5
                if not letter.isspace() and letter.isprintable() and size < least:
                    key = (number, round(size, 1))
                    found[key] = found.get(key, "") + letter
    return found


def test_the_season_report_and_its_charts(tmp_path):
    for name in CHARTS:
        (tmp_path / f"{name}.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 180 60"></svg>')
    write_report(PLAN, tmp_path, tmp_path / "season.pdf", WORDS)
    assert smaller(tmp_path / "season.pdf", least=8.05), "sizes aren't read"
    assert smaller(tmp_path / "season.pdf") == {}
    for name, draw in CHARTS.items():
        figure = draw(Names(PLAN, WORDS))
        figure.draw_without_rendering()
        share = PAGE_SHARE * min(1.0, PAGE_MOST_IN / figure.get_figheight())
        sizes = {text.get_text(): text.get_fontsize() * share for text in figure.findobj(Text) if text.get_text()}
        assert {text: size for text, size in sizes.items() if size < LEAST_PT - 0.05} == {}, name


@pytest.mark.parametrize("receiver", ["phone", "rtk"])
def test_stake_sheets_cards_and_the_procedure(receiver, tmp_path):
    laid = example_layout()
    design = laid.design.model_copy(update={"stakeout": laid.design.stakeout.model_copy(update={"receiver": receiver})})
    stakes = stakes_of(design, laid.site, laid.rows, laid.beds, laid.terrain)
    write_stakes(stakes, laid.rows, laid.site, design.stakeout, tmp_path, beds=laid.beds, words=WORDS)
    for name in ("sheets.pdf", "pocket_list.pdf", "procedure.pdf"):
        assert smaller(tmp_path / name) == {}, name


def test_the_field_report_with_its_maps_and_block_sheets(tmp_path, monkeypatch):
    laid, rule, drawn, save = laid_out(size_m=30.0), ReportRule(block_scale=200), [], maps._save
    monkeypatch.setattr(maps, "_save", lambda figure, path: (drawn.append(figure), save(figure, path)))
    write_report_pdf(account_for(laid, rule), rule, maps.MapData(laid, None, WORDS), tmp_path / "report.pdf")
    assert smaller(tmp_path / "report.pdf") == {}
    sizes = {
        t.get_text(): t.get_fontsize() / maps._FINER for figure in drawn for t in figure.findobj(Text) if t.get_text()
    }
    assert len(sizes) > 5
    # row numbers in bold are counted along a line, not read
    assert {text: size for text, size in sizes.items() if size < 6.45} == {}
