"""Lists of marks as CSV: point files for survey receivers and controllers, and the tables for the tape."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.outputs.stakes.places import Places
from geoagro.outputs.tables.plain_text import guarded_table
from geoagro.stakeout.records.stakes import StakeOut


def write_point_file(path: Path, marks: gpd.GeoDataFrame, places: Places, *, north_first: bool) -> None:
    """Write point, northing, easting, height, description (or easting first): no header, CRLF, as controllers read it.

    Heights are in the unit of the coordinates; those that aren't known are left empty.
    """
    north, east = (_fixed(v, places.decimals) for v in (places.north, places.east))
    first, second = (north, east) if north_first else (east, north)
    table = pd.DataFrame(
        {
            "point": marks["mark"].to_numpy(),
            "first": first,
            "second": second,
            "height": _fixed(marks["z"].to_numpy() / places.metres, 3),
            "description": [_words(mark) for mark in marks.itertuples()],
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


def write_about(path: Path, stakes: StakeOut, places: Places, sentences: list[str]) -> None:
    """Say what the files hold: order, CRS, unit, heights, scale, and the advice for the receiver."""
    unit = str(places.crs.axis_info[0].unit_name)
    lines = [
        "Stake-out files",
        "",
        "stakes_northing_first.csv   point, northing, easting, height, description (order PNEZD); no header",
        "stakes_easting_first.csv    point, easting, northing, height, description (order PENZD); no header",
        f"                   CRS {places.crs_name}; unit {unit}",
        f"stakes.dxf         layers by kind, in {places.crs_name}",
        "stakes.csv         all columns, in walking order, with a header",
        "stakes.gpx, stakes.kml, stakes.geojson   longitude and latitude on WGS 84",
        "stakes.gpkg        layers and tables in the working CRS",
        "",
        f"Heights: {stakes.height_source}",
        *(["Where a height is not known it is left empty."] if stakes.marks["z"].isna().any() else []),
        *(["Lengths are US survey feet (1200/3937 m), not international feet."] if _is_us_feet(places) else []),
        f"Baseline: peg A at {stakes.baseline.a_name}, peg B at {stakes.baseline.b_name}.",
        *sentences,
    ]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _is_us_feet(places: Places) -> bool:
    return abs(places.metres - 1200 / 3937) < 1e-9


def _words(mark: Any) -> str:
    return " ".join([f"row {mark.label}", mark.kind.replace("_", " "), mark.note or ""]).strip().replace(",", ";")


def _fixed(values: Floats, decimals: int) -> list[str]:
    return [f"{v:.{decimals}f}" if np.isfinite(v) else "" for v in np.asarray(values)]
