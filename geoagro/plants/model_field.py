"""A few straight rows with their beds on an even slope: the recipe without the field, to look at and to judge."""

from __future__ import annotations

from collections.abc import Sequence
from math import lcm
from typing import Any

import geopandas as gpd
import numpy as np
from shapely import LineString, box

from geoagro.values.beds import BEDS, PATHS, TREE_BEDS, Beds
from geoagro.values.design import BedRule
from geoagro.values.grid import Grid
from geoagro.values.places import Part, Place, Reach
from geoagro.values.recipe import Planting
from geoagro.values.terrain import Terrain
from geoagro.values.words import Sentence

_MOST_ROWS = 12
SLOPE = 0.10


def model_beds(rule: BedRule, spacing_m: float, plantings: Sequence[Planting], length_m: float) -> Beds:
    """Lay straight rows running east, north upslope, with as many beds on each side as fit between two rows.

    So many rows that every planting's `every` comes round, one for each address of the recipe, and one more on each
    end, whose outer beds are edge beds. Coordinates are metres from the south-western corner; there is no CRS.
    """
    rows = min(_MOST_ROWS, lcm(*(p.every for p in plantings)) + 2) + len(_addresses(plantings))
    step = rule.bed_width_m + rule.path_width_m
    fit = int((spacing_m - rule.tree_bed_width_m - rule.path_width_m + 1e-9) // step)
    orders = max([1, -(-fit // 2), *(p.order or 1 for p in plantings)])
    apart = max(spacing_m, rule.tree_bed_width_m + rule.path_width_m + 2 * orders * step)
    tree, veg, paths = [], [], []
    for row in range(1, rows + 1):
        middle = (rows - row) * apart
        tree.append(_strip(f"R{row:03d}-T", row, middle, rule.tree_bed_width_m, length_m))
        for side, sign in (("up", 1), ("down", -1)):
            facing = max(row - 1, 0) if side == "up" else (row + 1) % (rows + 1)
            for order in range(1, orders + 1):
                off = rule.tree_bed_width_m / 2 + (order - 0.5) * step + rule.path_width_m / 2
                strip = _strip(
                    f"R{row:03d}-{side[0].upper()}{order}", row, middle + sign * off, rule.bed_width_m, length_m
                )
                veg.append(strip | {"side": side, "order": order, "facing_row": facing})
                path = middle + sign * (off - rule.bed_width_m / 2 - rule.path_width_m / 2)
                paths.append(_strip(f"{strip['bed']}P", row, path, rule.path_width_m, length_m))
    return Beds(_frame(TREE_BEDS, tree), _frame(BEDS, veg), _frame(PATHS, paths))


def model_reach(plantings: Sequence[Planting], beds: Beds) -> dict[int, Reach]:
    """Give each address of a recipe a row of its own on the model, from the second row on, by index of the planting.

    Where that row lies in a field the model can't know; it shows what stands together there.
    """
    addresses = _addresses(plantings)
    if not addresses:
        return {}
    here = {address: _beds_of_row(beds, row) for row, address in enumerate(addresses, start=2)}
    zoned = tuple(Reach((Part(beds_of),)) for (zone, _), beds_of in here.items() if zone)
    everywhere = (Part(frozenset([*beds.tree_beds["bed"], *beds.beds["bed"]])),)
    found = {}
    for index, planting in enumerate(plantings):
        address = planting.zone, planting.within
        parts = (Part(here[address]),) if address in here else everywhere
        found[index] = Reach(parts, outside=() if planting.zone else zoned)
    return found


def _addresses(plantings: Sequence[Planting]) -> list[tuple[str | None, tuple[Place, ...]]]:
    """Addresses and zones that the plantings name, each once, in order of first use."""
    return list(dict.fromkeys((p.zone, p.within) for p in plantings if p.zone or p.within))


def _beds_of_row(beds: Beds, row: int) -> frozenset[str]:
    layers = (beds.tree_beds, beds.beds)
    return frozenset(str(bed) for layer in layers for bed in layer["bed"][layer["row"] == row])


def _strip(bed: str, row: int, middle: float, width: float, length: float) -> dict[str, Any]:
    return {
        "bed": bed,
        "path": bed,
        "row": row,
        "width_m": width,
        "length_m": length,
        "area_m2": width * length,
        "polygon": box(0.0, middle - width / 2, length, middle + width / 2),
        "axis": LineString([(0.0, middle), (length, middle)]),
    }


def _frame(spec: Any, strips: list[dict[str, Any]]) -> Any:
    columns = {name: [strip[name] for strip in strips] for name in spec.columns}
    frame = spec.frame(columns, geometry=[strip["polygon"] for strip in strips])
    return frame.assign(axis=gpd.GeoSeries([strip["axis"] for strip in strips]))


def model_ground(beds: Beds) -> Terrain:
    """Slope evenly down to the south under these beds."""
    west, south, east, north = beds.beds.total_bounds
    size = float(max(east - west, north - south) + 40.0)
    grid = Grid(np.zeros((3, 3)), west - 20.0, south - 20.0 + size, size / 3, None)
    heights = grid.with_values(np.repeat(SLOPE * grid.y[:, None], 3, axis=1))
    return Terrain(
        slope=grid.with_values(np.full((3, 3), SLOPE)),
        aspect_deg=grid.with_values(np.full((3, 3), 180.0)),
        heights=heights,
        smooth=heights,
        smoothing_m=0.0,
        height_source=Sentence("an even slope, for looking at the recipe without a field"),
    )
