"""Areas and plants by zone; with the rest of the field they add up to the whole."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import pandas as pd
import shapely
from shapely import MultiPolygon

from geoagro.arrays import Shapes
from geoagro.values.beds import Beds
from geoagro.values.plants import Plants
from geoagro.values.zones import REST, ZONE_AREAS, ZONE_CROPS, ZONES, Zone, ZoneAccount


def zone_account(
    zones: Sequence[tuple[Zone, Any]], boundary: MultiPolygon, beds: Beds, unplanted: pd.DataFrame, plants: Plants
) -> ZoneAccount:
    """Account for zones with their ground (working CRS); where two overlap, the first holds the ground.

    Parameters
    ----------
    unplanted
        Layer UNPLANTED, complete.
    """
    shapes = _apart([shape for _, shape in zones], boundary)
    names = [zone.name for zone, _ in zones]
    inside = np.full(len(plants.frame), len(zones))
    xy = plants.frame[["x", "y"]].to_numpy()
    for k, shape in reversed(list(enumerate(shapes))):
        inside[shapely.intersects_xy(shape, xy[:, 0], xy[:, 1])] = k
    counts = np.bincount(inside, minlength=len(zones) + 1)
    solid = [k for k, shape in enumerate(shapes) if shape.area > 0]
    layer = ZONES.frame(
        {
            "zone": [names[k] for k in solid],
            "purpose": [zones[k][0].purpose for k in solid],
            "area_m2": [shapes[k].area for k in solid],
            "plants": counts[solid],
        },
        geometry=[shapely.multipolygons(_polygons(shapes[k])) for k in solid],
        crs=plants.frame.crs,
    )
    every = [*names, REST]
    return ZoneAccount(layer, _areas(every, shapes, beds, unplanted), _crops(every, inside, plants.frame["crop"]))


def _apart(shapes: Iterable[Any], boundary: MultiPolygon) -> list[Any]:
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
        "beds": beds.beds.geometry.to_numpy(),
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


def _crops(names: Sequence[str], inside: Shapes, crop: pd.Series) -> pd.DataFrame:
    table = pd.DataFrame({"zone": inside, "crop": np.asarray(crop, dtype=object)})
    counts = table.groupby(["zone", "crop"], sort=True).size().reset_index(name="plants")
    return ZONE_CROPS.frame(
        {"zone": [names[k] for k in counts["zone"]], "crop": counts["crop"], "plants": counts["plants"]}
    )
