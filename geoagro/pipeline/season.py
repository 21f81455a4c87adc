"""The season plan."""

from __future__ import annotations

from collections.abc import Mapping

from geoagro.inputs.climate_file import read_climate
from geoagro.inputs.files import find_file
from geoagro.pipeline.steps import crops_of, timeline_of
from geoagro.pipeline.yields import bearings_of, yields_of
from geoagro.plants.analysis import cover_of_beds
from geoagro.season.husbandry.climate import with_windows
from geoagro.season.husbandry.free_ground import covers_asked
from geoagro.season.husbandry.names import refuse_unknown_names
from geoagro.season.plan import plan_season
from geoagro.season.records.tables import SeasonPlan
from geoagro.season.rule import season_section
from geoagro.values.base.doors import door
from geoagro.values.beds import Beds
from geoagro.values.design import Design
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop
from geoagro.values.season import Climate
from geoagro.values.zones import ZoneAccount


@door
def season_of(
    design: Design,
    plants: Plants,
    beds: Beds,
    library: Mapping[str, Crop],
    *,
    area_ha: float,
    latitude_deg: float | None = None,
    zones: ZoneAccount | None = None,
    progress: Progress = silent,
) -> SeasonPlan:
    """Plan material, work, harvest and money of a layout; raises DesignError where the design doesn't ask for it.

    >>> from geoagro import example_layout, read_crop_library, season_of
    >>> import tempfile
    >>> from datetime import date
    >>> from geoagro.values.season import SeasonRule
    >>> laid, library = example_layout(), read_crop_library()
    >>> season = {"season": SeasonRule(years=1), "start_date": date(2027, 3, 1)}
    >>> design = laid.design.model_copy(update=season)
    >>> plan = season_of(design, laid.plants, laid.beds, library, area_ha=0.16)
    >>> plan.people > 0
    True
    """
    rule, start = season_section(design)
    climate = climate_of(design)
    if climate is not None:
        rule = with_windows(rule, climate)
    own = crops_of(design, library)
    refuse_unknown_names(design, own, library)
    crops = {code: library[code] for code in covers_asked(rule) if code in library} | own
    progress("season: ground cover", 0.0)
    timeline = timeline_of(design, plants, crops)
    months = min(36, 12 * rule.years)
    cover = cover_of_beds(plants, beds, crops, design.plantings, timeline=timeline, months=months)
    yields = yields_of(
        design, crops, latitude_deg=latitude_deg, bearings=bearings_of(beds.tree_beds), progress=progress
    )
    return plan_season(
        plants,
        beds,
        crops,
        cover,
        rule,
        timeline=timeline,
        yields=yields,
        climate=climate,
        zones=None if zones is None else zones.zones,
        name=design.name,
        start=start,
        area_ha=area_ha,
        progress=progress,
    )


def climate_of(design: Design) -> Climate | None:
    """Read the climate file that the season names; None where it names none."""
    if design.season is None or design.season.climate is None:
        return None
    return read_climate(find_file(design.season.climate.file, folder=design.folder, key="season.climate"))
