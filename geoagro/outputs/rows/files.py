"""The files of `geoagro rows`: rows and limits for a GIS viewer, and pictures to look at."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from geoagro.ground.records.limit_costs import LIMIT_COSTS
from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.looks import Fill, Label, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.layout.frames import plantable_parts
from geoagro.outputs.layout.ground_layers import gully_layers
from geoagro.outputs.layout.hand_layers import hand_layers
from geoagro.outputs.rows.difficulty_picture import write_difficulty_picture
from geoagro.outputs.rows.difficulty_raster import write_difficulty_raster
from geoagro.outputs.rows.picture import CUT, write_rows_picture
from geoagro.outputs.staging import check_folder, staged
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.rows.records.plan import ROW_CUTS, RowPlan
from geoagro.terrain.records.difficulty import DIFFICULTY_ZONES
from geoagro.values.base.doors import door
from geoagro.values.ground import PLANTABLE, UNPLANTED
from geoagro.values.layout import LAYOUT_QUALITY
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import TREE_ROWS
from geoagro.values.terrain import CONTOURS, TERRAIN_DIFFICULTY
from geoagro.values.words import Sentence, say

GEOPACKAGE, PICTURE, DIFFICULTY, DIFFICULTY_RASTER = "rows.gpkg", "rows.png", "difficulty.png", "difficulty.tif"

_ZONES = {
    "spacing": (say("Spacing is the tighter limit"), Fill("#e2b377", looks.INK, outline_mm=0.1, hatch="slash")),
    "grade": (say("Grade is the tighter limit"), Fill("#8fb8c9", looks.INK, outline_mm=0.1, hatch="backslash")),
    "both": (say("Both are about equally tight"), Fill("#b9a9c4", looks.INK, outline_mm=0.1, hatch="diagonal_cross")),
    "neither": (say("Neither: parallel rows hold the grade"), Fill("#fbf4e4", looks.INK, outline_mm=0.1)),
}


def rows_file_names(*, with_heights: bool) -> list[str]:
    """Names of the files of a set of rows, the GeoPackage last."""
    return [PICTURE, *([DIFFICULTY, DIFFICULTY_RASTER] if with_heights else []), GEOPACKAGE]


def check_rows_folder(folder: Path) -> None:
    """Raise OutputError now where writing would fail later; touches nothing."""
    check_folder(Path(folder), [*rows_file_names(with_heights=True)])


@door
def write_rows(plan: RowPlan, folder: Path, *, words: Words = ENGLISH, progress: Progress = silent) -> list[Path]:
    """Write rows.gpkg, rows.png and, where heights are known, the difficulty of the ground as picture and raster.

    What stood in the folder stays until all of it is finished. Raises OutputError where it can't be written.

    >>> from pathlib import Path
    >>> from geoagro import example_field, rows_of, write_rows
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     print([path.name for path in write_rows(rows_of(*example_field()), Path(folder))])
    ['rows.png', 'difficulty.png', 'difficulty.tif', 'rows.gpkg']
    """
    folder = Path(folder)
    names = rows_file_names(with_heights=plan.difficulty is not None)
    with staged(folder, names, gone=[name for name in rows_file_names(with_heights=True) if name not in names]) as new:
        layers, title = rows_layers(plan), plan.site.name
        write_geopackage(new / GEOPACKAGE, layers, plan.site.crs, project=title, words=words, progress=progress)
        progress(Sentence("drawing {file}", file=PICTURE), 0.0)
        write_rows_picture(plan, new / PICTURE, words)
        if plan.difficulty is not None:
            progress(Sentence("drawing {file}", file=DIFFICULTY), 0.0)
            write_difficulty_picture(plan, plan.difficulty, new / DIFFICULTY, words)
            write_difficulty_raster(plan.difficulty, new / DIFFICULTY_RASTER)
            progress(Sentence("drawing {file}", file=DIFFICULTY), 1.0)
    return [folder / name for name in names]


def write_quick_picture(plan: RowPlan, folder: Path, words: Words = ENGLISH) -> Path:
    """Write rows.png alone; gives its path."""
    with staged(folder, [PICTURE]) as new:
        write_rows_picture(plan, new / PICTURE, words)
    return folder / PICTURE


def rows_layers(plan: RowPlan) -> list[OutputLayer]:
    """Layers from the lowest up, tables last."""
    crs = plan.site.crs
    reasons = sorted(set(plan.unplanted["reason"]))
    contours = {"true": (say("Every fifth contour"), looks.INDEX_CONTOUR), "false": (say("Contour"), looks.CONTOUR)}
    layers = [
        OutputLayer(
            PLANTABLE, plantable_parts(plan.ground.plantable, crs), Style.plain(say("Plantable"), looks.PLANTABLE)
        ),
        OutputLayer(DIFFICULTY_ZONES, plan.zones, Style(_ZONES, column="first"), note=_sentence(plan)),
        OutputLayer(
            UNPLANTED,
            plan.unplanted,
            Style({reason: looks.reason_look(reason) for reason in reasons}, column="reason"),
            note=say("Ground that no row serves, with the reason; beds are not laid yet."),
        ),
        *gully_layers(plan.ground),
        OutputLayer(CONTOURS, plan.contours, Style(contours, column="is_index")),
        OutputLayer(ROW_CUTS, _cuts(plan), Style.plain(say("Piece of row cut away"), CUT)),
        OutputLayer(
            TREE_ROWS,
            plan.rows.frame,
            Style.plain(
                say("Tree row"), looks.TREE_ROW, label=Label("row", looks.INK, closest_scale=2500, at_start=True)
            ),
        ),
        *hand_layers(plan.rows),
        OutputLayer(LAYOUT_QUALITY, plan.quality.frame(LAYOUT_QUALITY)),
        OutputLayer(LIMIT_COSTS, plan.costs),
    ]
    if plan.difficulty is not None:
        layers.append(OutputLayer(TERRAIN_DIFFICULTY, plan.difficulty.summary, note=_sentence(plan)))
    return layers


def _sentence(plan: RowPlan) -> str:
    return "" if plan.difficulty is None else plan.difficulty.sentence


def _cuts(plan: RowPlan) -> Any:
    cut = plan.rows.cut
    lines = cut.geometry.to_numpy()
    return ROW_CUTS.frame(
        {"reason": cut["reason"].to_numpy(), "length_m": [line.length for line in lines]},
        geometry=lines,
        crs=plan.site.crs,
    )
