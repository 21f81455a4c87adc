"""What had another name before: told once to whoever still writes the old one, and listed in the guide; nothing reads both."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["key", "layer", "column", "file", "option", "command"]


@dataclass(frozen=True)
class Renamed:
    """A name that changed.

    Attributes
    ----------
    old, new
        Keys with their section, columns with their layer, files by name, options with their command.
    note
        What else changed, as a sentence; empty where only the name did.
    """

    kind: Kind
    old: str
    new: str
    note: str = ""


RENAMED: tuple[Renamed, ...] = (
    Renamed("key", "ground.steepest_pct", "ground.max_slope_pct"),
    Renamed("key", "ground.smallest_part_m2", "ground.min_part_m2"),
    Renamed("key", "ground.largest_gap_m", "ground.max_gap_m"),
    Renamed("key", "stakeout.start", "stakeout.walk_from"),
    Renamed("key", "report.locale", "locale", "It holds for all that is written for people."),
    Renamed("column", "plants.azimuth_deg", "plants.bearing_deg"),
    Renamed("column", "tree_rows.height_m", "tree_rows.elevation_m"),
    Renamed("column", "contours.height_m", "contours.elevation_m"),
    Renamed("column", "baseline_offsets.along_m", "baseline_offsets.baseline_m"),
    Renamed("key", "stakeout.minutes_per_mark", "stakeout.minutes_per_stake"),
    Renamed("layer", "marks", "stakes", "In `stakes.gpkg`; the survey's layer `marks_asbuilt` is `stakes_asbuilt`."),
    Renamed(
        "column",
        "marks.mark",
        "stakes.stake",
        "Also in the stake lists and in `tape_offsets`, `baseline_offsets`, `stakes_asbuilt`.",
    ),
    Renamed("column", "marks.part", "stakes.day_trip"),
    Renamed("column", "walk.part", "walk.day_trip"),
    Renamed("column", "plantable.part", "plantable.piece"),
    Renamed("column", "season_calendar.cycle", "season_calendar.planting_no"),
    Renamed("column", "season_spells.cycle", "season_spells.planting_no"),
    Renamed("column", "season_bed_tasks.cycle", "season_bed_tasks.planting_no"),
    Renamed("column", "timeline.round", "timeline.planting_no"),
    Renamed("column", "yields_in_company.round", "yields_in_company.planting_no"),
    Renamed(
        "column",
        "crop_summary.over_all_rounds",
        "crop_summary.all_plantings",
        "Also in the report's tables; what `compare` calls `plants_all_rounds` is `plants_in_all`.",
    ),
    Renamed("column", "walk.marks", "walk.stakes"),
    Renamed("column", "tape_offsets.near_mark", "tape_offsets.near_stake"),
    Renamed("column", "tape_offsets.from_near_mark_m", "tape_offsets.from_near_stake_m"),
    Renamed("column", "levels.from_mark", "levels.from_stake"),
    Renamed("column", "levels.to_mark", "levels.to_stake"),
    Renamed("option", "portfolio --into", "portfolio --output"),
    Renamed("command", "bed", "beds"),
    Renamed("command", "plots", "sample-plots"),
    Renamed("command", "asbuilt", "survey"),
    Renamed("command", "season-compare", "compare", "Give it both designs: `geoagro compare FIRST SECOND`."),
    Renamed("file", "stakes_pnezd.csv", "stakes_northing_first.csv"),
    Renamed("file", "stakes_penzd.csv", "stakes_easting_first.csv"),
    Renamed(
        "file", "season_leverage.png", "season_sensitivity.png", "The table `season_leverage` is `season_sensitivity`."
    ),
)


def new_name(kind: Kind, old: str) -> str:
    """Say what a design key, command or option is called now; empty where it never had another name.

    >>> new_name("key", "ground.steepest_pct")
    'is now ground.max_slope_pct.'
    """
    found = next((one for one in RENAMED if one.kind == kind and one.old == old), None)
    return f"is now {found.new}.{' ' + found.note if found.note else ''}" if found else ""
