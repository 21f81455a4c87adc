"""Ground and trees of each parcel: every kind of ground is cut along the parcels' lines once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
import shapely

from geoagro.arrays import Bools, Floats, Ints, Shapes
from geoagro.errors import LayoutError
from geoagro.planar.inside import owners_of
from geoagro.reports.rounding import apportion
from geoagro.values.plants import places_of
from geoagro.values.report import LaidOut
from geoagro.values.words import say

WHOLE_FIELD = say("whole field")
REST = "difference"
LARGEST_MISFIT = 0.001
"""Share of the field that parcels may leave open or cover twice: outlines digitised side by side. Our own choice."""


@dataclass(frozen=True, eq=False)
class ParcelGround:
    """Kinds of ground (rows of `map_m2` and `geodesic_m2`) by parcel (columns), m² to 0.1.

    The last kind is `difference`: what slivers and overlaps of the others leave of each parcel. `empty_m2` are those parts of
    tree beds and vegetable beds that carry no plant, `of_plant` the parcel of each plant (-1 for none), `part_of` the group
    of each kind.
    """

    names: tuple[str, ...]
    shapes: Shapes
    items: tuple[str, ...]
    map_m2: Floats
    geodesic_m2: Floats
    empty_m2: Mapping[str, Floats]
    part_of: Mapping[str, str]
    of_plant: Ints


def parcel_ground(laid: LaidOut) -> ParcelGround:
    """Cut the field's ground along its parcels; sums over parcels are those of table area_summary.

    Raises LayoutError where the parcels don't fill the field, or cover ground twice.
    """
    names, shapes = parcels_of(laid)
    layers = _layers(laid)
    measured = {name: _by_item(laid, name) for name in ("area_m2", "geodesic_area_m2")}
    on_map, geodesic = np.zeros((len(layers), len(names))), np.zeros((len(layers), len(names)))
    empty = {}
    for k, (item, (layer, bare)) in enumerate(layers.items()):
        exact = _cut(layer, shapes)
        by_parcel = exact.sum(axis=0)
        on_map[k] = _shared(by_parcel, measured["area_m2"][item])
        geodesic[k] = _shared(by_parcel, measured["geodesic_area_m2"][item])
        empty[item] = np.minimum(np.round(exact[bare].sum(axis=0), 1), on_map[k])
    whole = [_shared(shapely.area(shapes), areas["field"]) for areas in measured.values()]
    on_map, geodesic = (
        np.vstack([parts, np.round(area - parts.sum(axis=0), 1) + 0.0])
        for parts, area in zip((on_map, geodesic), whole, strict=True)
    )
    empty[REST] = np.zeros(len(names))
    groups = dict(zip(laid.area_summary["item"], laid.area_summary["part_of"], strict=True))
    return ParcelGround(names, shapes, (*layers, REST), on_map, geodesic, empty, groups, _owner(laid, shapes))


def _by_item(laid: LaidOut, column: str) -> dict[str, float]:
    return dict(zip(laid.area_summary["item"], laid.area_summary[column].astype(float), strict=True))


def parcels_of(laid: LaidOut) -> tuple[tuple[str, ...], Shapes]:
    """Names and outlines of the parcels within the field; the whole field where there are none."""
    given = laid.evidence.parcels
    if given is None:
        return (WHOLE_FIELD,), np.array([laid.boundary], dtype=object)
    cut = np.array([_polygons(s) for s in shapely.intersection(given.geometry.to_numpy(), laid.boundary)], dtype=object)
    there = shapely.area(cut) > 0
    names, shapes = tuple(given["parcel"][there]), cut[there]
    field, inside, joined = laid.boundary.area, shapely.area(shapes).sum(), shapely.union_all(shapes).area
    for wrong, words in (
        (field - joined, "leave {:.0f} m² of the field in no parcel"),
        (inside - joined, "cover {:.0f} m² twice"),
    ):
        if wrong > LARGEST_MISFIT * field:
            raise LayoutError(
                f"The parcels of the boundary file {words.format(wrong)}; their ids can't be set beside areas. Was the file "
                "changed since the layout was made? Put its polygons right and run `geoagro layout` again, or leave "
                "report.parcels out."
            )  # fmt: skip
    return names, shapes


def _polygons(shape: shapely.Geometry) -> shapely.MultiPolygon:
    return shapely.MultiPolygon([part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"])


def _layers(laid: LaidOut) -> dict[str, tuple[Shapes, Bools]]:
    """Polygons of each kind of ground, and which of them are beds without a plant."""
    planted = set(laid.plants["bed"].unique())
    found = {}
    for item, frame in (("tree_beds", laid.tree_beds), ("vegetable_beds", laid.beds)):
        bare = ~frame["bed"].isin(planted).to_numpy() if len(frame) else np.zeros(0, dtype=bool)
        found[item] = (frame.geometry.to_numpy(), bare)
    found["paths"] = (laid.paths.geometry.to_numpy(), np.zeros(len(laid.paths), dtype=bool))
    for reason in dict.fromkeys(laid.unplanted["reason"]):
        shapes = laid.unplanted.geometry[laid.unplanted["reason"] == reason].to_numpy()
        found[str(reason)] = (shapes, np.zeros(len(shapes), dtype=bool))
    return found


def _cut(shapes: Shapes, parcels: Shapes) -> Floats:
    """Area of each shape (rows) in each parcel (columns); only what crosses a parcel's line is cut."""
    area = np.zeros((len(shapes), len(parcels)))
    for k, parcel in enumerate(parcels):
        shapely.prepare(parcel)
        inside = shapely.covers(parcel, shapes)
        cut = ~inside & shapely.intersects(parcel, shapes)
        area[inside, k] = shapely.area(shapes[inside])
        area[cut, k] = shapely.area(shapely.intersection(shapes[cut], parcel))
    return area


def _shared(parts: Floats, total: float) -> Floats:
    """Round parts to 0.1 m² so that they add up to the total measured for the field."""
    whole = float(parts.sum())
    if whole <= 0:
        return np.zeros(len(parts))
    return np.asarray(apportion(parts * (total / whole), total), dtype=np.float64)


def _owner(laid: LaidOut, shapes: Shapes) -> Ints:
    """Parcel of each plant; -1 on a line between two that leave a gap."""
    return owners_of(places_of(laid.plants), shapes)


def counts(owner: Ints, chosen: pd.Series | Bools, parcels: int) -> Ints:
    """Count the chosen plants of each parcel."""
    picked = owner[np.asarray(chosen, dtype=bool)]
    return np.bincount(picked[picked >= 0], minlength=parcels)
