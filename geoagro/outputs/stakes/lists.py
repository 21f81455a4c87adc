"""Lists of marks as CSV: point files for survey receivers and controllers, and the tables for the tape."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.outputs.stakes.mark_words import kind_and_notes
from geoagro.outputs.stakes.places import Places
from geoagro.outputs.tables.plain_text import guarded_table
from geoagro.outputs.words.say import Words
from geoagro.stakeout.records.stakes import StakeOut
from geoagro.values.words import say

_UNITS = {"metre": say("metre"), "foot": say("foot"), "US survey foot": say("US survey foot")}
"""Units of a CRS that have a name in the reader's language."""


def write_point_file(path: Path, marks: gpd.GeoDataFrame, places: Places, words: Words, *, north_first: bool) -> None:
    """Write point, northing, easting, height, description (or easting first): no header, CRLF, as controllers read it.

    Heights are in the unit of the coordinates; those that aren't known are left empty.
    """
    north, east = (_fixed(v, places.decimals) for v in (places.north, places.east))
    first, second = (north, east) if north_first else (east, north)
    table = pd.DataFrame(
        {
            "point": marks["stake"].to_numpy(),
            "first": first,
            "second": second,
            "height": _fixed(marks["z"].to_numpy() / places.metres, 3),
            "description": [_description(mark, words) for mark in marks.itertuples()],
        }
    )
    _write(path, table, header=False)


def write_mark_list(path: Path, marks: gpd.GeoDataFrame, places: Places) -> None:
    """Write all that is known of each mark, in walking order, with a header."""
    table = pd.DataFrame(marks.drop(columns="geometry"))
    table.insert(0, "lon", _fixed(places.lon, 8))
    table.insert(0, "lat", _fixed(places.lat, 8))
    table = table.sort_values("walk").rename(columns={"x": "x_working_m", "y": "y_working_m", "z": "z_m"})
    _write(path, table)


def write_table(path: Path, table: pd.DataFrame) -> None:
    """Write one table to three decimals."""
    _write(path, table)


def _write(path: Path, table: pd.DataFrame, *, header: bool = True) -> None:
    """Write UTF-8 with the line ends of RFC 4180 (CRLF), as every list of the folder; nothing is a formula."""
    guarded_table(table).to_csv(
        path, index=False, header=header, float_format="%.3f", lineterminator="\r\n", encoding="utf-8"
    )


def write_about(path: Path, stakes: StakeOut, places: Places, sentences: list[str], words: Words) -> None:
    """Say what the files hold: order, CRS, unit, heights, scale, and the advice for the receiver."""
    lines = [
        words(say("Stake-out files")),
        "",
        *_files(words, places.crs_name, length_unit(places, words)),
        "",
        words(say("Heights: {source}."), source=stakes.height_source),
        *([words(say("Where a height is not known it is left empty."))] if stakes.marks["z"].isna().any() else []),
        *(
            [words(say("Lengths are US survey feet (1200/3937 m), not international feet."))]
            if is_us_feet(places)
            else []
        ),
        words(say("Baseline: peg A at {a}, peg B at {b}."), a=stakes.baseline.a_name, b=stakes.baseline.b_name),
        *sentences,
    ]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _files(words: Words, crs: str, unit: str) -> list[str]:
    told = (
        (
            "stakes_northing_first.csv",
            say("point, northing, easting, height, description (order PNEZD); no header; CRS {crs}; unit {unit}"),
        ),
        (
            "stakes_easting_first.csv",
            say("point, easting, northing, height, description (order PENZD); no header; CRS {crs}; unit {unit}"),
        ),
        ("stakes.dxf", say("layers by kind, in {crs}")),
        ("stakes.csv", say("all columns, in walking order, with a header")),
        ("stakes.gpx, stakes.kml, stakes.geojson", say("longitude and latitude on WGS 84")),
        ("stakes.gpkg", say("layers and tables in the working CRS")),
    )
    return [f"{name}   {words(message, crs=crs, unit=unit)}" for name, message in told]


def length_unit(places: Places, words: Words) -> str:
    """Say the unit of easting and northing."""
    unit = str(places.crs.axis_info[0].unit_name)
    return words(_UNITS.get(unit, unit))


def is_us_feet(places: Places) -> bool:
    """Tell whether it is the foot that is easily taken for another."""
    return abs(places.metres - 1200 / 3937) < 1e-9


def _description(mark: Any, words: Words) -> str:
    what = kind_and_notes(mark.kind, mark.note or "", words)
    return words(say("row {row}: {what}"), row=mark.label, what=what).replace(",", ";")


def _fixed(values: Floats, decimals: int) -> list[str]:
    return [f"{v:.{decimals}f}" if np.isfinite(v) else "" for v in np.asarray(values)]
