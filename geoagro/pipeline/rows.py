"""Rows alone."""

from __future__ import annotations

from geoagro.pipeline import rooms
from geoagro.pipeline.sizes import refuse_short_memory, refuse_what_cannot_fit
from geoagro.pipeline.steps import contours_of, ground_of, terrain_of, tree_rows_of
from geoagro.rows.records.plan import RowPlan
from geoagro.terrain.records.difficulty import DIFFICULTY_ZONES
from geoagro.values.base.doors import door
from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.progress import Progress, silent
from geoagro.values.site import Site
from geoagro.values.terrain import Difficulty, GroundSource, Terrain


@door
def difficulty_of(design: Design, terrain: Terrain, ground: Ground) -> Difficulty:
    """Tell what the ground demands of rows at the design's limits; raises LayoutError where heights are unknown.

    >>> from geoagro import difficulty_of, example_layout
    >>> laid = example_layout()
    >>> difficulty_of(laid.design, laid.terrain, laid.ground).binding
    'neither'
    """
    rule = design.rows
    return rooms.terrain_difficulty(
        terrain,
        ground.plantable,
        spacing_m=rule.spacing_m,
        spacing_tolerance_pct=rule.spacing_tolerance_pct,
        max_grade_pct=rule.max_grade_pct,
    )


@door
def rows_of(design: Design, site: Site, source: GroundSource, *, progress: Progress = silent) -> RowPlan:
    """Lay tree rows only, with their measures, what each limit cost, and how hard the ground is.

    All in the working CRS, lengths in metres. Raises LayoutError where no row can be laid.

    >>> from geoagro import example_field, rows_of
    >>> plan = rows_of(*example_field())
    >>> [round(length) for length in plan.rows.frame["length_m"]]
    [54, 54, 54, 54, 54, 54]
    """
    refuse_short_memory(design, site, source, refuse_what_cannot_fit(design, site, None))
    terrain = terrain_of(design, site, source, progress=progress)
    ground = ground_of(design, site, terrain)
    rule = design.rows
    rows = tree_rows_of(design, site, terrain, ground, progress=progress)
    apart = rooms.apart_grounds(design, site)
    unplanted = rooms.ground_without_rows(
        ground,
        list(rows.frame.geometry.to_numpy()),
        rows.cut,
        spacing_m=rule.spacing_m,
        tolerance=rule.spacing_tolerance,
        own_spacing_m=rooms.spacings_of(apart, rows),
    )
    difficulty = None if terrain.heights is None else difficulty_of(design, terrain, ground)
    return RowPlan(
        design=design,
        site=site,
        terrain=terrain,
        ground=ground,
        rows=rows,
        unplanted=unplanted,
        quality=rooms.row_quality(*rooms.outside(apart, rows, ground.plantable), terrain, rule, outlet=site.outlet),
        costs=rooms.limit_costs(ground, unplanted, design),
        contours=contours_of(design, site, terrain),
        difficulty=difficulty,
        zones=DIFFICULTY_ZONES.empty(site.crs)
        if difficulty is None
        else rooms.difficulty_zones(difficulty, ground.plantable, spacing_m=rule.spacing_m),
    )
