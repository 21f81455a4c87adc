"""Rows of zones with a spacing of their own, laid beside all others."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import shapely
from shapely import MultiPolygon

from geoagro.errors import LayoutError
from geoagro.rows.by_hand.among import MARGIN
from geoagro.rows.by_hand.kept import away_from, zone_around
from geoagro.values.design import RowRule
from geoagro.values.rows import ApartGround, Lines

Laying = Callable[[MultiPolygon, ApartGround, RowRule], Lines]


def without_zones(plantable: MultiPolygon, apart: Sequence[ApartGround]) -> MultiPolygon:
    """Plantable ground of all other rows; empty where zones take all of it."""
    if not apart:
        return plantable
    return _polygons(shapely.difference(plantable, shapely.union_all([zone.ground for zone in apart])))


def with_zones(lines: Lines, fill: MultiPolygon, apart: Sequence[ApartGround], rule: RowRule, lay: Laying) -> Lines:
    """Add the rows of each zone, which keep off all rows before them.

    Parameters
    ----------
    fill
        Plantable ground in which rows may be laid; a zone that has none of it is left as it is.
    lay
        Lays rows on the ground of a zone by its rule.

    Raises LayoutError where no row fits into a zone that has plantable ground.
    """
    for zone in apart:
        own = rule.model_copy(update={"spacing_m": zone.spacing_m, "min_row_length_m": zone.min_row_length_m})
        ground = _polygons(shapely.intersection(fill, zone.ground))
        if rule.method == "drawn" or ground.is_empty:
            continue
        nearest = (1 - rule.spacing_tolerance) * (zone.spacing_m + rule.spacing_m) / 2 * MARGIN
        free = _free(ground, lines, nearest)
        if free.is_empty:
            raise LayoutError(zone.no_room())
        try:
            laid = lay(free, zone, own)
        except LayoutError as error:
            raise LayoutError(f"{zone.key}: zone '{zone.name}': {error}") from error
        new = [line for line in away_from(laid.kept, lines.kept, nearest) if line.length >= own.min_row_length_m]
        if not new:
            raise LayoutError(zone.no_room())
        lines = Lines([*lines.kept, *new], [*lines.cut, *laid.cut], (*lines.findings, *laid.findings))
    return lines


def _free(ground: MultiPolygon, lines: Lines, reach_m: float) -> MultiPolygon:
    """Ground of a zone that isn't too near to a row."""
    near = zone_around(lines.kept, [ground], reach_m) if lines.kept else MultiPolygon()
    return _polygons(shapely.difference(ground, near))


def _polygons(shape: Any) -> MultiPolygon:
    return MultiPolygon([part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"])
