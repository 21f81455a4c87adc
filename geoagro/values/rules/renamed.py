"""What had another name before: told once to whoever still writes the old one, and listed in the guide; nothing reads both."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

Kind = Literal["key", "value", "layer", "column", "file", "option", "command"]


@dataclass(frozen=True)
class Renamed:
    """A name that changed.

    Attributes
    ----------
    old, new
        Keys with their section (CROP stands for the code of any crop), columns with their layer, files by name, options
        with their command.
    note
        What else changed, as a sentence; empty where only the name did.
    """

    kind: Kind
    old: str
    new: str
    note: str = ""


_PERCENT = "In percent: write 10 for 0.1."

RENAMED: tuple[Renamed, ...] = (
    Renamed("key", "ground.steepest_pct", "ground.max_slope_pct"),
    Renamed("key", "ground.smallest_part_m2", "ground.min_part_m2"),
    Renamed("key", "ground.largest_gap_m", "ground.max_gap_m"),
    Renamed("key", "stakeout.start", "stakeout.walk_from"),
    Renamed("key", "start", "start_date"),
    Renamed("key", "stakeout.crews", "stakeout.marking_crews"),
    Renamed("key", "stakeout.hours_per_day", "stakeout.marking_hours_per_day"),
    Renamed("key", "report.locale", "locale", "It holds for all that is written for people."),
    Renamed("key", "rows.spacing_tolerance", "rows.spacing_tolerance_pct", _PERCENT),
    Renamed("key", "plantings.thin.keep", "plantings.thin.keep_pct", _PERCENT),
    Renamed("key", "crops.CROP.crown_base_share", "crops.CROP.crown_base_pct", _PERCENT),
    Renamed("key", "crops.CROP.shade_response", "crops.CROP.shade_response_pct", _PERCENT),
    Renamed("key", "season.discount_rate", "season.discount_rate_pct", _PERCENT),
    Renamed("key", "season.region_yield_share", "season.region_yield_pct", _PERCENT),
    Renamed("key", "season.vegetables.yield_share", "season.vegetables.yield_pct", _PERCENT),
    Renamed("key", "season.weeding.closed_cover", "season.weeding.closed_cover_pct", _PERCENT),
    Renamed("key", "season.crops.CROP.region_yield_share", "season.crops.CROP.region_yield_pct", _PERCENT),
    Renamed("key", "season.crops.CROP.losses", "season.crops.CROP.losses_pct", _PERCENT),
    Renamed("key", "season.crops.CROP.nursery_losses", "season.crops.CROP.nursery_losses_pct", _PERCENT),
    Renamed("key", "season.crops.CROP.bearing", "season.crops.CROP.bearing_pct", _PERCENT),
    Renamed("key", "season.crops.CROP.deaths", "season.crops.CROP.deaths_pct", _PERCENT),
    Renamed("key", "season.crops.CROP.sold", "season.crops.CROP.sold_pct", _PERCENT),
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
    Renamed("column", "stakes.chainage_m", "stakes.station_on_stake_m"),
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
    Renamed("option", "sample-plots --expected", "sample-plots --expected-pct", _PERCENT),
    Renamed("option", "sample-plots --precision", "sample-plots --precision-pct", _PERCENT),
    Renamed("column", "survival.survival", "survival.survival_pct", "Also `low_pct` and `high_pct`; all in percent."),
    Renamed("column", "kind_cover.cover", "kind_cover.cover_pct", "In percent."),
    Renamed("column", "limit_costs.share", "limit_costs.share_pct", "In percent."),
    Renamed("column", "guides.followed", "guides.followed_pct", "In percent."),
    Renamed("column", "receivers.beyond_share", "receivers.beyond_pct", "In percent."),
    Renamed("command", "bed", "beds"),
    Renamed("command", "plots", "sample-plots"),
    Renamed("command", "asbuilt", "survey"),
    Renamed("command", "season-compare", "compare", "Give it both designs: `geoagro compare FIRST SECOND`."),
    Renamed(
        "layer", "account_plots", "account_parts", "A plot is a sample plot only; separate parts of a field are parts."
    ),
    Renamed("column", "account_plots.plot", "account_parts.part", "Also in the outlines as GeoJSON."),
    Renamed("column", "portfolio_fields.plots", "portfolio_fields.parts"),
    Renamed(
        "layer", "beds", "vegetable_beds", "Also as kind of ground in `area_summary` and in the tables of accounts."
    ),
    Renamed("value", "beds", "vegetable_beds"),
    Renamed("column", "zones.beds", "zones.vegetable_beds"),
    Renamed("column", "account_zones.beds_m2", "account_zones.vegetable_beds_m2"),
    Renamed("layer", "BEDS", "VEGETABLE_BEDS", "In `stakes.dxf`, as are the next two."),
    Renamed("layer", "KEPT_FREE", "EXCLUSIONS"),
    Renamed("layer", "MARKS_...", "STAKES_...", "One for each kind of stake."),
    Renamed(
        "column", "layout_findings.level", "layout_findings.severity", "Also in `account_findings`, and in `--json`."
    ),
    Renamed("column", "layout_findings.place", "layout_findings.about", "Also in `account_findings`."),
    Renamed("column", "water_findings.level", "water_findings.severity"),
    Renamed("column", "water_findings.place", "water_findings.about"),
    Renamed("column", "season_findings.level", "season_findings.severity"),
    Renamed("column", "season_sensitivity.nought_at", "season_sensitivity.zero_at"),
    Renamed("file", "plots.geojson", "field_parts.geojson"),
    Renamed("file", "report_plots.csv", "report_parts.csv"),
    Renamed("file", "portfolio_plots.geojson", "portfolio_parts.geojson"),
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
    >>> new_name("key", "season.crops.maize.sold")
    'is now season.crops.maize.sold_pct. In percent: write 10 for 0.1.'
    """
    for one in RENAMED:
        met = re.fullmatch(_pattern(one.old), re.sub(r"\[\d+\]", "", old)) if one.kind == kind else None
        if met:
            new = one.new.replace("CROP", met["crop"]) if "CROP" in one.new else one.new
            return f"is now {new}.{' ' + one.note if one.note else ''}"
    return ""


def old_names(kind: Kind, new: str) -> tuple[str, ...]:
    """Names that something had before.

    >>> old_names("layer", "vegetable_beds")
    ('beds',)
    """
    return tuple(one.old for one in RENAMED if one.kind == kind and one.new == new)


def _pattern(name: str) -> str:
    """Pattern of a name: for any crop, and for a planting wherever plantings stand."""
    anywhere = r"(?:.*\.)?" if name.startswith("plantings.") else ""
    return anywhere + re.escape(name).replace("CROP", r"(?P<crop>[^.]+)")
