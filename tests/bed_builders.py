"""Rows of any shape, and the sums that every layout of beds has to satisfy."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely
from builders import UTM

from geoagro.ground.leftover import leftover_ground
from geoagro.values.ground import UNPLANTED, Ground
from geoagro.values.rows import TREE_ROWS, TreeRows


def rows_of(lines, spacing_m: float = 4.5) -> TreeRows:
    """Rows numbered in the order given; their measures are left at nought."""
    n = len(lines)
    blank = {"int": np.arange(1, n + 1), "float": np.zeros(n), "text": [""] * n, "bool": np.zeros(n, dtype=bool)}
    columns = {field.name: blank[field.kind] for field in TREE_ROWS.fields}
    cut = gpd.GeoDataFrame({"reason": []}, geometry=gpd.GeoSeries([], crs=UTM), crs=UTM)
    return TreeRows(TREE_ROWS.frame(columns, geometry=lines, crs=UTM), spacing_m, cut)


def all_of(area) -> Ground:
    """All of an area is plantable."""
    whole = shapely.MultiPolygon(shapely.get_parts(area).tolist())
    return Ground(whole, whole, UNPLANTED.empty(UTM))


def overlaps_m2(shapes) -> float:
    """Largest area that two of the shapes share."""
    a, b = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    pairs = a < b
    shared = shapely.area(shapely.intersection(shapes[a[pairs]], shapes[b[pairs]]))
    return float(shared.max(initial=0.0))


def assert_sound(ground: Ground, rows: TreeRows, beds, *, path_m: float = 0.3) -> None:
    """Strips and leftover ground fill the field without overlap, and every bed has its full width."""
    rest = leftover_ground(ground, beds, rows.cut, spacing_m=rows.spacing_m)
    strips = [beds.tree_beds, beds.beds, beds.paths, rest]
    shapes = np.concatenate([layer.geometry.to_numpy() for layer in strips])
    assert shapely.is_valid(shapes).all()
    assert overlaps_m2(shapes) < 2e-4  # a micrometre along a long edge
    assert abs(shapely.area(shapes).sum() / ground.boundary.area - 1) < 1e-6
    assert shapely.area(shapely.difference(shapes, ground.boundary)).max() < 1e-4
    veg = beds.beds
    assert np.allclose(veg.area, veg.width_m * veg.length_m, rtol=1e-5)
    assert np.allclose(veg.area, veg.area_m2)
    planted = np.concatenate([beds.tree_beds.geometry.to_numpy(), veg.geometry.to_numpy()])
    if len(veg):
        # a path may be 1 cm narrower, and mitres of the tree bed stand off by some mm
        a, b = shapely.STRtree(planted).query(veg.geometry.to_numpy(), predicate="dwithin", distance=path_m - 0.015)
        name = np.append(beds.tree_beds.bed, veg.bed.str.rstrip("abcdefghijklmnopqrstuvwxyz"))
        assert (name[b] == name[len(beds.tree_beds) :][a]).all()
