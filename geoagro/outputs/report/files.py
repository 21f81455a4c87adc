"""The files of a field's report and its map, written together or not at all."""

from __future__ import annotations

from pathlib import Path

from geoagro.outputs.map.folder import earlier_names, map_parts, page_names, write_map_pages
from geoagro.outputs.map.parts import PAGE_CARRIES
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
def write_map(
    account: Account, data: MapData, folder: Path, *, page_carries: int = PAGE_CARRIES, progress: Progress = silent
) -> list[Path]:
    """Write the map as HTML that opens without network; returns the files written, the page to open first.

    A field with more than `page_carries` plants gets a page of the whole, and in folder `map_parts` one for each of the parts that
    it is cut into, so that every plant is on exactly one page. Pages of parts of an earlier map go.

    Raises OutputError where the folder can't be written to; what stood there stays.

    >>> from geoagro import (
    ...     MapData, account_of, crop_facts, example_layout, read_crop_library, read_laid_out, read_layout_file, write_layout, write_map
    ... )
    >>> from geoagro.outputs.words.say import Words
    >>> import tempfile
    >>> laid, library = example_layout(), read_crop_library()
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = read_layout_file(write_layout(laid, Path(folder))[0])
    ...     read = read_laid_out(file, crop_facts(laid.design, library), design=laid.design)
    ...     data = MapData(read, laid.terrain, Words("en"))
    ...     pages = write_map(account_of(read, laid.design.report), data, Path(folder), page_carries=2000)
    ...     [page.name for page in pages], "default-src 'none'" in pages[0].read_text()  # it may ask no network for anything
    (['map.html', 'A1.html', 'A2.html', 'A3.html'], True)
    """
    folder = Path(folder)
    parts = map_parts(data, page_carries)
    names = page_names(parts)
    with staged(folder, names, gone=earlier_names(folder, names)) as new:
        write_map_pages(account, data, parts, new, progress=progress)
    return [folder / name for name in (names[-1], *names[:-1])]
