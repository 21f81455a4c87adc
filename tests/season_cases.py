"""A small invented field with crops, for tests of the season plan."""

from __future__ import annotations

from datetime import date
from functools import cache

import numpy as np
import pandas as pd
from builders import UTM, straight_beds, straight_rows
from shapely import points

from geoagro.season.plan import plan_season
from geoagro.values.plants import PLANTS, Plants
from geoagro.values.recipe import Crop
from geoagro.values.season import SeasonRule

CROPS = {
    "cassava": Crop(
        name="Cassava",
        habit="shrub",
        harvest="uproot",
        material="stem cutting",
        yield_kg=(1.0, 2.0, 3.0),
        harvest_weeks=(35, 56),
        caution="Cassava: cook or process before eating; products at most 10 mg HCN per kg.",
    ),
    "sweet_potato": Crop(
        name="Sweet potato",
        habit="vine",
        harvest="uproot",
        material="slip",
        yield_kg=(0.2, 0.3, 0.5),
        harvest_weeks=(16, 26),
    ),
    "maize": Crop(
        name="Maize",
        habit="grass",
        harvest="cut",
        material="seed",
        material_g=0.7,
        plants_per_place=2,
        yield_kg=(0.05, 0.1, 0.15),
        harvest_weeks=(13, 17),
    ),
    "lemon": Crop(
        name="Lemon",
        habit="tree",
        harvest="pick",
        material="grafted tree",
        yield_kg=(20, 40, 60),
        harvest_weeks=(156, 1040),
    ),
    "gliricidia": Crop(
        name="Gliricidia",
        habit="tree",
        harvest="cut",
        material="seedling",
        yield_kg=(2, 5, 10),
        harvest_weeks=(52, 1040),
    ),
}

START = date(2027, 3, 1)

RULE = {
    "years": 6,
    "currency": "EUR",
    "wage_per_hour": 3.0,
    "simulation": {"runs": 400},
    "crops": {
        "cassava": {"price": [0.2, 0.3, 0.4], "unit_cost": 0.02},
        "sweet_potato": {"price": [0.4, 0.5, 0.7], "unit_cost": 0.03},
        "maize": {"price": [0.2, 0.25, 0.3], "unit_cost": 2.0},
        "lemon": {"price": [0.5, 0.8, 1.0], "unit_cost": 6.0, "harvest_months": [11, 12, 1], "deaths_pct": []},
        "gliricidia": {"unit_cost": 0.5, "deaths_pct": []},
    },
    "costs": [{"name": "tools", "amount": 500, "when": "once"}, {"name": "lease", "amount": 100, "per": "ha", "when": "yearly"}],
}  # fmt: skip

# crop, planting, kind of bed, spacing in the line, week, harvest from, harvest to
RECIPE = (
    ("lemon", "fruit", "tree", 4.0, 0, 156, 1040),
    ("gliricidia", "service", "tree", 1.0, 0, 52, 1040),
    ("cassava", "cassava", "vegetable", 0.6, 0, 35, 56),
    ("sweet_potato", "vines", "vegetable", 0.33, 1, 17, 27),
    ("maize", "maize", "vegetable", 0.5, 0, 13, 17),
)


def rule(**changes) -> SeasonRule:
    return SeasonRule.model_validate(RULE | changes)


def cover(beds, *, vegetable=(10, 50, 90, 95), tree=(10, 30, 50, 70, 90)) -> pd.DataFrame:
    """Ground cover in percent for months 1, 2, ..., the same for all beds of a kind."""
    longest = max(len(vegetable), len(tree))
    beds_of = ((beds.tree_beds["bed"].tolist(), tree), (beds.beds["bed"].tolist(), vegetable))
    rows = [
        (bed, month + 1, given[min(month, len(given) - 1)])
        for names, given in beds_of
        for bed in names
        for month in range(longest)
    ]
    return pd.DataFrame(rows, columns=["bed", "month", "cover_pct"])


@cache
def field(size_m=60.0, spacing_m=4.5, recipe=RECIPE):
    """Beds of a square field, and plants by the recipe at equal steps (positions don't matter to the season)."""
    beds = straight_beds(straight_rows(spacing_m=spacing_m, size_m=size_m))
    parts = []
    for crop, planting, kind, step, week, from_week, to_week in recipe:
        strips = beds.tree_beds if kind == "tree" else beds.beds
        times = (strips["length_m"] / step).round().astype(int).to_numpy()
        part = pd.DataFrame(strips[["row", "bed"]]).loc[strips.index.repeat(times)]
        parts.append(
            part.assign(
                crop=crop,
                planting=planting,
                bed_kind=kind,
                plant_week=week,
                harvest_from_week=from_week,
                harvest_to_week=to_week,
            )
        )
    frame = pd.concat(parts, ignore_index=True)
    n = len(frame)
    fill = {"text": "low", "date": pd.NaT}
    rest = {f.name: [fill.get(f.kind, 0)] * n for f in PLANTS.fields if f.name not in frame.columns}
    columns = {k: frame[k] for k in frame.columns} | rest
    columns["plant"] = np.arange(1, n + 1)
    return beds, Plants(PLANTS.frame(columns, geometry=points(np.zeros(n), np.zeros(n)), crs=UTM))


def plan(rule_=None, size_m=60.0, spacing_m=4.5, recipe=RECIPE, **covers):
    beds, plants = field(size_m, spacing_m, recipe)
    area = size_m**2 / 1e4
    return plan_season(
        plants, beds, CROPS, cover(beds, **covers), rule_ or rule(), name="invented field", start=START, area_ha=area
    )


@cache
def standard_plan():
    return plan()
