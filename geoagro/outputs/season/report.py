"""The season report as PDF: key figures, calendar, material, work, harvest, money, ground, rates."""

from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path

import typst

from geoagro.errors import OutputError
from geoagro.outputs.drawing.typefaces import FONTS
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
        shutil.copy(TEMPLATE, room / "report.typ")
        (room / "data.json").write_text(json.dumps(report_data(plan, words)), encoding="utf-8")
        for name in CHARTS:
            shutil.copy(charts / f"{name}.svg", room)
        try:
            typst.compile(
                room / "report.typ", output=path, root=room, font_paths=[FONTS],
                ignore_system_fonts=True,
            )  # fmt: skip
        except typst.TypstError as error:
            raise OutputError(f"{path.name} can't be set: {error.message}") from error
