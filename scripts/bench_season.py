"""How long a season plan takes, by hectares, in seconds of processor time, and how time grows.

Ground cover, light on beds, yields in company, plan (levelled with the fewest people in time), files.

Run: python scripts/bench_season.py [hectares ...]
"""

import resource
import sys
import tempfile
import time
from datetime import date
from itertools import pairwise
from pathlib import Path

import geopandas as gpd
import numpy as np
from bench_plants import ROW_M, UTM, beds_along, terrain_under, wavy_axes

from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.light.bed_light import Trees, light_on_beds
from geoagro.light.growth import canopy_of
from geoagro.light.rays import Sky
from geoagro.light.spots import spots_on
from geoagro.outputs.season.files import write_season
from geoagro.pipeline.yields import bearings_of, yields_of
from geoagro.plants.analysis import cover_of_beds
from geoagro.plants.placement import place_plants
from geoagro.plants.section import section_of
from geoagro.season.plan import plan_season
from geoagro.values.design import Design
from geoagro.values.section import key_of

DESIGN = Design.model_validate(
    {
        "name": "bench",
        "inputs": {"boundary": {"file": "none.gpkg"}, "elevation": {"file": "none.tif"}},
        "rows": {"spacing_m": ROW_M},
        "start_date": "2027-03-01",
        "plantings": [
            {
                "name": "fruit row",
                "sequence": ["citrus", "gliricidia", "banana", "gliricidia"],
                "bed": "tree",
                "spacing_m": 1.5,
            },
            {"crop": "cassava", "bed": "vegetable"},
            {"crop": "sweet_potato", "bed": "vegetable", "offsets_m": [-0.35, 0.35], "spacing_m": 0.33},
            {"crop": "maize", "bed": "vegetable", "offsets_m": [0.2], "spacing_m": 0.3},
        ],
        "season": {
            "years": 10,
            "wage_per_hour": 3,
            "vegetables": {"years": 3},
            "crops": {"cassava": {"price": [0.2, 0.3, 0.4]}},
        },
    }
)
LATITUDE_DEG = 30.0


def main() -> None:
    print("hectares      plants   tasks  people  cover s  light s  yields s  plan s  files s  peak MB")
    for hectares in [float(a) for a in sys.argv[1:]] or [1.0, 10.0, 50.0]:
        beds, library = beds_along(wavy_axes(hectares)), read_crop_library()
        beds.beds["facing_row"] = facing(beds.beds)
        crops = {code: library[code] for planting in DESIGN.plantings for code in planting.crops}
        plants = place_plants(beds, terrain_under(beds), crops, DESIGN.plantings)
        times = [time.process_time()]
        cover = cover_of_beds(plants, beds, crops, DESIGN.plantings)
        times.append(time.process_time())
        light(beds, crops)
        times.append(time.process_time())
        yields = yields_of(DESIGN, crops, latitude_deg=LATITUDE_DEG, bearings=bearings_of(beds.tree_beds))
        times.append(time.process_time())
        assert DESIGN.season is not None
        plan = plan_season(
            plants,
            beds,
            crops,
            cover,
            DESIGN.season,
            yields=yields,
            name="bench",
            start=date(2027, 3, 1),
            area_ha=hectares,
        )
        times.append(time.process_time())
        with tempfile.TemporaryDirectory() as folder:
            write_season(plan, beds, UTM, Path(folder))
        times.append(time.process_time())
        spent = [b - a for a, b in pairwise(times)]
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{hectares:8.1f}  {len(plants.frame):10d}  {len(plan.bed_tasks):6d}  {plan.people:6g}  "
            + "  ".join(f"{s:7.1f}" for s in spent)
            + f"  {peak:7.0f}",
            flush=True,
        )


def facing(beds):
    """Row on the other side of each bed's alley; 0 at the field's edge."""
    other = beds["row"] + np.where(beds["side"] == "up", 1, -1)
    return other.where(other <= beds["row"].max(), 0)


def light(beds, crops):
    """Reckon the light on all beds."""
    section, timeline = section_of(DESIGN.beds, ROW_M, crops, DESIGN.plantings, DESIGN.season, start=DESIGN.start_date)
    rows = gpd.GeoDataFrame({"row": beds.tree_beds["row"]}, geometry=list(beds.tree_beds["axis"]), crs=UTM)
    trees = Trees(
        section,
        tuple(kind for kind in timeline.kinds if kind.bed_kind == "tree"),
        {key_of(kind): canopy_of(crops[kind.crop], south=False) for kind in timeline.kinds},
        3,
    )
    return light_on_beds(beds.beds, spots_on(beds.beds, rows, terrain_under(beds)), trees, Sky(LATITUDE_DEG), basis="")


if __name__ == "__main__":
    main()
