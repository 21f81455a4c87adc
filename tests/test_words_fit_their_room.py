"""Words on sheets, cards and pages keep within the room that they are given, in every language: measured, not counted."""

from itertools import pairwise

import matplotlib as mpl
import numpy as np
import pytest
import season_cases as cases
import shapely
import shapely.affinity
from builders import square_site, straight_beds, straight_rows
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath
from page_texts import page_texts

from geoagro.outputs.drawing.letters import width_mm, wrapped
from geoagro.outputs.drawing.paper import Page
from geoagro.outputs.drawing.typefaces import family, lettered
from geoagro.outputs.report.block_sheet import LEGEND_PT
from geoagro.outputs.report.maps import legend_lines
from geoagro.outputs.season.chart_style import keep_subtitle_inside
from geoagro.outputs.season.charts import CHARTS
from geoagro.outputs.season.names import Names
from geoagro.outputs.season.report_data import report_data
from geoagro.outputs.stakes.files import write_stakes
from geoagro.outputs.stakes.overview_map import draw_overview, off_names
from geoagro.outputs.stakes.scale_factor import ScaleFactor
from geoagro.outputs.stakes.sheet_map import Content, pegs_apart, row_boxes
from geoagro.outputs.stakes.sheet_plan import plan_sheets
from geoagro.outputs.stakes.sheets import heads_mm
from geoagro.outputs.words.say import CATALOGS, Words
from geoagro.stakeout.stake_out import stake_out
from geoagro.values.stakeout import STAKE_KINDS, StakeRule
from geoagro.values.words import say

LANGUAGES = ["en", *sorted(path.stem for path in CATALOGS.glob("*.po"))]
ROWS = straight_rows(size_m=60.0, spacing_m=5.0)
STAKES = stake_out(ROWS, straight_beds(ROWS), square_site(), None, StakeRule())
PLAN = cases.standard_plan()
NOTE_MM, LEAST_PT = 22.2, 7.0
"""Room for the note on a card (91 mm less the other columns and the air in the cell), and the smallest type in it."""


@pytest.mark.parametrize("text", ["Rows and stakes", "WWW iii", "début de D1b", "à linha abaixo, 1,5 m", "▼ → ≥"])
@pytest.mark.parametrize("bold", [False, True])
def test_widths_agree_with_the_outlines_that_the_drawing_library_sets(text, bold):
    outline = TextPath((0, 0), text, size=10, prop=FontProperties(family=family(), weight="bold" if bold else "normal"))
    box = outline.get_extents()
    assert width_mm(text, 10, bold=bold) * 72 / 25.4 == pytest.approx(box.width, abs=3.0)  # air beside the end letters


def test_no_line_is_wider_than_its_room_and_none_could_take_the_next_word():
    text = " ".join(["A line of words, some l o n g e r, others w", "MMMM", "iiiiiiii"] * 9)
    lines = wrapped(text, 50.0, 7.0)
    assert " ".join(lines) == text
    assert max(width_mm(line, 7.0) for line in lines) <= 50.0
    for line, after in pairwise(lines):
        assert width_mm(f"{line} {after.split()[0]}", 7.0) > 50.0


@pytest.mark.parametrize("language", LANGUAGES)
def test_notes_on_cards_are_large_enough_to_read(language):
    words = Words(language)
    notes = [words(kind.brief) for kind in STAKE_KINDS.values()]
    for note in notes:
        assert 8.5 * 0.98 * NOTE_MM / width_mm(note, 8.5) >= LEAST_PT, note


@pytest.mark.parametrize("language", LANGUAGES)
def test_names_of_pegs_keep_within_the_sheet_and_off_names_of_rows(language):
    a, b = STAKES.baseline.a, STAKES.baseline.b
    metres_per_mm = 0.5
    ground = shapely.box(*shapely.MultiPoint([a, b]).buffer(1.5).bounds)  # pegs right at the edges of the sheet
    rows = row_boxes([("1", a[0] + 4, a[1] + 4), ("20", b[0] - 4, b[1] - 4)], metres_per_mm)
    wide = shapely.box(*np.add(ground.bounds, (-60, -60, 60, 60)))
    pegs = pegs_apart(STAKES.baseline, rows, (wide, metres_per_mm), Words(language))
    assert [peg.at for peg in pegs] == [a, b]
    for peg in pegs:
        assert wide.covers(peg.box)
        assert not any(peg.box.intersects(row) for row in rows)
        assert shapely.distance(shapely.Point(peg.at), peg.box) < 4 * metres_per_mm
    for peg in pegs_apart(STAKES.baseline, rows, (ground, metres_per_mm / 4), Words(language)):
        assert ground.covers(peg.box)


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_page_of_the_stake_sheets_holds_a_few_lines_only(tmp_path, language):
    write_stakes(STAKES, ROWS, square_site(), StakeRule(), tmp_path, words=Words(language))
    pages = page_texts(tmp_path / "sheets.pdf")
    assert [len(text.split()) > 60 for text in pages] == [True] * len(pages)


def test_numbers_of_sheets_on_the_overview_cover_no_words():
    """A circle moves by as little as it must; with everything taken it stays where it was."""
    word = shapely.box(-3, -1, 9, 4)
    x, y = off_names((0.0, 0.0), [word], 4.6)
    assert shapely.Point(x, y).distance(word) >= 4.6
    assert np.hypot(x, y) < 3 * 4.6
    assert off_names((50.0, 0.0), [word], 4.6) == (50.0, 0.0)
    assert off_names((0.0, 0.0), [word.buffer(500)], 4.6) == (0.0, 0.0)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_overview_shows_pegs_numbers_of_long_parts_twice_and_rows_by_fives_none_over_another(language):
    factor = ScaleFactor(1.0, 0.0, 1.0, 0.0)
    content = Content(STAKES, ROWS, square_site(), factor, (), Words(language))
    plan = plan_sheets(STAKES.marks, ROWS.frame.geometry.to_numpy(), ROWS.spacing_m, StakeRule())
    axes = Figure(figsize=(200 / 25.4, 180 / 25.4)).add_axes((0, 0, 1, 1))
    draw_overview(axes, content, plan, (200.0, 180.0))
    axes.figure.draw_without_rendering()
    texts = [text for text in axes.texts if text.get_text() and text.get_fontsize() < 13]
    told = [text.get_text() for text in texts]
    assert sum(name in told for name in (content.words(say("peg {name}"), name=peg) for peg in "AB")) == 2
    first_part = str(STAKES.walk["day_trip"].iloc[0])
    boxed = [t for t in texts if t.get_text() == first_part and t.get_bbox_patch().get_edgecolor()[3] > 0]
    assert len(boxed) == 2  # where it begins, and half-way
    fifth = STAKES.marks.loc[STAKES.marks["row"] % 5 == 0, "label"].astype(str).unique()
    assert len(fifth) >= 2 and set(fifth) <= set(told)
    inked = [shapely.affinity.scale(shapely.box(*text.get_window_extent().extents), 1.0, 0.7) for text in texts]
    assert not any(a.intersects(b) for k, a in enumerate(inked) for b in inked[:k]), told


@pytest.mark.parametrize("language", LANGUAGES)
def test_names_of_facts_on_the_overview_end_before_the_facts(language):
    names = [Words(language)(name) for name in ("Stakes", "Rows", "Walk", "Baseline", "Heights")]
    assert max(width_mm(name, 8, bold=True) for name in names) < heads_mm(names) < 46


@pytest.mark.parametrize("language", LANGUAGES)
def test_free_columns_of_the_calendar_keep_room_beside_its_days(language):
    """What columns of their own width leave of the page (176 mm, 2.8 mm of air in a cell) goes to the free ones."""
    table = report_data(PLAN, Words(language))["calendar"]
    columns = list(zip(*table["rows"], strict=True))
    fixed = sum(
        max(width_mm(cell, 8) for cell in cells) + 2.8
        for cells, width in zip(columns, table["widths"], strict=True)
        if width == 0
    )
    room = (176 - fixed) / sum(table["widths"]) - 2.8
    told = [cell for cells, width in zip(columns, table["widths"], strict=True) if width for cell in cells]
    assert max(len(wrapped(cell, room, 8)) for cell in told) <= 2


def test_paragraphs_on_a_page_end_within_their_width():
    with lettered():
        page = Page(200, 100, name="page")
        page.paragraph(10, 90, 80, "Wide words WWWW MMMM keep within the width that they are given, line by line. " * 4)
        page.figure.canvas.draw()
    edges = [text.get_window_extent().x1 / page.figure.dpi * 25.4 for text in page.figure.axes[0].texts]
    assert len(edges) >= 4
    assert max(edges) <= 90.3


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("chart", CHARTS)
def test_no_words_of_a_chart_of_the_season_run_past_its_edge(language, chart):
    with mpl.rc_context({"font.family": family()}):
        figure = CHARTS[chart](Names(PLAN, Words(language)))
        keep_subtitle_inside(figure)
        figure.draw_without_rendering()
        inches = figure.get_tightbbox()
    wide, high = figure.get_size_inches()
    assert inches.x0 >= -0.01 and inches.y0 >= -0.01
    assert inches.x1 <= wide + 0.01 and inches.y1 <= high + 0.01


@pytest.mark.parametrize("language", ("en", "es", "fr", "pt_BR"))
def test_words_of_a_block_sheets_legend_dont_run_into_the_next_column_and_are_of_one_size(language):
    """Entries as a block sheet has them, on the width of a page (174 mm), in four columns."""
    words, room = Words(language), 174.0
    crops = ["avocado", "banana", "cassava", "citrus", "cowpea", "lettuce", "maize", "pigeon_pea", "sweet_potato"]
    told = [words.crop(crop) for crop in crops]
    told += [
        words(text) for text in ("Tree row, with its number", "Tree bed", "Vegetable bed", "Setback along the boundary")
    ]
    told += [
        words(text) for text in ("Row spacing out of tolerance", "Leftover at edges and row ends", "Field boundary")
    ]
    lines, columns = legend_lines(told, 4, room, LEGEND_PT)
    assert LEGEND_PT >= 7 and columns == 4
    assert [line.replace("\n", " ") for line in lines] == told
    parts = np.array_split(np.arange(len(lines)), columns)
    widest = [max(width_mm(half, LEGEND_PT) for k in part for half in lines[k].split("\n")) for part in parts]
    assert sum(widest) + 4 * 4.0 * LEGEND_PT * 25.4 / 72 <= room + 0.1
    assert legend_lines(["a", "b"], 4, room, 8.0) == (["a", "b"], 2)


def test_a_legend_of_words_that_cant_be_broken_has_fewer_columns():
    lines, columns = legend_lines(["w" * 40] * 6, 4, 174.0, 8.0)
    assert columns == 1 and lines == ["w" * 40] * 6


@pytest.mark.parametrize("text", ["\u8bd5", "\U0001f33d", "a \u8bd5 b"])
def test_a_letter_that_no_type_has_takes_the_room_of_the_box_in_its_place(text):
    assert 0 < width_mm(text, 7.0) < len(text) * 7.0
