"""What plants in blocks cost: placing, writing and sealing per plant, and the memory that each step has held at most.

Run: python scripts/bench_plant_blocks.py [hectares ...]

Made rows that bend as contours do, on a plane, a tree bed and two vegetable beds each: 45,600 plants per hectare. Each size has its
own process. Fields of less than a million plants are placed at once, as in a layout.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from bench_plants import CROP, PLANTINGS, UTM, beds_along, terrain_under, wavy_axes

from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.layout.sealing import seal
from geoagro.plants.blocks.field import place_field
from geoagro.values.plants import PLANTS


def peak_mb() -> float:
    """Largest memory that this process has held so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def measure(hectares: float) -> str:
    """Place, write and seal the plants of one field: one line of the table."""
    beds = beds_along(wavy_axes(hectares))
    ground = terrain_under(beds)
    cells = [f"{peak_mb():,.0f}"]
    start = time.process_time()
    plants = place_field(beds, ground, CROP, PLANTINGS)
    used = [(time.process_time() - start, peak_mb())]
    layers = [OutputLayer(PLANTS, part, name=f"plants_{code}", title=code) for code, part in plants.by_crop().items()]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plants.gpkg"
        for step in (lambda: write_geopackage(path, layers, UTM), lambda: seal(path, layers, UTM)):
            start = time.process_time()
            step()
            used.append((time.process_time() - start, peak_mb()))
    cells += [f"{1e6 * seconds / plants.count:.1f} | {peak:,.0f}" for seconds, peak in used]
    return f"| {hectares:g} | {plants.count:,} | " + " | ".join(cells) + " |"


def main() -> None:
    asked = sys.argv[1:] or ["20", "40", "60"]
    if len(asked) == 1:
        print(measure(float(asked[0])), flush=True)
        return
    heads = (
        "ha",
        "plants",
        "before, MB",
        "placing, us/plant",
        "MB",
        "writing, us/plant",
        "MB",
        "sealing, us/plant",
        "MB",
    )
    print("| " + " | ".join(heads) + " |\n" + "| ---: " * len(heads) + "|", flush=True)
    for size in asked:
        subprocess.run([sys.executable, __file__, size], check=True)


if __name__ == "__main__":
    main()
