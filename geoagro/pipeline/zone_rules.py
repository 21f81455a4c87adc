"""What zones ask of rows and beds: ground with a spacing of its own, and bed rules of their own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon

from geoagro.arrays import Floats
from geoagro.beds.widths import row_window
from geoagro.beds.zoned import BedZone
from geoagro.errors import DesignError, LayoutError
from geoagro.pipeline.places import site_places
from geoagro.places.resolve import drawn_place, numbered
from geoagro.values.design import BedRule, Design
from geoagro.values.places import Place
from geoagro.values.rows import ApartGround, TreeRows
from geoagro.values.site import Site
from geoagro.values.zones import Zone


def bed_rule_of(zone: Zone, design: Design) -> BedRule:
    """Bed rule of a zone: its own widths, the others as in section `beds`; raises DesignError where they contradict."""
    given = {} if zone.beds is None else zone.beds.given
    rule = design.beds.model_copy(update=given)
    pinched, path = rule.narrowest_path_m, rule.path_width_m
    if pinched is None or pinched <= path:
        return rule
    if "narrowest_path_m" in given:
        raise DesignError(
            f"zone '{zone.name}': beds.narrowest_path_m must not be above path_width_m ({path:g} m, from the zone or from "
            "section beds). Make it smaller, or give the zone a wider path_width_m."
        )
    return rule.model_copy(update={"narrowest_path_m": path})


def apart_grounds(design: Design, site: Site) -> tuple[ApartGround, ...]:
    """Ground of zones with a spacing of their own, each less those before it."""
    found: list[ApartGround] = []
    for number, zone in enumerate(design.zones, 1):
        if zone.spacing_m is None:
            continue
        key = f"zones[{number}]"
        shape = drawn_place(zone.within, site_places(design, site), f"{key}.within")
        shape = shapely.difference(shape, shapely.union_all([other.ground for other in found]))
        shortest = zone.min_row_length_m or design.rows.min_row_length_m
        rule = bed_rule_of(zone, design)
        try:
            window = row_window(rule, zone.spacing_m, design.rows.spacing_tolerance)
        except LayoutError as error:
            raise LayoutError(f"{key}.{error}") from error
        found.append(ApartGround(zone.name, f"{key}.spacing_m", shape, zone.spacing_m, shortest, window))
    return tuple(found)


def spacings_of(apart: Sequence[ApartGround], rows: TreeRows) -> Floats:
    """Spacing that each row was laid for."""
    spacing: Floats = np.full(len(rows.frame), rows.spacing_m)
    for zone in apart:
        spacing[zone.holds(rows.frame.geometry.to_numpy())] = zone.spacing_m
    return spacing


def outside(apart: Sequence[ApartGround], rows: TreeRows, plantable: MultiPolygon) -> tuple[TreeRows, MultiPolygon]:
    """Rows and plantable ground that the design's own spacing holds for; all of them where zones take the whole field."""
    if not apart:
        return rows, plantable
    inside = np.any([zone.holds(rows.frame.geometry.to_numpy()) for zone in apart], axis=0)
    rest = shapely.difference(plantable, shapely.union_all([zone.ground for zone in apart]))
    if inside.all() or rest.is_empty:
        return rows, plantable
    left = MultiPolygon([part for part in shapely.get_parts(rest) if part.geom_type == "Polygon"])
    return replace(rows, frame=rows.frame[~inside].reset_index(drop=True)), left


def bed_zones(design: Design, site: Site, rows: TreeRows) -> tuple[BedZone, ...]:
    """Zones whose beds are laid by a rule of their own; raises DesignError for an address that meets nothing."""
    return tuple(
        part
        for number, zone in enumerate(design.zones, 1)
        if zone.has_own_widths
        for part in _bed_zones(zone, f"zones[{number}].within", design, site, rows)
    )


def _bed_zones(zone: Zone, key: str, design: Design, site: Site, rows: TreeRows) -> Iterator[BedZone]:
    rule, spacing = bed_rule_of(zone, design), zone.spacing_m or design.rows.spacing_m
    numbers = rows.frame["row"].to_numpy()
    for place in zone.within:
        held = None if place.rows is None else numbered(place.rows, numbers, f"{key}.rows", "rows")
        chosen = None if held is None else frozenset(np.unique(numbers[held]).tolist())
        yield BedZone(zone.name, rule, spacing, _drawn(place, key, design, site), chosen)


def _drawn(place: Place, key: str, design: Design, site: Site) -> Any | None:
    if not place.area and place.side is None:
        return None
    return drawn_place((place,), site_places(design, site), key)
