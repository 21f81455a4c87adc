"""Words that reach a report from elsewhere stand in the reader's language: crops of the library, how survival was computed."""

import builders
import openpyxl
import pandas as pd
import pytest
from page_texts import page_texts
from report_builders import grid_of_plants, laid_out, together

from geoagro.outputs.report.account_sheet import write_account_sheet
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.report.pdf import write_report_pdf
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.stakeout.survival import from_count, from_plots
from geoagro.values.report import CropFacts, ReportRule, SurveyCounts
from geoagro.values.survey import SURVIVAL

CITRUS, MAIZE = ("citrus", "cítricos"), ("maize", "maíz")


def planting(beds):
    """Citrus far enough apart for marks on a block sheet, maize so close that its name is written below instead."""
    return together(
        grid_of_plants(beds.tree_beds, spacing_m=4.0, crop=CITRUS[0], stratum="medium"),
        grid_of_plants(beds.beds, spacing_m=0.1, crop=MAIZE[0], stratum="emergent", first=10_000),
    )


def survey(method):
    """A count of all citrus, as a file gives it back: a plain text tells how its interval was computed."""
    line = (0, 40, 40, 36, 0, 4, 0, 90.0, 77.0, 96.0, "".join(method))
    rows = [dict(zip(SURVIVAL.columns, (crop, *line), strict=True)) for crop in ("all", CITRUS[0])]
    return SurveyCounts("2031-04-15", pd.DataFrame(rows), None)


@pytest.mark.parametrize(
    ("interval", "told"),
    [
        (from_count(36, 40), "conteo de todas, Wilson 1927"),
        (from_plots([4.0, 5.0, 2.0], [5.0, 5.0, 5.0]), "3 parcelas de muestreo, Wilson con efecto de diseño"),
        (from_count(0, 0), "ninguna revisada"),
        (from_plots([4.0], [5.0]), "menos de dos parcelas de muestreo con plantas"),
    ],
)
def test_a_report_in_spanish_names_crops_and_intervals_in_spanish(tmp_path, interval, told):
    crops = {
        "citrus": CropFacts("citrus", None, "tree", "medium", 4.0),
        "maize": CropFacts("maize", "Zea mays", "grass", "emergent", 0.5),
    }
    laid = laid_out(size_m=25.0, plants=planting, crops=crops, surveys=(survey(interval.method),))
    terrain, rule, spanish = builders.plane(size_m=25.0), ReportRule(block_scale=250), Words("es")
    account = account_for(laid, rule, terrain=terrain)
    write_report_pdf(account, rule, MapData(laid, terrain, spanish), tmp_path / "a.pdf")
    text = "\n".join(page_texts(tmp_path / "a.pdf"))
    assert "Bloque 1 de" in text
    for english, own in (CITRUS, MAIZE):
        assert english not in text.lower().split()
        assert text.count(own) >= 3
    write_account_sheet(account, spanish, tmp_path / "a.xlsx")
    cells = [str(c.value) for sheet in openpyxl.load_workbook(tmp_path / "a.xlsx") for row in sheet for c in row]
    assert any(cell.startswith(told) for cell in cells)
    assert "todos los cultivos" in cells and "all" not in cells
