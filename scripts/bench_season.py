"""How long a season plan takes, by hectares: ground cover, plan (levelled with the fewest people in time), files.

Run: python scripts/bench_season.py [hectares ...]
"""

import resource
import sys
import tempfile
import time
from datetime import date
from itertools import pairwise
from pathlib import Path

from bench_plants import UTM, beds_along, terrain_under, wavy_axes

from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.outputs.season.files import write_season
from geoagro.plants.analysis import cover_of_beds
from geoagro.plants.placement import place_plants
from geoagro.season.plan import plan_season
from geoagro.values.recipe import Planting
from geoagro.values.season import SeasonRule

PLANTINGS = [
    Planting(name="fruit row", sequence=("citrus", "gliricidia", "banana", "gliricidia"), bed="tree", spacing_m=1.5),
    Planting(crop="cassava", bed="vegetable"),
    Planting(crop="sweet_potato", bed="vegetable", offsets_m=(-0.35, 0.35), spacing_m=0.33),
    Planting(crop="maize", bed="vegetable", offsets_m=(0.2,), spacing_m=0.3),
]
RULE = SeasonRule.model_validate(
    {"years": 10, "wage_per_hour": 3, "vegetables": {"years": 3}, "crops": {"cassava": {"price": [0.2, 0.3, 0.4]}}}
)


def main() -> None:
    print("hectares      plants   tasks  people  cover s  plan s  files s  peak MB")
    for hectares in [float(a) for a in sys.argv[1:]] or [1.0, 10.0, 50.0]:
        beds = beds_along(wavy_axes(hectares))
        library = read_crop_library()
        crops = {code: library[code] for planting in PLANTINGS for code in planting.crops}
        plants = place_plants(beds, terrain_under(beds), crops, PLANTINGS)
        times = [time.perf_counter()]
        cover = cover_of_beds(plants, beds, crops, PLANTINGS)
        times.append(time.perf_counter())
        plan = plan_season(plants, beds, crops, cover, RULE, name="bench", start=date(2027, 3, 1), area_ha=hectares)
        times.append(time.perf_counter())
        with tempfile.TemporaryDirectory() as folder:
            write_season(plan, beds, UTM, Path(folder))
        times.append(time.perf_counter())
        spent = [b - a for a, b in pairwise(times)]
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{hectares:8.1f}  {len(plants.frame):10d}  {len(plan.bed_tasks):6d}  {plan.people:6g}  "
            + "  ".join(f"{s:7.1f}" for s in spent)
            + f"  {peak:7.0f}"
        )


if __name__ == "__main__":
    main()
