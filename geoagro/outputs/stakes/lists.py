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

    Heights are in the unit of the coordinates (metres beside degrees); those that aren't known are written as 0.
    """
    north, east = (_fixed(v, places.decimals) for v in (places.north, places.east))
    first, second = (north, east) if north_first else (east, north)
    table = pd.DataFrame(
        {
            "point": marks["mark"].to_numpy(),
            "first": first,
            "second": second,
            "height": _fixed(np.nan_to_num(marks["z"].to_numpy()) / places.metres, 3),
            "description": [_words(mark) for mark in marks.itertuples()],
        }
    )
    guarded_table(table).to_csv(path, header=False, index=False, lineterminator="\r\n")


def write_mark_list(path: Path, marks: gpd.GeoDataFrame, places: Places) -> None:
    """Write all that is known of each mark, in walking order, with a header."""
    table = pd.DataFrame(marks.drop(columns="geometry"))
    table.insert(0, "lon", _fixed(places.lon, 8))
    table.insert(0, "lat", _fixed(places.lat, 8))
    table = table.sort_values("walk").rename(columns={"x": "x_working_m", "y": "y_working_m", "z": "z_m"})
    guarded_table(table).to_csv(path, index=False, float_format="%.3f")


def write_table(path: Path, table: pd.DataFrame) -> None:
    """Write one table to three decimals."""
    guarded_table(table).to_csv(path, index=False, float_format="%.3f")


def write_about(path: Path, stakes: StakeOut, places: Places, drawing: Places, sentences: list[str]) -> None:
    """Say what the files hold: order, CRS, unit, heights, scale, and the advice for the receiver."""
    unit = "degrees" if places.crs.is_geographic else str(places.crs.axis_info[0].unit_name)
    lines = [
        "Stake-out files",
        "",
        "stakes_pnezd.csv   point, northing, easting, height, description; no header",
        "stakes_penzd.csv   point, easting, northing, height, description; no header",
        f"                   CRS {places.crs_name}; unit {unit}",
        f"stakes.dxf         layers by kind, in {drawing.crs_name}",
        "stakes.csv         all columns, in walking order, with a header",
        "stakes.gpx, stakes.kml, stakes.geojson   longitude and latitude on WGS 84",
        "stakes.gpkg        layers and tables in the working CRS",
        "",
        f"Heights: {stakes.height_source}",
        *(["Where a height is not known the point files say 0."] if stakes.marks["z"].isna().any() else []),
        f"Baseline: peg A at {stakes.baseline.a_name}, peg B at {stakes.baseline.b_name}.",
        *sentences,
    ]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _words(mark: Any) -> str:
    return " ".join([f"row {mark.label}", mark.kind.replace("_", " "), mark.note or ""]).strip().replace(",", ";")


def _fixed(values: Floats, decimals: int) -> list[str]:
    return [f"{v:.{decimals}f}" for v in np.asarray(values)]
