"""A note on a crop, registered in one place, is told by the report, the season and the bed sheets."""

from datetime import date

import pytest
from matplotlib.text import Text

from geoagro import (
    account_of,
    bed_sheets_of,
    crop_facts,
    example_layout,
    read_crop_library,
    read_laid_out,
    read_layout_file,
    season_of,
    write_layout,
)
from geoagro.outputs.beds.picture import draw_bed
from geoagro.outputs.report.counts import crop_blocks
from geoagro.outputs.words.say import Words
from geoagro.values.report import ReportRule
from geoagro.values.rules import crop_notes
from geoagro.values.rules.crop_notes import CropNote
from geoagro.values.season import SeasonRule

TOLD = "reaches 4 m in an invented year"


@pytest.fixture(autouse=True)
def registered(monkeypatch):
    monkeypatch.setattr(crop_notes, "CROP_NOTES", (*crop_notes.CROP_NOTES, CropNote("height_m", lambda _: TOLD)))


def test_the_report_tells_it(tmp_path):
    laid = example_layout()
    file = read_layout_file(write_layout(laid, tmp_path)[0])
    read = read_laid_out(file, crop_facts(laid.design, read_crop_library()), design=laid.design)
    account = account_of(read, ReportRule())
    assert account.crops["notes"].str.contains(TOLD).all()
    assert TOLD in str(list(crop_blocks(account, Words("en"))))


def test_bed_sheets_tell_it():
    for sheet in bed_sheets_of(example_layout().design, read_crop_library()):
        told = " ".join(text.get_text() for text in draw_bed(sheet).findobj(Text))
        assert TOLD in told.replace("\n", " ")


def test_the_season_tells_it():
    laid = example_layout()
    design = laid.design.model_copy(update={"season": SeasonRule(years=1), "start_date": date(2027, 3, 1)})
    plan = season_of(design, laid.plants, laid.beds, read_crop_library(), area_ha=0.16)
    assert plan.orders["notes"].str.contains(TOLD).all()
