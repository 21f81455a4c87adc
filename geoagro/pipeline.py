"""The order of the work: one room after another, about one line each."""

from __future__ import annotations

from geoagro.ground.plantable import plantable_ground
from geoagro.terrain.build import build_terrain
from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.progress import Progress, silent
from geoagro.values.site import Site
from geoagro.values.terrain import GroundSource, Terrain


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
    return plantable_ground(site, terrain, design.ground)
