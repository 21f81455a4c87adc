"""The steps of a layout that follow the rows, one room each: beds and plants."""

from __future__ import annotations

from collections.abc import Mapping

from geoagro.beds.zoned import lay_zoned_beds
from geoagro.errors import DesignError
from geoagro.pipeline.zone_rules import bed_zones
from geoagro.plants.blocks.field import Placing, place_field, untold
from geoagro.values.base.doors import door
from geoagro.values.base.findings import tell
from geoagro.values.beds import Beds
from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.places import Reach
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop
from geoagro.values.results.stored_plants import StoredPlants
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.terrain import Terrain


@door
def beds_of(
    design: Design, ground: Ground, rows: TreeRows, *, site: Site | None = None, progress: Progress = silent
) -> Beds:
    """Tree beds, vegetable beds and paths beside the rows, widths in metres as section `beds` asks; working CRS.

    Zones with widths of their own need the `site` with their drawn areas. Raises LayoutError where the ground and the
    rows are in different CRS.

    >>> from geoagro import beds_of, example_layout, read_crop_library
    >>> laid, library = example_layout(), read_crop_library()
    >>> len(beds_of(laid.design, laid.ground, laid.rows).beds)
    10
    """
    if site is None and any(zone.has_own_widths for zone in design.zones):
        raise DesignError(
            "This design has zones with widths of their own: give site=, or lay it out whole with lay_out."
        )
    zones = () if site is None else bed_zones(design, site, rows)
    return lay_zoned_beds(rows, ground.plantable, design.beds, zones, progress=progress)


@door
def plants_of(
    design: Design,
    terrain: Terrain,
    beds: Beds,
    crops: Mapping[str, Crop],
    *,
    reach: Mapping[int, Reach] | None = None,
    placing: Placing = untold,
    progress: Progress = silent,
) -> Plants | StoredPlants:
    """Place every plant of the recipe in its bed: layer PLANTS in the working CRS, heights in metres.

    `crops` are complete, as `crops_of` gives them; `reach` is what addresses and zones come to on these beds
    (`geoagro.pipeline.places.planting_reaches`). Beyond a million plants they come in blocks (`StoredPlants`); `placing` is
    called before the first is placed. Raises DesignError where a planting can't be placed, or has an address
    and no `reach` is given.

    >>> from geoagro import crops_of, example_layout, plants_of, read_crop_library
    >>> laid, library = example_layout(), read_crop_library()
    >>> plants = plants_of(laid.design, laid.terrain, laid.beds, crops_of(laid.design, library))
    >>> len(plants.frame)
    5490
    """
    if reach is None and (design.zones or any(p.within or p.zone for p in design.plantings)):
        raise DesignError(
            "This design has addresses (within) or zones: give reach=planting_reaches(design, laid_for(design, site, "
            "beds)) from geoagro.pipeline.places, or lay it out whole with lay_out."
        )
    plants = place_field(
        beds,
        terrain,
        crops,
        design.plantings,
        reach=reach,
        start=design.start_date,
        season=design.season,
        placing=placing,
        progress=progress,
    )
    tell(plants.findings)
    return plants
