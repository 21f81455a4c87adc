"""Gather every table of a run, whatever file it stands in, and say which equal names hold unequal values."""

import itertools
import json
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pyogrio

KEYS = (
    "item",
    "parcel",
    "plot",
    "zone",
    "crop",
    "bed",
    "row",
    "mark",
    "plant",
    "survey",
    "month",
    "year",
    "task",
    "day",
)
"""Columns that say what a line is about; lines of two tables are the same where all of these agree."""
CLOSE = 0.06  # figures are rounded to a tenth in some files


def tables_of(folder: Path):
    """Every table below a folder: name, then frame."""
    for path in sorted(folder.rglob("*")):
        name = str(path.relative_to(folder))
        if path.suffix == ".gpkg":
            for layer, _ in pyogrio.list_layers(path):
                yield f"{name}:{layer}", pyogrio.read_dataframe(path, layer=layer, read_geometry=False)
        elif path.suffix == ".geojson":
            features = json.loads(path.read_text())["features"]
            yield name, pd.DataFrame([feature["properties"] for feature in features])
        elif path.suffix == ".csv" and "_first" not in path.name:  # point lists have no head
            yield name, pd.read_csv(path, dtype=dict.fromkeys(KEYS, str))
        elif path.suffix == ".json":
            for title, table in json.loads(path.read_text()).get("tables", {}).items():
                yield f"{name}:{title}", pd.DataFrame(table["rows"])
        elif path.suffix == ".xlsx":
            yield from ((f"{name}:{title}", frame) for title, frame in sheets_of(path))


def sheets_of(path: Path):
    """Every named table of a workbook."""
    for sheet in openpyxl.load_workbook(path, data_only=True):
        for title, cells in sheet.tables.items():
            head, *rows = [[cell.value for cell in line] for line in sheet[cells]]
            yield title, pd.DataFrame(rows, columns=head)


def keyed(tables):
    """Tables whose lines can be told apart by KEYS, grouped by which of them they have."""
    groups = {}
    for name, frame in tables:
        key = tuple(column for column in KEYS if column in frame)
        if key and len(frame) and not frame.duplicated(list(key)).any():
            texts = frame.assign(**{column: frame[column].astype(str) for column in key})
            groups.setdefault(key, []).append((name, texts.set_index(list(key))))
    return groups


def differences(tables):
    """Lines of text: two tables, a column and the first key where they hold different numbers; and how many were compared."""
    found, compared = [], 0
    for group in keyed(tables).values():
        for (one, first), (other, second) in itertools.combinations(group, 2):
            both = first.index.intersection(second.index)
            days = {name for frame in (first, second) for name in frame.select_dtypes("datetime").columns}
            for column in first.columns.intersection(second.columns).difference(list(days)):
                pair = [
                    pd.to_numeric(frame.loc[both, column], errors="coerce").to_numpy(float) for frame in (first, second)
                ]
                known = np.isfinite(pair[0]) & np.isfinite(pair[1])
                compared += int(known.sum())
                off = known & (np.abs(pair[0] - pair[1]) > CLOSE)
                if off.any():
                    at = int(off.argmax())
                    found.append(f"{column}: {one} has {pair[0][at]}, {other} {pair[1][at]} at {both[at]}")
    return found, compared
