"""Areas and plants by zone; with the rest of the field they add up to the whole."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
import shapely

from geoagro.planar.inside import owners_of
from geoagro.values.beds import Beds
from geoagro.values.plants import Plants
from geoagro.values.results.stored_plants import StoredPlants
from geoagro.values.zones import REST, ZONE_AREAS, ZONE_CROPS, ZONES, Zone, ZoneAccount


def zone_account(
    zones: Sequence[tuple[Zone, Any]],
    boundary: Any,
    beds: Beds,
    unplanted: Any,
    plants: Plants | StoredPlants,
    *,
    widths: Mapping[str, tuple[float, float]],
) -> ZoneAccount:
    """Account for zones with their ground (working CRS); where two overlap, the first holds the ground.

    Parameters
    ----------
    widths
        Row spacing and bed width that each zone is asked to have.
    unplanted
        Layer UNPLANTED, complete.
    """
    shapes = _apart([shape for _, shape in zones], boundary)
    names = [zone.name for zone, _ in zones]
    by_crop = _by_crop(shapes, plants)
    counts = by_crop.groupby("zone")["plants"].sum().reindex(range(len(zones) + 1), fill_value=0).to_numpy()
    layer = _layer(zones, shapes, beds, counts, widths)
    every = [*names, REST]
    return ZoneAccount(layer, _areas(every, shapes, beds, unplanted), _crops(every, by_crop))


def _layer(
    zones: Sequence[tuple[Zone, Any]],
    shapes: Sequence[Any],
    beds: Beds,
    counts: Any,
    widths: Mapping[str, tuple[float, float]],
) -> Any:
    """Layer ZONES of those that have ground; a bare zone has neither rows nor widths."""
    solid = [(*pair, shape, count) for pair, shape, count in zip(zones, shapes, counts, strict=False) if shape.area > 0]
    strips = [_strips(shape, beds) for _, _, shape, _ in solid]
    bare = [zone.is_bare for zone, *_ in solid]
    asked = [
        (np.nan, np.nan) if is_bare else widths[zone.name] for (zone, *_), is_bare in zip(solid, bare, strict=True)
    ]
    return ZONES.frame(
        {
            "zone": [zone.name for zone, *_ in solid],
            "purpose": [zone.purpose for zone, *_ in solid],
            "area_m2": [shape.area for _, _, shape, _ in solid],
            "rows": [rows for rows, _, _ in strips],
            "row_spacing_m": [spacing for spacing, _ in asked],
            "bed_width_m": [width for _, width in asked],
            "vegetable_beds": [count for _, count, _ in strips],
            "bed_area_m2": [area for _, _, area in strips],
            "plants": [count for *_, count in solid],
        },
        geometry=[shapely.multipolygons(_polygons(shape)) for _, _, shape, _ in solid],
        crs=beds.beds.crs,
    )


def _strips(shape: Any, beds: Beds) -> tuple[int, int, float]:
    """Count rows and vegetable beds whose axis has its middle in a zone; and the area of all its beds."""
    shapely.prepare(shape)
    held = [layer[_middles_in(shape, layer)] for layer in (beds.tree_beds, beds.beds)]
    rows = {row for layer in held for row in layer["row"]}
    ground = np.concatenate([beds.tree_beds.geometry, beds.beds.geometry])
    near = ground[shapely.intersects(shape, ground)]
    return len(rows), len(held[1]), float(shapely.area(shapely.intersection(near, shape)).sum())


def _middles_in(shape: Any, layer: Any) -> Any:
    middle = shapely.line_interpolate_point(layer["axis"].to_numpy(), 0.5, normalized=True)
    return shapely.intersects(shape, middle)


def _apart(shapes: Iterable[Any], boundary: Any) -> list[Any]:
    """Zones inside the field, each less those before it."""
    found: list[Any] = []
    for shape in shapes:
        inside = shapely.intersection(shape, boundary)
        found.append(shapely.difference(inside, shapely.union_all(found)) if found else inside)
    return found


def _polygons(shape: Any) -> Any:
    parts = shapely.get_parts(np.atleast_1d(np.array(shape, dtype=object)))
    parts = shapely.get_parts(parts)
    return parts[shapely.get_type_id(parts) == 3]


def _areas(names: Sequence[str], shapes: Sequence[Any], beds: Beds, unplanted: pd.DataFrame) -> pd.DataFrame:
    """Table ZONE_AREAS: each kind of ground cut with each zone; the rest is what is left of its sum."""
    kinds: dict[str, Any] = {
        "tree_beds": beds.tree_beds.geometry.to_numpy(),
        "vegetable_beds": beds.beds.geometry.to_numpy(),
        "paths": beds.paths.geometry.to_numpy(),
    }
    for reason in dict.fromkeys(unplanted["reason"]):
        kinds[str(reason)] = unplanted.geometry[unplanted["reason"] == reason].to_numpy()
    left = {kind: float(shapely.area(parts).sum()) for kind, parts in kinds.items()}
    lines: list[tuple[str, str, float]] = []
    for name, shape in zip(names, shapes, strict=False):
        shapely.prepare(shape)
        for kind, parts in kinds.items():
            near = parts[shapely.intersects(shape, parts)]
            area = float(shapely.area(shapely.intersection(near, shape)).sum())
            left[kind] -= area
            lines.append((name, kind, area))
    lines += [(REST, kind, area) for kind, area in left.items()]
    kept = [(zone, kind, round(area, 1)) for zone, kind, area in lines if round(area, 1) > 0]
    columns = zip(*kept, strict=True) if kept else ((), (), ())
    return ZONE_AREAS.frame(dict(zip(ZONE_AREAS.columns, map(list, columns), strict=True)))


def _by_crop(shapes: Sequence[Any], plants: Plants | StoredPlants) -> pd.DataFrame:
    """Count plants by number of the zone and crop: columns zone, crop, plants; in that order."""
    parts = []
    for table in plants.tables(["x", "y", "crop"]):
        inside = owners_of(table[["x", "y"]].to_numpy(), shapes, otherwise=len(shapes))
        found = pd.DataFrame({"zone": inside, "crop": np.asarray(table["crop"], dtype=object)})
        parts.append(found.groupby(["zone", "crop"], sort=True).size().reset_index(name="plants"))
    together = pd.concat(parts, ignore_index=True)
    counts: pd.DataFrame = together.groupby(["zone", "crop"], sort=True)["plants"].sum().reset_index()
    return counts


def _crops(names: Sequence[str], counts: pd.DataFrame) -> pd.DataFrame:
    return ZONE_CROPS.frame(
        {"zone": [names[k] for k in counts["zone"]], "crop": counts["crop"], "plants": counts["plants"]}
    )
