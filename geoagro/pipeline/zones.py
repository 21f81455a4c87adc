"""The account of a design's zones."""

from __future__ import annotations

from typing import Any

import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from geoagro.pipeline.zone_rules import bed_rule_of
from geoagro.places.resolve import Laid, drawn_place, resolve
from geoagro.reports.zones import zone_account
from geoagro.values.beds import Beds
from geoagro.values.design import Design
from geoagro.values.places import Part, Reach
from geoagro.values.plants import Plants
from geoagro.values.results.stored_plants import StoredPlants
from geoagro.values.zones import Zone, ZoneAccount


def zones_of(
    design: Design, laid: Laid, beds: Beds, unplanted: pd.DataFrame, plants: Plants | StoredPlants
) -> ZoneAccount | None:
    """Account for the design's zones; `laid` has the beds before any was skipped."""
    if not design.zones:
        return None
    zones = [(zone, zone_ground(zone, number, laid)) for number, zone in enumerate(design.zones, 1)]
    widths = {
        zone.name: (zone.spacing_m or design.rows.spacing_m, bed_rule_of(zone, design).bed_width_m)
        for zone in design.zones
    }
    return zone_account(zones, laid.boundary, beds, unplanted, plants, widths=widths)


def zone_ground(zone: Zone, number: int, laid: Laid) -> Any:
    """Ground of a zone: drawn as it is; by rows or beds the beds, with the paths of rows that belong to it whole."""
    key = f"zones[{number}].within"
    return (
        drawn_place(zone.within, laid, key)
        if zone.is_drawn
        else reach_ground(resolve(zone.within, laid, key), laid.beds)
    )


def reach_ground(reach: Reach, beds: Beds) -> BaseGeometry:
    """Ground that a place holds on laid beds."""
    return shapely.union_all([_part_ground(part, beds) for part in reach.parts])


def _part_ground(part: Part, beds: Beds) -> BaseGeometry:
    layers = (beds.tree_beds, beds.beds)
    shapes = [shape for layer in layers for shape in layer.geometry[layer["bed"].isin(list(part.beds))]]
    outside = {row for layer in layers for row in layer["row"][~layer["bed"].isin(list(part.beds))]}
    whole = ~beds.paths["row"].isin(list(outside))
    ground = shapely.union_all([*shapes, *beds.paths.geometry[whole]])
    if part.area is not None:
        ground = shapely.intersection(ground, part.area)
    for other in part.but_not:
        ground = shapely.difference(ground, _part_ground(other, beds))
    return ground
