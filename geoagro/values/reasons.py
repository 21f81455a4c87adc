"""Why ground is left unplanted or a row is cut: the one register that layers, pictures, reports and maps read.

A further reason is one more record here; the rule that finds such ground then names its code.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from geoagro.values.words import say

Hatch = Literal["", "slash", "backslash", "horizontal", "vertical", "cross", "diagonal_cross", "dots"]


@dataclass(frozen=True)
class Reason:
    """A reason, with all that any product says or draws of it.

    Attributes
    ----------
    code
        As in column `reason` of layers and tables.
    words
        For legends, tables and the terminal.
    definition
        What is counted, in a sentence.
    remedy
        What to do for more ground, set into a sentence; empty where no setting asks for it.
    key
        Key of the design file that asks for it; empty where none does.
    paint
        Colour of the fill, #rrggbb.
    from_cells
        Whether its outline is read from a raster, and so is no more exact than a cell.
    """

    code: str
    words: str
    definition: str
    remedy: str
    key: str
    paint: str
    hatch: Hatch = ""
    from_cells: bool = False


LEFTOVER = "row_margin"
"""Code of what no limit forbade."""

# in the order in which ground is taken; what is taken first is counted first
REASONS: dict[str, Reason] = {
    reason.code: reason
    for reason in (
        Reason(
            "exclusion",
            say("Exclusion"),
            say("Drawn exclusions with their buffers."),
            "check inputs.exclusions and their buffer_m",
            "inputs.exclusions",
            "#c9ccd1",
            "diagonal_cross",
        ),
        Reason(
            "track",
            say("Access track"),
            say("Access tracks at their width."),
            "check inputs.tracks and their width_m",
            "inputs.tracks",
            "#a39684",
            "backslash",
        ),
        Reason(
            "nursery",
            say("Nursery"),
            say("Zones for raising plants, without rows and beds."),
            "change the zone",
            "zones",
            "#8db07a",
            "horizontal",
        ),
        Reason(
            "seed_bed",
            say("Seed bed"),
            say("Zones for sowing, without rows and beds."),
            "change the zone",
            "zones",
            "#aebf5e",
            "vertical",
        ),
        Reason(
            "grass",
            say("Grass"),
            say("Zones kept under grass."),
            "change the zone",
            "zones",
            "#7fae57",
            "slash",
        ),
        Reason(
            "compost",
            say("Compost"),
            say("Zones for compost and store."),
            "change the zone",
            "zones",
            "#b59b7c",
            "dots",
        ),
        Reason(
            "leave_alone",
            say("Left alone"),
            say("Zones that the design leaves alone."),
            "change the zone",
            "zones",
            "#a3967c",
            "diagonal_cross",
        ),
        Reason(
            "setback",
            say("Setback along the boundary"),
            say("Strip along the boundary and its holes that the design keeps free."),
            "lower ground.setback_m",
            "ground.setback_m",
            "#b7c4ce",
            "slash",
        ),
        Reason(
            "too_steep",
            say("Too steep"),
            say("Steeper than the design's limit."),
            "raise ground.max_slope_pct",
            "ground.max_slope_pct",
            "#e8d3df",
            "vertical",
            from_cells=True,
        ),
        Reason(
            "no_elevation",
            say("No elevation"),
            say("Elevation or slope is unknown there."),
            "give a raster that covers the field",
            "ground.max_gap_m",
            "#d9d9d9",
            "horizontal",
            from_cells=True,
        ),
        Reason(
            "drainage",
            say("Drainage line"),
            say("Strips along lines where water gathers, at which rows end."),
            "raise rows.drainage_area_ha",
            "rows.drainage_area_ha",
            "#1f4fae",
        ),
        Reason(
            "small_part",
            say("Separate part too small"),
            say("Separate parts smaller than the design allows."),
            "lower ground.min_part_m2",
            "ground.min_part_m2",
            "#6c737d",
        ),
        Reason(
            "grade_limit",
            say("Row grade above the limit"),
            say("A row there would climb or fall more than the design allows."),
            "raise rows.max_grade_pct",
            "rows.max_grade_pct",
            "#d3dcf0",
            "backslash",
        ),
        Reason(
            "rise_limit",
            say("Row would rise on its way"),
            say("A row there would rise by more than 5 cm where the design wants it to fall."),
            "give another rows.outlet, or level rows (rows.target_grade_pct: 0)",
            "rows.target_grade_pct",
            "#99c2bc",
            "backslash",
        ),
        Reason(
            "spacing_limit",
            say("Row spacing out of tolerance"),
            say("A row there would come nearer to, or farther from, its neighbour than the design allows."),
            "raise rows.spacing_tolerance_pct",
            "rows.spacing_tolerance_pct",
            "#dbe6f5",
            "slash",
        ),
        Reason(
            "turn_radius",
            say("Curve too tight"),
            say("A row there would turn tighter than the design allows."),
            "lower rows.min_turn_radius_m",
            "rows.min_turn_radius_m",
            "#e3e0f0",
            "cross",
        ),
        Reason(
            "short_row",
            say("Row too short"),
            say("A row there would be shorter than the design allows."),
            "lower rows.min_row_length_m",
            "rows.min_row_length_m",
            "#ecebe2",
            "dots",
        ),
        Reason(
            "turning_cost",
            say("Row not worth its turns"),
            say("A row there would hold less ground within limits than its two turns are said to cost."),
            "lower rows.turning_cost_m",
            "rows.turning_cost_m",
            "#ccc0d6",
            "dots",
        ),
        Reason(
            "skipped",
            say("Skipped bed"),
            say("Beds that the design skips, and bare zones of rows or beds."),
            "take the bed out of beds.skip",
            "beds.skip",
            "#b3b6bd",
            "cross",
        ),
        Reason(
            LEFTOVER,
            say("Leftover at edges and row ends"),
            say("Beyond the outermost row or bed, or too narrow for another one."),
            "",
            "",
            "#dcdbd5",
        ),
    )
}


def reason_of(code: str) -> Reason:
    """Give the record of a reason; one that a file brings and this version doesn't know goes by its own name."""
    name = code.replace("_", " ").capitalize()
    return REASONS.get(code) or Reason(code, name, f"Left out for the reason '{code}'.", "", "", "#e6e6e6")
