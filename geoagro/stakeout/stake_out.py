"""From laid rows to everything that is needed to mark them in the field."""

from __future__ import annotations

from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from geoagro.errors import LayoutError
from geoagro.stakeout.figures import stake_measures
from geoagro.stakeout.marks import count_marks, lay_marks
from geoagro.stakeout.offsets import baseline_offsets, choose_baseline, level_checks, tape_offsets
from geoagro.stakeout.places import needed_places
from geoagro.stakeout.procedure import procedure_for, slope_across, way_of
from geoagro.stakeout.receivers import SPACING_P95_IN_SIGMA, receiver_table, rule_for, sigma_of
from geoagro.stakeout.records.stakes import StakeOut
from geoagro.stakeout.walk import plan_walk
from geoagro.values.beds import Beds
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.stakeout import StakeRule
from geoagro.values.terrain import Terrain


def stake_out(
    rows: TreeRows,
    beds: Beds,
    site: Site,
    terrain: Terrain | None,
    rule: StakeRule,
    *,
    spacing_tolerance_pct: float = 10.0,
    earlier: Any | None = None,
    progress: Progress = silent,
) -> StakeOut:
    """Plan marks, the walk over them, tables for marking without a receiver, and what a receiver is good for.

    Parameters
    ----------
    site
        The walk stays inside its boundary and goes round exclusions (not round tracks).
    terrain
        Gives heights; without it they stay empty.
    spacing_tolerance_pct
        Percent of the row spacing that rows may be off, for judging receivers.
    earlier
        Marks of an earlier stake-out, to keep their names and places.

    Raises
    ------
    LayoutError
        If there are no rows.
    """
    if len(rows.frame) == 0:
        raise LayoutError("There are no rows to stake out. Run `geoagro layout` and look at its `unplanted` layer.")
    progress("setting stakes", 0.0)
    tolerance = spacing_tolerance_pct / 100
    error_m, limit_m = SPACING_P95_IN_SIGMA * sigma_of(rule), tolerance * rows.spacing_m
    chosen = rule_for(rule, error_m, limit_m, way_of(error_m, limit_m, 0.0))
    places = needed_places(rows, beds, site.exclusions, chosen)
    marks = lay_marks(rows, places, terrain, chosen, earlier=earlier)
    tapes = tape_offsets(rows, marks, terrain)
    rule = rule_for(rule, error_m, limit_m, way_of(error_m, limit_m, slope_across(tapes)))
    progress("planning the walk", 0.3)
    procedure = procedure_for(marks, tapes, site, rule, spacing_m=rows.spacing_m, limit_m=limit_m, error_p95_m=error_m)
    walk = plan_walk(marks, free_ground(site), rule, repeated=dict.fromkeys(procedure.base_rows, procedure.times))
    progress("measuring tapes and offsets", 0.6)
    baseline = choose_baseline(walk.marks, rule.baseline)
    coarser = [2 * rule.tolerance_m, 4 * rule.tolerance_m]
    counts = count_marks(rows, places, rule, coarser)
    longest = str(walk.marks["label"].iloc[int(walk.marks["station_m"].to_numpy().argmax())])
    base_row = next(iter(procedure.base_rows), longest)
    receivers, told = receiver_table(walk.marks, rule, spacing_m=rows.spacing_m, tolerance=tolerance, base_row=base_row)
    result = StakeOut(
        marks=walk.marks,
        walk=walk.parts,
        tape_offsets=tapes,
        baseline_offsets=baseline_offsets(walk.marks, baseline),
        levels=level_checks(walk.marks, a_frame_m=rule.a_frame_m),
        receivers=receivers,
        summary=stake_measures(rows, walk, rule, coarser=dict(zip(coarser, counts, strict=True))),
        baseline=baseline,
        procedure=procedure,
        advice=told,
        height_source="none" if terrain is None else terrain.height_source,
    )
    progress("setting stakes", 1.0)
    return result


def free_ground(site: Site) -> BaseGeometry:
    """Ground that can be walked on: the field without exclusions; tracks may be walked."""
    kept_free = [exclusion.area for exclusion in site.exclusions if exclusion.kind == "exclusion"]
    return shapely.difference(site.boundary, shapely.union_all(kept_free)) if kept_free else site.boundary
