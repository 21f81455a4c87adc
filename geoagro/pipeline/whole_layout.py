"""A whole layout, one room after another."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path

import geopandas as gpd
import pandas as pd

from geoagro.beds.room import bed_findings, bed_measures, beds_lost_m2
from geoagro.ground.leftover import leftover_ground
from geoagro.ground.limit_costs import limit_costs
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.inputs.design.file import read_design
from geoagro.inputs.raster.ground_source import read_ground_source
from geoagro.inputs.site import read_site
from geoagro.pipeline.places import laid_for, planting_reaches, without_skipped
from geoagro.pipeline.planting import beds_of, plants_of
from geoagro.pipeline.readiness import refuse_before_rows, refuse_names
from geoagro.pipeline.sizes import refuse_short_memory, refuse_what_cannot_fit
from geoagro.pipeline.steps import contours_of, crops_of, ground_of, terrain_of, timeline_of, tree_rows_of
from geoagro.pipeline.zone_rules import apart_grounds, outside
from geoagro.pipeline.zones import zones_of
from geoagro.plants.blocks.field import Placing, has_room_beside, untold
from geoagro.reports.tables import layout_tables
from geoagro.rows.quality_table import row_quality
from geoagro.values.base.doors import door
from geoagro.values.beds import Beds
from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.layout import Layout
from geoagro.values.measures import Measures
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop
from geoagro.values.results.stored_plants import AT_ONCE, StoredPlants
from geoagro.values.site import Site
from geoagro.values.terrain import GroundSource
from geoagro.water.dents import low_point_findings

Placed = Callable[[Plants | StoredPlants], None]
"""What is told of the plants as soon as all are placed, before anything is measured on them."""
Fitted = Callable[[Site, Beds], None]
"""What is told of the beds as soon as all are fitted, before anything is planted in them."""


@door
def lay_out(
    design: Design,
    site: Site,
    source: GroundSource,
    library: Mapping[str, Crop],
    *,
    fitted: Fitted = untold,
    placing: Placing = untold,
    placed: Placed = untold,
    progress: Progress = silent,
) -> Layout:
    """Lay out a field from what was read: terrain, ground, rows, beds, plants, tables.

    Everything is in the working CRS `site.crs`. Whoever works on beds or writes plants can begin when `fitted` or `placed` is
    called, or `placing` where plants come in blocks. Raises DesignError or LayoutError where the design can't be laid out on this ground.

    >>> from geoagro import example_field, lay_out, read_crop_library
    >>> laid = lay_out(*example_field(), read_crop_library())
    >>> dict(laid.tables.crop_summary[["crop", "plants"]].to_numpy())
    {'apple': 90, 'lettuce': 5400}
    """
    crops = crops_of(design, library)
    refuse_names(design, crops, library)
    sizes = refuse_what_cannot_fit(design, site, crops)
    refuse_short_memory(design, site, source, sizes)
    site = replace(site, findings=(*site.findings, *source.findings))
    terrain = terrain_of(design, site, source, progress=progress)
    ground = ground_of(design, site, terrain)
    refuse_before_rows(design, site, terrain, ground, crops)
    rows = tree_rows_of(design, site, terrain, ground, progress=progress)
    laid = laid_for(design, site, beds_of(design, ground, rows, site=site, progress=progress))
    beds, skipped = without_skipped(design, laid)
    fitted(site, beds)
    reach = planting_reaches(design, replace(laid, beds=beds))
    leftover = partial(
        leftover_ground,
        ground, beds, rows.cut, spacing_m=design.rows.spacing_m, skipped=(skipped.shapes, skipped.reasons),
    )  # fmt: skip
    with ThreadPoolExecutor(1) as beside:  # overlays set the interpreter free: plants are placed meanwhile
        bare = beside.submit(leftover) if sizes.all_plants <= AT_ONCE or has_room_beside(placing) else None
        plants = plants_of(design, terrain, beds, crops, reach=reach, placing=placing, progress=progress)
        placed(plants)
        unplanted = bare.result() if bare else leftover()
    quality = row_quality(
        *outside(apart_grounds(design, site), rows, ground.plantable), terrain, design.rows, outlet=site.outlet
    )
    carried = bed_measures(laid.beds, ground.plantable, design.beds, design.rows.spacing_m)
    quality = Measures((*quality, *carried))
    return Layout(
        design=design,
        site=site,
        terrain=terrain,
        ground=ground,
        rows=rows,
        beds=beds,
        plants=plants,
        unplanted=unplanted,
        contours=contours_of(design, site, terrain),
        tables=layout_tables(
            site, terrain, ground, beds, plants, unplanted, quality=quality, timeline=timeline_of(design, plants, crops)
        ),
        bed_findings=bed_findings(laid.beds, design.beds, design.rows),
        water_findings=low_point_findings(rows, terrain),
        zones=zones_of(design, laid, beds, unplanted, plants),
    )


def layout(
    design: Design | Path | str,
    *,
    fitted: Fitted = untold,
    placing: Placing = untold,
    placed: Placed = untold,
    progress: Progress = silent,
) -> Layout:
    """Read a design (or take one already read) and its files, and lay out the field.

    Writes nothing; the result is in the working CRS that its site names. `fitted` is called with the beds as soon as all of
    them are fitted, `placed` with the plants as soon as all of them are placed, `placing` before the first where they come in
    blocks. Doubts about the files are warned of
    (FindingWarning); notes and repairs go to the logger "geoagro" and stand in `findings`. Raises InputError, CrsError,
    DesignError or LayoutError, each saying what to put right.

    >>> from geoagro import layout, write_example
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     laid = layout(write_example(Path(folder)))
    >>> laid.rows.frame["length_m"].round(1).unique().tolist()  # as wide as the field, less the setback
    [58.8]
    """
    asked = design if isinstance(design, Design) else read_design(Path(design))
    site = read_site(asked)
    refuse_what_cannot_fit(asked, site, crops_of(asked, read_crop_library()))
    source = read_ground_source(asked, site)
    library = read_crop_library()
    return lay_out(asked, site, source, library, fitted=fitted, placing=placing, placed=placed, progress=progress)


@door
def limit_costs_of(design: Design, ground: Ground, unplanted: gpd.GeoDataFrame, beds: Beds) -> pd.DataFrame:
    """Add up what each limit of the design costs in ground, and in beds that alleys lack: table LIMIT_COSTS.

    >>> from geoagro import example_layout, limit_costs_of
    >>> laid = example_layout()
    >>> costs = limit_costs_of(laid.design, laid.ground, laid.unplanted, laid.beds)
    >>> list(costs["reason"])
    ['setback']
    """
    return limit_costs(ground, unplanted, design, beds_lost_m2=beds_lost_m2(beds, design.beds, design.rows.spacing_m))
