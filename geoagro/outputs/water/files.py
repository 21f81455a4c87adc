"""The files of `geoagro water`: layers for a GIS viewer, a map to look at."""

from __future__ import annotations

from pathlib import Path

from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.looks import Label, Marker, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.staging import check_folder, staged
from geoagro.outputs.water.picture import FALL, FLOW, HELD, OVER, WaterMap, write_water_picture
from geoagro.values.progress import Progress, silent
from geoagro.water.records.tables import FLOW_CROSSINGS, FLOW_LINES, LOW_POINTS, ROW_PROFILE, SPILLS, WaterPlan

GEOPACKAGE, PICTURE = "water.gpkg", "water.png"

_STYLES = {
    FLOW_LINES.name: Style.plain("Line of gathered flow", FLOW),
    FLOW_CROSSINGS.name: Style.plain(
        "Row crosses a flow line", Marker("#ffffff", FLOW.ink, "diamond", 1.8), closest_only=5000
    ),
    ROW_PROFILE.name: Style.plain("Water runs this way along the row", FALL),
    LOW_POINTS.name: Style.plain("Low point", HELD, label=Label("depth_m", looks.INK, decimals=2, closest_scale=1000)),
    SPILLS.name: Style.plain("Water handed down to the next row", OVER),
}


def check_water_folder(folder: Path) -> None:
    """Raise OutputError now where writing would fail later; touches nothing."""
    check_folder(Path(folder), [PICTURE, GEOPACKAGE])


def write_water(plan: WaterPlan, drawn: WaterMap, folder: Path, *, progress: Progress = silent) -> list[Path]:
    """Write water.gpkg and water.png beside the layout; what stood there stays until both are finished.

    Raises
    ------
    OutputError
        Where the folder can't be written to or an old result is open in another program.
    """
    folder = Path(folder)
    with staged(folder, [PICTURE, GEOPACKAGE]) as new:
        write_geopackage(new / GEOPACKAGE, water_layers(plan), drawn.site.crs, progress=progress)
        progress(f"drawing {PICTURE}", 0.0)
        write_water_picture(plan, drawn, new / PICTURE)
        progress(f"drawing {PICTURE}", 1.0)
    return [folder / PICTURE, folder / GEOPACKAGE]


def water_layers(plan: WaterPlan) -> list[OutputLayer]:
    """Layers from the lowest up, tables last."""
    layers = [OutputLayer(spec, frame, _STYLES.get(spec.name)) for spec, frame in plan.tables()]
    return sorted(layers, key=lambda layer: layer.spec.geometry == "none")
