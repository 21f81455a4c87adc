"""Single beds, crops with round numbers, and their analysis, for tests of the plants room."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
from builders import EAST, NORTH, UTM, plane
from shapely import LineString

from geoagro.plants.analysis import analyse_recipe
from geoagro.plants.placement import place_plants
from geoagro.values.beds import BEDS, PATHS, TREE_BEDS, Beds
from geoagro.values.recipe import Crop, Planting

ROUND = Crop(
    name="round",
    habit="herb",
    stratum="low",
    spacing_m=1.0,
    harvest_weeks=(30, 40),
    full_size_weeks=10,
    canopy_width_m=1.0,
    height_m=1.0,
    root_reach_m=0.5,
    root_opening_deg=120,
    harvest="pick",
    material="seedling",
    yield_kg=(1.0, 2.0, 3.0),
)


def crop(**changes) -> Crop:
    return Crop.model_validate(ROUND.model_dump() | changes)


def straight(length=40.0) -> LineString:
    return LineString([(EAST, NORTH), (EAST + length, NORTH)])


def stand(plantings, crops, *, axis=None, width=2.0, length=40.0, **rules):
    """Plants and analysis of a recipe in one straight vegetable bed."""
    beds = one_bed(axis or straight(length), width)
    recipe = [Planting(**({"bed": "vegetable"} | p)) for p in plantings]
    plants = place_plants(beds, plane(), crops, recipe)
    return plants, analyse_recipe(plants, beds, crops, recipe, **rules)


def one_bed(axis: LineString, width=1.0, side="up") -> Beds:
    """One vegetable bed around an axis, and the tree bed of its row far away from it."""
    strip = axis.buffer(width / 2, cap_style="flat", quad_segs=64)
    columns = {"bed": ["R001-U1"], "row": [1], "width_m": [width], "length_m": [axis.length], "area_m2": [strip.area]}
    veg = BEDS.frame(columns | {"side": [side], "order": [1], "facing_row": [0]}, geometry=[strip], crs=UTM)
    empty = TREE_BEDS.empty(UTM).assign(axis=gpd.GeoSeries([], crs=UTM))
    return Beds(empty, veg.assign(axis=gpd.GeoSeries([axis], crs=UTM)), PATHS.empty(UTM))


def arc(radius=20.0, degrees=150.0, n=151) -> LineString:
    t = np.radians(np.linspace(0, degrees, n))
    return LineString(np.column_stack([EAST + 50 + radius * np.sin(t), NORTH + 60 - radius * np.cos(t)]))
