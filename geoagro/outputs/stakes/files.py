"""The folder of a stake-out: point files, maps for receivers, tables, printed sheets."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pyogrio
from pyogrio.errors import DataSourceError

from geoagro.crs import WGS84
from geoagro.errors import OutputError
from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.looks import Label, Line, Marker, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.staging import staged, unwritten
from geoagro.outputs.stakes.dxf import write_dxf
from geoagro.outputs.stakes.gpx import write_gpx
from geoagro.outputs.stakes.grid_scale import grid_scale, scale_sentence
from geoagro.outputs.stakes.kml import write_kml
from geoagro.outputs.stakes.lists import write_about, write_mark_list, write_point_file, write_table
from geoagro.outputs.stakes.places import Places, need_lengths, places_of
from geoagro.outputs.stakes.pocket_list import write_pocket_list
from geoagro.outputs.stakes.procedure_page import write_procedure
from geoagro.outputs.stakes.scale_factor import ScaleFactor
from geoagro.outputs.stakes.sheet_map import Content
from geoagro.outputs.stakes.sheets import write_sheets
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.stakeout.records.procedure import STEPS
from geoagro.stakeout.records.stakes import (
    BASELINE_OFFSETS,
    LEVELS,
    RECEIVERS,
    STAKE_SUMMARY,
    TAPE_OFFSETS,
    WALK,
    StakeOut,
)
from geoagro.values.base.doors import door
from geoagro.values.beds import Beds
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import TREE_ROWS, TreeRows
from geoagro.values.site import Site
from geoagro.values.stakeout import MARKS, STAKE_KINDS, StakeRule
from geoagro.values.words import Sentence, say

GEOPACKAGE = "stakes.gpkg"
_WALK_LINE = Line("#7a2f6d", 0.3, (2.0, 1.0))
_INK, _HOLLOW = "#20262b", "#ffffff"


@door
def write_stakes(
    stakes: StakeOut,
    rows: TreeRows,
    site: Site,
    rule: StakeRule,
    folder: Path,
    *,
    beds: Beds | None = None,
    words: Words = ENGLISH,
    progress: Progress = silent,
) -> list[Path]:
    """Write all files of a stake-out; earlier ones stay until all are finished. `beds` go into the drawing.

    `words` is the language of sheets, lists and descriptions; names of columns, layers and files stay as they are.

    Raises OutputError where a file can't be written, or the CRS asked for is geographic (lists hold lengths).

    >>> from pathlib import Path
    >>> from geoagro import example_layout, stakes_of, write_stakes
    >>> import tempfile
    >>> laid = example_layout()
    >>> stakes = stakes_of(laid.design, laid.site, laid.rows, laid.beds, laid.terrain)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     print(len(write_stakes(stakes, laid.rows, laid.site, laid.design.stakeout, Path(folder))) > 5)
    True
    """
    if rule.crs is not None:
        need_lengths(rule.crs)
    places = places_of(stakes.marks["x"], stakes.marks["y"], site.crs, rule.crs)
    middle = site.boundary.representative_point()
    known = bool(np.isfinite(stakes.marks["z"]).any())
    factor = grid_scale(site.crs, middle.x, middle.y, float(np.nanmean(stakes.marks["z"])) if known else np.nan)
    tables = {"tape_offsets": stakes.tape_offsets, "baseline_offsets": stakes.baseline_offsets, "levels": stakes.levels}
    names = [
        *("stakes_northing_first.csv", "stakes_easting_first.csv", "stakes.csv", *(f"{name}.csv" for name in tables)),
        *("stakes.gpx", "stakes.kml", "stakes.geojson", "stakes.dxf", "sheets.pdf", "pocket_list.pdf", "procedure.pdf"),
        *("about.txt", GEOPACKAGE),
    ]
    content = Content(stakes, rows, site, factor, tuple(_sentences(stakes, factor, rule, words)), words)
    title = words(say("Stakes of {field}"), field=site.name)
    try:
        with staged(folder, names) as new:
            write_point_file(new / names[0], stakes.marks, places, words, north_first=True)
            write_point_file(new / names[1], stakes.marks, places, words, north_first=False)
            write_mark_list(new / names[2], stakes.marks, places)
            for name, table in tables.items():
                write_table(new / f"{name}.csv", table)
            write_gpx(new / "stakes.gpx", stakes, words, title=title)
            write_kml(new / "stakes.kml", stakes, rows, places, words, title=title)
            _write_geojson(new / "stakes.geojson", stakes, places)
            write_dxf(new / "stakes.dxf", stakes, rows, site, places, beds=beds, words=words)
            write_sheets(new / "sheets.pdf", content, rule, progress=progress)
            write_pocket_list(new / "pocket_list.pdf", stakes, words, title=site.name, paper=rule.paper)
            write_procedure(new / "procedure.pdf", content, paper=rule.paper)
            write_about(new / "about.txt", stakes, places, list(content.advice), words)
            write_geopackage(new / GEOPACKAGE, stake_layers(stakes, rows), site.crs, words=words)
    except (DataSourceError, OSError) as error:
        raise OutputError(unwritten(Path(folder), error)) from error
    return [Path(folder) / name for name in names]


def stake_layers(stakes: StakeOut, rows: TreeRows) -> list[OutputLayer]:
    """Layers and tables of `stakes.gpkg`, lowest first."""
    marks = Style(
        {
            code: (kind.words, Marker(_INK if kind.is_filled else _HOLLOW, _INK, kind.shape, kind.size_mm))
            for code, kind in STAKE_KINDS.items()
        },
        column="kind",
        label=Label("stake", looks.INK, closest_scale=1500),
    )
    return [
        OutputLayer(TREE_ROWS, rows.frame, Style.plain(say("Tree row"), looks.TREE_ROW)),
        OutputLayer(WALK, stakes.walk, Style.plain(say("Walk"), _WALK_LINE)),
        OutputLayer(
            MARKS, stakes.marks, marks, note=Sentence("Stakes; heights: {source}.", source=stakes.height_source)
        ),
        OutputLayer(TAPE_OFFSETS, stakes.tape_offsets),
        OutputLayer(BASELINE_OFFSETS, stakes.baseline_offsets),
        OutputLayer(LEVELS, stakes.levels),
        OutputLayer(RECEIVERS, stakes.receivers),
        OutputLayer(STEPS, stakes.procedure.steps),
        OutputLayer(STAKE_SUMMARY, stakes.summary.frame(STAKE_SUMMARY)),
    ]


def _sentences(stakes: StakeOut, factor: ScaleFactor, rule: StakeRule, words: Words) -> list[str]:
    chosen = receiver_line(stakes, rule)
    receiver = words(
        say(
            "Receiver ({receiver}, {sigma:.2f} m standard deviation): half of the row spacings come out within {half:.2f} m, 95 % "
            "within {most:.2f} m."
        ),
        receiver=words(chosen.receiver), sigma=chosen.sigma_m, half=chosen.error_p50_m, most=chosen.error_p95_m,
    )  # fmt: skip
    advice = words(stakes.advice[chosen.receiver_class])
    return [scale_sentence(factor, words), f"{receiver} {advice}", *map(words, stakes.procedure.sentences)]


def receiver_line(stakes: StakeOut, rule: StakeRule) -> Any:
    """Pick the line of table RECEIVERS that the design asks for: its own accuracy, else its class."""
    table = stakes.receivers
    return next(
        table[table["receiver_class"] == ("own" if rule.accuracy_m is not None else rule.receiver)].itertuples()
    )


def _write_geojson(path: Path, stakes: StakeOut, places: Places) -> None:
    frame = stakes.marks.drop(columns=["x", "y", "geometry"])
    points = gpd.GeoDataFrame(frame, geometry=gpd.points_from_xy(places.lon, places.lat), crs=WGS84)
    pyogrio.write_dataframe(
        points, path, driver="GeoJSON", layer_options={"RFC7946": "YES", "COORDINATE_PRECISION": "8"}
    )
