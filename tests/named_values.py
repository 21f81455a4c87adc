"""Every figure of a folder of results with its name and what it is of, so that files can be held against each other.

A figure's name is its column's; what it is of is told by the columns that name things (crop, row, bed, month ...). Where two
files hold a figure of the same name of the same thing, they must agree to the decimals of the one that shows fewer.
"""

from __future__ import annotations

import csv
import json
import re
import sqlite3
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import openpyxl

from geoagro.outputs.season.spreadsheet import SHEETS

THINGS = (
    "item", "parcel", "crop", "with_crop", "stratum", "zone", "row", "bed", "path", "plot", "part", "plant", "stake", "measure", "figure",
    "cause", "survey", "indicator", "year", "month", "day", "week", "task", "planting", "mixture", "bed_kind", "planting_no", "round",
    "spell", "subject", "material", "order_by", "needed_on", "way", "severity", "day_trip", "piece", "from_stake", "to_stake", "side", "offset_m", "point",
)  # fmt: skip
HEADLINE = {
    "field_m2": ("field", "area_m2"), "field_geodesic_m2": ("field", "geodesic_area_m2"),
    "field_ground_m2": ("field", "ground_area_m2"), "plantable_m2": ("plantable", "area_m2"), "planted_m2": ("planted", "area_m2"),
    "canopy_cover_m2": ("tree_canopy", "area_m2"),
}  # fmt: skip
"""Headline of report.json: which line and column of the table of areas each stands for."""


@dataclass(frozen=True)
class Figure:
    """A number in a file; `decimals` are those that the file shows."""

    file: str
    table: str
    value: float
    decimals: int


Key = tuple[str, frozenset[tuple[str, str]]]


def differences(folder: Path) -> tuple[list[str], dict[Key, list[Figure]], set[str]]:
    """Disagreements in words, all figures by name and thing, and tables that don't name what each line is of."""
    found: dict[Key, list[Figure]] = defaultdict(list)
    nameless = set()
    for file, table, lines in tables(folder):
        keys = [thing(line) for line in lines]
        if len(set(keys)) < len(keys) or frozenset() in keys:
            nameless.add(table or file)
            continue
        for name in dict.fromkeys(name for line in lines for name in line if name not in THINGS):
            cells = [shown(line.get(name)) for line in lines]
            decimals = max((cell[1] for cell in cells if cell is not None), default=0)
            for key, cell in zip(keys, cells, strict=True):
                if cell is not None:
                    found[name, key].append(Figure(file, table, cell[0], decimals))
    told = [
        f"{name} of {dict(sorted(key))}: {one.value} in {one.file} {one.table}, {best.value} in {best.file} {best.table}"
        for (name, key), figures in found.items()
        if (best := max(figures, key=lambda figure: figure.decimals))
        for one in figures
        if abs(one.value - best.value) > 0.5 * 10.0**-one.decimals + 1e-9 * max(abs(best.value), 1.0)
    ]
    return told, found, nameless


def thing(line: dict[str, object]) -> frozenset[tuple[str, str]]:
    """What a line is of; a bed's name holds its row, a stake's and a plant's all else."""
    names = {name: _plain(line[name]) for name in THINGS if line.get(name) not in (None, "")}
    for one in ("stake", "plant", "bed"):
        if one in names:
            kept = (one, "crop", "with_crop", "month", "year") if one == "bed" else (one,)
            if one == "bed" and not names.keys().isdisjoint({"task", "planting", "day"}):
                kept = tuple(names)
            return frozenset((name, value) for name, value in names.items() if name in kept)
    return frozenset(names.items())


def _plain(value: object) -> str:
    text = str(value)
    return text[:-2] if re.fullmatch(r"\d+\.0", text) else text.removesuffix(" 00:00:00").removesuffix("T00:00:00")


def shown(cell: object) -> tuple[float, int] | None:
    """The number in a cell, and how many decimals it shows; a column shows as many as its cell with most."""
    if cell is None or isinstance(cell, bool):
        return None
    text = str(cell)
    if not re.fullmatch(r"-?\d+(\.\d+)?(e-?\d+)?", text):
        return None
    mantissa, _, power = text.partition("e")
    decimals = len(
        mantissa.partition(".")[2].removesuffix("0" if isinstance(cell, float) and text.endswith(".0") else "-")
    )
    return float(text), max(decimals - int(power or 0), 0)


def tables(folder: Path) -> Iterator[tuple[str, str, list[dict[str, object]]]]:
    """All tables of all files as lines of cells by column."""
    for path in sorted(folder.rglob("*")):
        name = str(path.relative_to(folder))
        if ".geoagro" in path.parts or not path.is_file():
            continue
        match path.suffix:
            case ".csv":
                with path.open(encoding="utf-8-sig", newline="") as file:
                    yield name, "", list(csv.DictReader(file))
            case ".gpkg":
                yield from ((name, table, lines) for table, lines in _of_geopackage(path))
            case ".xlsx":
                yield from ((name, table, lines) for table, lines in _of_workbook(path))
            case ".geojson":
                features = json.loads(path.read_text(encoding="utf-8"))["features"]
                yield name, "", _field(path.stem, [feature["properties"] for feature in features])
            case ".html":
                yield from ((name, table, lines) for table, lines in _of_map(path))
    report = folder / "report.json"
    if report.exists():
        content = json.loads(report.read_text(encoding="utf-8"))
        yield from (("report.json", table, one["rows"]) for table, one in content["tables"].items())
        heads = content["headline"]
        yield (
            "report.json",
            "headline",
            [{"item": i, n: heads[h]["value"]} for h, (i, n) in HEADLINE.items() if n == "area_m2"],
        )
        more = {n: heads[h]["value"] for h, (i, n) in HEADLINE.items() if i == "field" and n != "area_m2"}
        yield "report.json", "headline of the field", [{"item": "field", **more}]


def _field(table: str, lines: list[dict[str, object]]) -> list[dict[str, object]]:
    """The layer with the field's outline names nothing, as there is one; in the table of areas it is item field."""
    return [{"item": "field", **line} for line in lines] if table == "field" else lines


def _of_geopackage(path: Path) -> Iterator[tuple[str, list[dict[str, object]]]]:
    with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as base:
        base.row_factory = sqlite3.Row
        names = [
            row[0] for row in base.execute("SELECT table_name FROM gpkg_contents WHERE table_name != 'layer_styles'")
        ]
        for name in names:
            rows = [dict(row) for row in base.execute(f'SELECT * FROM "{name}"')]
            yield name, _field(name, [{k: v for k, v in row.items() if k not in ("fid", "geom")} for row in rows])


def _of_workbook(path: Path) -> Iterator[tuple[str, list[dict[str, object]]]]:
    book = openpyxl.load_workbook(path, data_only=True)
    names, coded = _column_names(book), _season_lines(path)
    for sheet in book:
        rows = sheet.iter_rows(values_only=True)
        heads = []
        for head in next(rows):
            plain = re.sub(r" \([^(]*\)$", "", str(head or ""))
            heads.append(names.get((sheet.title, str(head)), names.get((sheet.title, plain), plain)))
        if sheet.title in ("Summary", "Columns"):
            continue  # prose, and the meaning of columns
        lines = [dict(zip(heads, row, strict=True)) for row in rows if row[0] not in (None, "", "Total", "Sum")]
        yield sheet.title, _with_codes(lines, coded.get(sheet.title, []))


def _season_lines(path: Path) -> dict[str, list[dict[str, object]]]:
    """Lines of the season's GeoPackage by the sheet that shows them, where the workbook is the season's."""
    base = path.with_name("season.gpkg")
    if not path.name.startswith("season") or not base.exists():
        return {}
    return {SHEETS[name]: lines for name, lines in _of_geopackage(base) if name in SHEETS}


def _with_codes(lines: list[dict[str, object]], coded: list[dict[str, object]]) -> list[dict[str, object]]:
    """Sheets write crops and tasks in words, their lines in the order of the table: take the codes from there, nothing else."""
    if len(lines) != len(coded) or not coded:
        return lines
    texts = [
        name for name in THINGS if isinstance(coded[0].get(name), str) and not re.match(r"\d{4}-", str(coded[0][name]))
    ]
    return [
        line | {name: code[name] for name in texts if name in line} for line, code in zip(lines, coded, strict=True)
    ]


def _column_names(book: openpyxl.Workbook) -> dict[tuple[str, str], str]:
    """Names of columns by sheet and head in words, where sheet Columns tells both."""
    if "Columns" not in book.sheetnames:
        return {}
    rows = [[str(cell or "") for cell in row] for row in book["Columns"].iter_rows(min_row=2, values_only=True)]
    return {(row[0], row[1]): row[2] for row in rows if len(row) == 5}


def _of_map(path: Path) -> Iterator[tuple[str, list[dict[str, object]]]]:
    content = json.loads(re.search(r'id="data">(.*?)</script>', path.read_text(encoding="utf-8"), re.DOTALL)[1])
    for layer in content["layers"]:
        columns = layer.get("columns") or {}
        lines = [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
        yield layer["key"], _field(layer["key"], lines)
    yield "crops", [{"crop": c["code"], "plants": c["count"], "share_area_m2": c["share"]} for c in content["crops"]]
