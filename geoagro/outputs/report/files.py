"""The files of a field's report and its map, written together or not at all."""

from __future__ import annotations

from pathlib import Path

from geoagro.outputs.map.page import write_map_page
from geoagro.outputs.report.account_data import (
    csv_names,
    empty_csv_names,
    write_account_csv,
    write_account_geopackage,
    write_account_json,
)
from geoagro.outputs.report.account_sheet import write_account_sheet
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.report.parts_geojson import write_parts
from geoagro.outputs.report.pdf import write_report_pdf
from geoagro.outputs.staging import staged
from geoagro.reports.records.account import Account
from geoagro.values.base.doors import door
from geoagro.values.progress import Progress, silent
from geoagro.values.report import ReportRule

MAP = "map.html"
_FILES = ("report.xlsx", "report.json", "report.gpkg", "field_parts.geojson", "report.pdf")


@door
def write_report(
    account: Account, rule: ReportRule, data: MapData, folder: Path, *, progress: Progress = silent
) -> list[Path]:
    """Write the report as PDF, spreadsheet, JSON, GeoPackage and CSV, and the parts of the field as GeoJSON.

    Returns the files written. Raises OutputError where the folder can't be written to; what stood there stays.

    >>> from geoagro import (
    ...     MapData, account_of, crop_facts, example_layout, read_crop_library, read_laid_out, read_layout_file, write_layout, write_report
    ... )
    >>> from geoagro.outputs.words.say import Words
    >>> import json, tempfile
    >>> laid, library = example_layout(), read_crop_library()
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = read_layout_file(write_layout(laid, Path(folder))[0])
    ...     read = read_laid_out(file, crop_facts(laid.design, library), design=laid.design)
    ...     account = account_of(read, laid.design.report)
    ...     written = write_report(account, laid.design.report, MapData(read, laid.terrain, Words("en")), Path(folder))
    ...     json.loads(Path(folder, "report.json").read_text())["headline"]["plants"]["value"]
    5490
    """
    names = [*csv_names(account), *_FILES]
    with staged(folder, names, gone=empty_csv_names(account)) as new:
        write_account_csv(account, new)
        write_account_sheet(account, data.words, new / "report.xlsx")
        write_account_json(account, data.words, new / "report.json")
        write_account_geopackage(account, data.laid.crs, new / "report.gpkg", data.words)
        write_parts([("", account)], new / "field_parts.geojson")
        write_report_pdf(account, rule, data, new / "report.pdf", progress=progress)
    return [folder / name for name in reversed(names)]


@door
def write_map(account: Account, data: MapData, folder: Path) -> Path:
    """Write the map as one HTML file that opens without network.

    >>> from geoagro import (
    ...     MapData, account_of, crop_facts, example_layout, read_crop_library, read_laid_out, read_layout_file, write_layout, write_map
    ... )
    >>> from geoagro.outputs.words.say import Words
    >>> import tempfile
    >>> laid, library = example_layout(), read_crop_library()
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = read_layout_file(write_layout(laid, Path(folder))[0])
    ...     read = read_laid_out(file, crop_facts(laid.design, library), design=laid.design)
    ...     page = write_map(account_of(read, laid.design.report), MapData(read, laid.terrain, Words("en")), Path(folder))
    ...     "default-src 'none'" in page.read_text()  # it may ask no network for anything
    True
    """
    with staged(folder, [MAP]) as new:
        write_map_page(account, data, new / MAP)
    return folder / MAP
