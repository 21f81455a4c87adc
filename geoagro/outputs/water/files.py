"""The files of `geoagro water`: layers for a GIS viewer, a map to look at."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pandas as pd

from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.looks import Label, Marker, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.layout.sealing import seal
from geoagro.outputs.staging import check_folder, staged
from geoagro.outputs.water.picture import FALL, FLOW, HELD, OVER, WaterMap, write_water_picture
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.progress import Progress, silent
from geoagro.values.results.water import WATER_FINDINGS, WATER_GEOPACKAGE, WATER_PICTURE, WATER_SOURCE
from geoagro.values.words import Sentence, say
from geoagro.water.records.tables import FLOW_CROSSINGS, FLOW_LINES, LOW_POINTS, ROW_PROFILE, SPILLS, WaterPlan

_STYLES = {
    FLOW_LINES.name: Style.plain(say("Line of gathered flow"), FLOW),
    FLOW_CROSSINGS.name: Style.plain(
        say("Row crosses a flow line"), Marker("#ffffff", FLOW.ink, "diamond", 1.8), closest_only=5000
    ),
    ROW_PROFILE.name: Style.plain(say("Water runs this way along the row"), FALL),
    LOW_POINTS.name: Style.plain(
        say("Low point"), HELD, label=Label("depth_m", looks.INK, decimals=2, closest_scale=1000)
    ),
    SPILLS.name: Style.plain(say("Water handed down to the next row"), OVER),
}


def check_water_folder(folder: Path) -> None:
    """Raise OutputError now where writing would fail later; touches nothing."""
    check_folder(Path(folder), [WATER_PICTURE, WATER_GEOPACKAGE])


def write_water(
    plan: WaterPlan,
    drawn: WaterMap,
    folder: Path,
    *,
    of_rows: str,
    of_rule: str,
    words: Words = ENGLISH,
    progress: Progress = silent,
) -> list[Path]:
    """Write water.gpkg and water.png beside the layout; what stood there stays until both are finished.

    Parameters
    ----------
    of_rows
        Checksum of the layout's rows, by which a report knows later that these are still the same.
    of_rule
        Checksum of what the design says of water, likewise.

    Raises
    ------
    OutputError
        Where the folder can't be written to or an old result is open in another program.
    """
    folder = Path(folder)
    with staged(folder, [WATER_PICTURE, WATER_GEOPACKAGE]) as new:
        picture, file = new / WATER_PICTURE, new / WATER_GEOPACKAGE
        progress(Sentence("drawing {file}", file=WATER_PICTURE), 0.0)
        write_water_picture(plan, drawn, picture, words)
        progress(Sentence("drawing {file}", file=WATER_PICTURE), 1.0)
        layers = [*water_layers(plan), OutputLayer(WATER_SOURCE, _source(of_rows, of_rule, picture))]
        write_geopackage(file, layers, drawn.site.crs, words=words, progress=progress)
        seal(file, layers, drawn.site.crs, words)
    return [folder / WATER_PICTURE, folder / WATER_GEOPACKAGE]


def water_layers(plan: WaterPlan) -> list[OutputLayer]:
    """Layers from the lowest up, tables last."""
    layers = [OutputLayer(spec, frame, _STYLES.get(spec.name)) for spec, frame in plan.tables()]
    layers.append(OutputLayer(WATER_FINDINGS, _findings(plan)))
    return sorted(layers, key=lambda layer: layer.spec.geometry == "none")


def _findings(plan: WaterPlan) -> pd.DataFrame:
    told = [(finding.level, finding.where, finding.text) for finding in plan.findings]
    level, place, text = (list(column) for column in zip(*told, strict=True)) if told else ([], [], [])
    return WATER_FINDINGS.frame({"severity": level, "about": place, "finding": text})


def _source(of_rows: str, of_rule: str, picture: Path) -> pd.DataFrame:
    drawn = hashlib.sha256(picture.read_bytes()).hexdigest()
    return WATER_SOURCE.frame({"item": ["rows", "water", "picture"], "sha256": [of_rows, of_rule, drawn]})
