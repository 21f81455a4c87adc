"""Time and memory of a whole layout at 1, 10 and 100 ha, step by step; run by hand: `python scripts/bench_layout.py`.

Each size runs in its own process. Beside it, as a yardstick for the machine: writing the same number of points
with `GeoDataFrame.to_file` and reading them back. A growth exponent of 1 means: ten times the field, ten times
the time.
"""

from __future__ import annotations

import argparse
import json
import math
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import rasterio
from rasterio.transform import Affine
from shapely import Point
from shapely.affinity import scale

from geoagro.inputs.design.file import read_design
from geoagro.outputs.layout.files import write_layout
from geoagro.pipeline import layout

SIZES_HA = (1.0, 10.0, 100.0)
DESIGN = """
name: bench
inputs: {boundary: {file: field.gpkg}, elevation: {file: elevation.tif, unit: m}}
ground: {setback_m: 2}
rows: {method: contour, spacing_m: 4.5, max_grade_pct: 4}
beds: {tree_bed_width_m: 1, bed_width_m: 1, path_width_m: 0.3}
plantings:
  - {crop: citrus, bed: tree, spacing_m: 3}
  - {crop: maize, bed: vegetable, spacing_m: 0.3}
  - {crop: cowpea, bed: vegetable, offsets_m: [-0.35, 0.35], spacing_m: 0.25}
"""


class Clock:
    """Sums the time between calls of a Progress by what was being done."""

    def __init__(self) -> None:
        self.steps: dict[str, float] = {}
        self.what, self.since = "start", time.perf_counter()

    def __call__(self, what: str, _share: float) -> None:
        """Add the time since the last call to what was being done then."""
        now = time.perf_counter()
        self.steps[self.what] = self.steps.get(self.what, 0.0) + now - self.since
        self.what, self.since = what, now


def make_field(folder: Path, hectares: float) -> None:
    """Write a lens-shaped field on rolling ground that looks alike at every size near by, not from afar."""
    radius = math.sqrt(hectares * 10_000 / math.pi / 0.8)
    reach = math.ceil(radius * 1.05 + 10)
    west, north = 600_000.0, 5_000_000.0
    x, y = np.meshgrid(np.arange(2 * reach) + 0.5, np.arange(2 * reach) + 0.5)
    heights = 300 + 0.09 * y + 3 * np.sin(x / 60) * np.cos(y / 90) + 1.5 * np.sin(x / 37 + y / 71)
    field = scale(Point(west + reach, north - reach).buffer(radius, quad_segs=32), 1.0, 0.8)
    gpd.GeoDataFrame(geometry=[field], crs="EPSG:32633").to_file(folder / "field.gpkg")
    with rasterio.open(
        folder / "elevation.tif", "w", driver="GTiff", width=2 * reach, height=2 * reach, count=1, dtype="float32",
        crs="EPSG:32633", transform=Affine(1.0, 0.0, west, 0.0, -1.0, north),
    ) as file:  # fmt: skip
        file.write(heights.astype("float32"), 1)
    (folder / "design.yaml").write_text(DESIGN)


def measure(hectares: float) -> dict[str, Any]:
    """Lay out one field and write it; times in seconds, peak memory in MB."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_field(folder, hectares)
        loaded = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        clock = Clock()
        laid = layout(read_design(folder / "design.yaml"), progress=clock)
        write_layout(laid, folder / "result", progress=clock)
        clock("end", 1.0)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        plants = len(laid.plants.frame)
        return {
            "plants": plants,
            "steps": clock.steps,
            "loaded": loaded,
            "peak": peak,
            "baseline": baseline(folder, plants),
        }


def baseline(folder: Path, count: int) -> float:
    """Write and read `count` points with geopandas as it comes, seconds."""
    random = np.random.default_rng(1)
    x, y = random.uniform(0, 1000, (2, count))
    frame = gpd.GeoDataFrame({"n": np.arange(count)}, geometry=gpd.points_from_xy(x, y), crs="EPSG:32633")
    start = time.perf_counter()
    frame.to_file(folder / "points.gpkg")
    gpd.read_file(folder / "points.gpkg")
    return time.perf_counter() - start


def table(results: dict[float, dict[str, Any]]) -> str:
    """One column per size, one line per step; the exponent between the two largest sizes."""
    sizes = list(results)
    totals = [sum(results[s]["steps"].values()) for s in sizes]
    names = list(dict.fromkeys(name for s in sizes for name in results[s]["steps"]))
    lines = [_line("", [f"{s:g} ha" for s in sizes], "growth")]
    lines += [_times(name, [results[s]["steps"].get(name, 0.0) for s in sizes], sizes) for name in names]
    lines += [
        _times("all, s", totals, sizes),
        _times("baseline, s", [results[s]["baseline"] for s in sizes], sizes),
        _line("times baseline", [f"{t / results[s]['baseline']:.1f}" for t, s in zip(totals, sizes, strict=True)]),
        _line("plants", [f"{results[s]['plants']:,}" for s in sizes]),
        _line("peak memory, MB", [f"{results[s]['peak']:.0f}" for s in sizes]),
        _line("of it before work", [f"{results[s]['loaded']:.0f}" for s in sizes]),
    ]
    return "\n".join(lines)


def _times(name: str, seconds: list[float], sizes: list[float]) -> str:
    growth = ""
    if len(sizes) > 1 and min(seconds[-2:]) > 0.05:
        growth = f"{math.log(seconds[-1] / seconds[-2]) / math.log(sizes[-1] / sizes[-2]):.2f}"
    return _line(name, [f"{s:.2f}" for s in seconds], growth)


def _line(name: str, cells: list[str], last: str = "") -> str:
    return f"{name:<32}" + "".join(f"{cell:>12}" for cell in cells) + f"{last:>10}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--one", type=float, help="measure one size in this process and print it as JSON")
    parser.add_argument("sizes", nargs="*", type=float, default=SIZES_HA, help="hectares; 1 10 100 if left out")
    asked = parser.parse_args()
    if asked.one:
        print(json.dumps(measure(asked.one)))
        return
    results = {}
    for size in asked.sizes:
        run = subprocess.run(
            [sys.executable, __file__, "--one", str(size)], capture_output=True, text=True, check=False
        )
        if run.returncode:
            sys.exit(f"{size:g} ha failed:\n{run.stderr}")
        results[size] = json.loads(run.stdout)
    print(table(results))


if __name__ == "__main__":
    main()
