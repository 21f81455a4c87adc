"""Time and memory of a whole layout at 1, 10, 100 and 1,000 ha, step by step.

Run: python scripts/bench_layout.py [hectares ...] [--huge]

1, 10 and 100 ha if no sizes are given; --huge adds 1,000 ha (50 million plants). Each size runs in its own process. Of each step
processor seconds, wall seconds and the most memory that was held in it. Beside it, as a yardstick for the machine: writing the
same number of points with `GeoDataFrame.to_file` and reading them back, up to 6 million. A growth exponent of 1 means: ten times
the field, ten times the time. The result is a Markdown table.
"""

from __future__ import annotations

import argparse
import json
import math
import resource
import subprocess
import sys
import tempfile
import threading
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
from geoagro.outputs.layout.early import Early
from geoagro.outputs.layout.files import write_and_hold
from geoagro.outputs.words.say import ENGLISH
from geoagro.pipeline import layout

SIZES_HA = (1.0, 10.0, 100.0)
HUGE_HA = 1000.0
MOST_YARDSTICK = 6_000_000
"""More points than this don't fit into the yardstick's frame on a small machine."""
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
    """Adds up processor and wall seconds between calls of a Progress by what was being done, and watches the memory held."""

    def __init__(self) -> None:
        self.steps: dict[str, dict[str, float]] = {}
        self.what, self.wall, self.processor = "reading", time.perf_counter(), time.process_time()
        threading.Thread(target=self._watch, daemon=True).start()

    def __call__(self, what: str, _share: float) -> None:
        """Add what was used since the last call to what was being done then."""
        wall, processor = time.perf_counter(), time.process_time()
        step = self._step()
        step["wall"] += wall - self.wall
        step["processor"] += processor - self.processor
        step["peak"] = max(step["peak"], held_mb())
        self.what, self.wall, self.processor = what, wall, processor

    def _step(self) -> dict[str, float]:
        return self.steps.setdefault(_SAME.get(self.what, self.what), {"wall": 0.0, "processor": 0.0, "peak": 0.0})

    def _watch(self) -> None:
        while True:
            step = self._step()
            step["peak"] = max(step["peak"], held_mb())
            time.sleep(0.05)


_SAME = {"filling gaps": "terrain", "smoothing": "terrain", "slope and aspect": "terrain", "terrain": "rows"}
"""Steps that are told as one; rows begin when the terrain is told to be done."""


def held_mb() -> float:
    """Memory that this process holds now, MB."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1024**2


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
    """Lay out one field and write it; times in seconds, memory in MB."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_field(folder, hectares)
        loaded = held_mb()
        clock = Clock()
        design = read_design(folder / "design.yaml")
        with Early(folder / "result", design) as early:
            laid = layout(design, placing=early.placing, placed=early.placed, progress=clock)
            write_and_hold(
                laid,
                folder / "result",
                design_file=None,
                more=[],
                light=None,
                words=ENGLISH,
                progress=clock,
                early=early,
            )
        clock("end", 1.0)
        plants = laid.plants.count
        return {
            "plants": plants,
            "rows": len(laid.rows.frame),
            "beds": len(laid.beds.beds) + len(laid.beds.tree_beds),
            "file_mb": (folder / "result" / "layout.gpkg").stat().st_size / 1024**2,
            "steps": {k: v for k, v in clock.steps.items() if k != "end"},
            "loaded": loaded,
            "peak": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
            "baseline": baseline(folder, plants) if plants <= MOST_YARDSTICK else None,
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
    """One column per size, one line per step: processor seconds / wall seconds / peak MB; growth between the two largest sizes."""
    sizes = list(results)
    names = list(dict.fromkeys(name for s in sizes for name in results[s]["steps"]))
    lines = [_line("", [f"{s:,g} ha" for s in sizes], "growth"), _line("---", ["---:"] * len(sizes), "---:")]
    for name in names:
        steps = [results[s]["steps"].get(name) for s in sizes]
        cells = ["" if s is None else f"{s['processor']:,.1f} / {s['wall']:,.1f} / {s['peak']:,.0f}" for s in steps]
        lines.append(_line(name, cells, _growth(sizes, [s["processor"] if s else 0.0 for s in steps])))
    for what in ("processor", "wall"):
        totals = [sum(step[what] for step in results[s]["steps"].values()) for s in sizes]
        lines.append(_line(f"all, {what} s", [f"{t:,.1f}" for t in totals], _growth(sizes, totals)))
    told = [("yardstick, wall s", "baseline", ",.1f"), ("peak memory, MB", "peak", ",.0f"), ("of it before work, MB", "loaded", ",.0f"),
            ("plants", "plants", ",d"), ("rows", "rows", ",d"), ("beds", "beds", ",d"), ("layout.gpkg, MB", "file_mb", ",.0f")]  # fmt: skip
    for name, key, form in told:
        lines.append(_line(name, ["" if results[s][key] is None else f"{results[s][key]:{form}}" for s in sizes]))
    return "\n".join(lines)


def _growth(sizes: list[float], seconds: list[float]) -> str:
    if len(sizes) < 2 or min(seconds[-2:]) < 0.05:
        return ""
    return f"{math.log(seconds[-1] / seconds[-2]) / math.log(sizes[-1] / sizes[-2]):.2f}"


def _line(name: str, cells: list[str], last: str = "") -> str:
    return f"| {name} | " + " | ".join(cells) + f" | {last} |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--one", type=float, help="measure one size in this process and print it as JSON")
    parser.add_argument("sizes", nargs="*", type=float, default=SIZES_HA, help="hectares; 1 10 100 if left out")
    parser.add_argument("--huge", action="store_true", help="measure 1,000 ha too")
    asked = parser.parse_args()
    if asked.one:
        print(json.dumps(measure(asked.one)))
        return
    results = {}
    for size in [*asked.sizes, *([HUGE_HA] if asked.huge else [])]:
        print(f"{size:g} ha", file=sys.stderr, flush=True)
        run = subprocess.run(
            [sys.executable, __file__, "--one", str(size)], capture_output=True, text=True, check=False
        )
        if run.returncode:
            sys.exit(f"{size:g} ha failed:\n{run.stderr}")
        results[size] = json.loads(run.stdout)
    print(table(results))


if __name__ == "__main__":
    main()
