"""The files of a season plan, all made from the same tables."""

from __future__ import annotations

from pathlib import Path

from pyproj import CRS

from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.season.charts import chart_files, write_charts
from geoagro.outputs.season.ics import write_ics
from geoagro.outputs.season.map import BED_MAP, bed_map, bed_map_style
from geoagro.outputs.season.report import write_report
from geoagro.outputs.season.spreadsheet import write_day_sheet, write_sheet
from geoagro.outputs.staging import check_folder, staged
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.season.records.tables import SeasonPlan
from geoagro.values.base.doors import door
from geoagro.values.beds import Beds
from geoagro.values.progress import Progress, silent

GEOPACKAGE, SHEET, DAY_SHEET, CALENDAR_FILE = "season.gpkg", "season.xlsx", "season_days.xlsx", "season.ics"
REPORT = "season.pdf"


def season_file_names() -> list[str]:
    """Names of all files, the GeoPackage last."""
    return [*chart_files(), SHEET, DAY_SHEET, CALENDAR_FILE, REPORT, GEOPACKAGE]


def check_season_folder(folder: Path) -> None:
    """Raise OutputError now where `write_season` would fail later; touches nothing."""
    check_folder(Path(folder), season_file_names())


@door
def write_season(
    plan: SeasonPlan, beds: Beds, crs: CRS, folder: Path, *, words: Words = ENGLISH, progress: Progress = silent
) -> list[Path]:
    """Write GeoPackage, spreadsheet, calendar file, report and charts; what stood there stays until all are finished.

    People's texts are in the language of `words`; tables for programs stay as they are.

    Raises OutputError where the folder can't be written to, or an old result is open in another program.

    >>> from pathlib import Path
    >>> from geoagro import example_layout, read_crop_library, season_of, write_season
    >>> import tempfile
    >>> from datetime import date
    >>> from geoagro.values.season import SeasonRule
    >>> laid, library = example_layout(), read_crop_library()
    >>> season = {"season": SeasonRule(years=1), "start_date": date(2027, 3, 1)}
    >>> design = laid.design.model_copy(update=season)
    >>> plan = season_of(design, laid.plants, laid.beds, library, area_ha=0.16)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     paths = write_season(plan, laid.beds, laid.site.crs, Path(folder))
    ...     print(any(path.name == "season.pdf" for path in paths))
    True
    """
    folder = Path(folder)
    names = season_file_names()
    tables = [OutputLayer(spec, frame) for spec, frame in plan.tables()]
    beds_layer = OutputLayer(BED_MAP, bed_map(plan, beds, crs), style=bed_map_style(plan))
    with staged(folder, names) as new:
        progress("season: drawing", 0.0)
        write_charts(plan, new, words)
        progress("season: writing", 0.0)
        write_geopackage(new / GEOPACKAGE, [beds_layer, *tables], crs, words=words)
        write_sheet(plan, new / SHEET, words)
        write_day_sheet(plan, new / DAY_SHEET, words)
        write_ics(plan, new / CALENDAR_FILE, folder / CALENDAR_FILE, words)
        write_report(plan, new, new / REPORT, words)
        progress("season: writing", 1.0)
    return [folder / name for name in (REPORT, SHEET, DAY_SHEET, CALENDAR_FILE, GEOPACKAGE)]
