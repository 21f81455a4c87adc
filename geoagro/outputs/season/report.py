"""The season report as PDF: key figures, calendar, material, work, harvest, money, ground, rates."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from geoagro.outputs.drawing.setting import set_pages
from geoagro.outputs.season.charts import CHARTS
from geoagro.outputs.season.report_data import report_data
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.season.records.tables import SeasonPlan

TEMPLATE = Path(__file__).with_name("report.typ")


def write_report(plan: SeasonPlan, charts: Path, path: Path, words: Words = ENGLISH) -> None:
    """Set the report with the charts (SVG) that lie in the folder `charts`.

    Raises OutputError where the pages can't be set.
    """
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        room = Path(folder)
        for name in CHARTS:
            shutil.copy(charts / f"{name}.svg", room)
        set_pages(TEMPLATE, report_data(plan, words), "data.json", room, path)
