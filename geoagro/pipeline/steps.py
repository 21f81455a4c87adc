"""Steps that several pieces of work begin with: crops, terrain, plantable ground."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from geoagro.beds.widths import row_window
from geoagro.ground.plantable import plantable_ground
from geoagro.plants.crops import choose_crops
from geoagro.terrain.build import build_terrain
from geoagro.terrain.contours import contour_lines
from geoagro.terrain.drainage import drainage
from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop
from geoagro.values.rows import RowWindow
from geoagro.values.site import Site
from geoagro.values.terrain import CONTOURS, GroundSource, Terrain
from geoagro.values.timeline import Timeline


def crops_of(design: Design, library: Mapping[str, Crop]) -> dict[str, Crop]:
    """Crops that the design uses, complete; raises DesignError for one that nobody describes."""
    return choose_crops(library, design.crops, design.plantings)


def timeline_of(design: Design, plants: Plants, crops: Mapping[str, Crop]) -> Timeline:
    """Work out what stands where and when, in all rounds that the design's season asks for; one round without a season."""
    return Timeline.of(plants.frame, crops, design.season)


def terrain_of(design: Design, site: Site, source: GroundSource, *, progress: Progress = silent) -> Terrain:
    """Shape of the ground at the scale of the design's rows; raises LayoutError where it can't be told."""
    return build_terrain(
        source,
        site.boundary,
        spacing_m=design.rows.spacing_m,
        smoothing_m=design.rows.smoothing_m,
        largest_gap_m=design.ground.largest_gap_m,
        progress=progress,
    )


def ground_of(design: Design, site: Site, terrain: Terrain) -> Ground:
    """Ground that may be planted; raises LayoutError where there is none."""
    rule = design.rows
    lines = (
        drainage(terrain, least_ha=rule.drainage_area_ha, width_m=rule.spacing_m) if rule.break_at_drainage else None
    )
    return plantable_ground(site, terrain, design.ground, drainage=lines)


def window_of(design: Design) -> RowWindow:
    """Tell what the design's beds ask of the rows' distance; raises LayoutError where tree beds of two rows would touch."""
    return row_window(design.beds, design.rows.spacing_m, design.rows.spacing_tolerance)


def contours_of(design: Design, site: Site, terrain: Terrain) -> Any:
    """Layer CONTOURS over the field; empty where the ground is known by its slope alone."""
    if terrain.heights is None:
        return CONTOURS.empty(site.crs)
    return contour_lines(terrain, site.boundary, design.output.contour_interval_m)
