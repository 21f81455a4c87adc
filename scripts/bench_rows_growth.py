"""How time and memory of the row engine grow with the field; beside it the parallel baseline on the same ground.

Run: python scripts/bench_rows_growth.py [hectares ...] [--huge]

1, 10 and 100 ha if no sizes are given; --huge adds 1,000 ha. The ground is invented: rolling terrain that looks alike
at every size. Each size has its own process, so that its peak memory is its own. A growth exponent of 1 means: ten
times the field, ten times the time.
"""

from __future__ import annotations

import argparse
import json
import math
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from baseline_rows import parallel_baseline
from pyproj import CRS
from shapely import MultiPolygon, Point
from shapely.affinity import scale

from geoagro.ground.plantable import plantable_ground
from geoagro.rows.layout import lay_rows
from geoagro.rows.quality_table import IN_LIMITS, row_quality
from geoagro.terrain.build import build_terrain
from geoagro.values.design import GroundRule, RowRule
from geoagro.values.grid import Grid
from geoagro.values.ground import Ground
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.terrain import GroundSource, Terrain

SIZES_HA = (1.0, 10.0, 100.0)
HUGE_HA = 1000.0
UTM = CRS.from_epsg(32633)
RULE = RowRule(spacing_m=4.5, spacing_tolerance_pct=10, max_grade_pct=4.0, min_row_length_m=20.0)
BARS_S = {10.0: 3.0, 100.0: 30.0, 1000.0: 360.0}
BAR_MEMORY_MB = {1000.0: 8192.0}
BAR_GROWTH = 1.15


def rolling_field(hectares: float) -> tuple[GroundSource, MultiPolygon]:
    """Make a lens-shaped field on ground that tilts by 9 % and rolls with waves of a few hundred metres."""
    radius = math.sqrt(hectares * 10_000 / math.pi / 0.8)
    reach = math.ceil(radius * 1.05 + 10)
    west, north = 600_000.0, 5_000_000.0
    x, y = np.meshgrid(np.arange(2 * reach) + 0.5, np.arange(2 * reach) + 0.5)
    heights = 300 + 0.09 * y + 3 * np.sin(x / 60) * np.cos(y / 90) + 1.5 * np.sin(x / 37 + y / 71)
    field = scale(Point(west + reach, north - reach).buffer(radius, quad_segs=32), 1.0, 0.8)
    return GroundSource(Grid(heights, west, north, 1.0, UTM), None, None, None, "invented"), MultiPolygon([field])


def measure(hectares: float) -> dict[str, float]:
    """Lay one field by the engine and by the baseline; times in seconds, memory in MB."""
    source, boundary = rolling_field(hectares)
    start = time.process_time()
    terrain = build_terrain(source, boundary, spacing_m=RULE.spacing_m)
    terrain_s = time.process_time() - start
    ground = plantable_ground(Site("invented", boundary, (), (), UTM), terrain, GroundRule())
    before = peak_mb()
    plain = stopped(lambda: parallel_baseline(ground.plantable, terrain, RULE.spacing_m, RULE.min_row_length_m))
    wall = time.perf_counter()
    start = time.process_time()
    rows = lay_rows(ground, terrain, RULE)
    return {
        "process": time.process_time() - start,
        "wall": time.perf_counter() - wall,
        "terrain": terrain_s,
        "baseline": plain,
        "before": before,
        "peak": peak_mb(),
        "rows": float(len(rows.frame)),
        "legal": legal(rows, ground, terrain),
    }


def stopped(work: Callable[[], object]) -> float:
    """Processor seconds of a piece of work."""
    start = time.process_time()
    work()
    return time.process_time() - start


def legal(rows: TreeRows, ground: Ground, terrain: Terrain) -> float:
    """Share of the ground with rows that hold every limit, so that speed can't be bought with bad rows."""
    return row_quality(rows, ground.plantable, terrain, RULE).at(IN_LIMITS)[RULE.max_grade_pct]


def peak_mb() -> float:
    """Largest memory that this process has held so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def table(results: dict[float, dict[str, float]]) -> str:
    """Set one column per size as a Markdown table, growth between the two largest sizes last."""
    sizes = list(results)

    def cells(key: str, form: str = ".1f") -> list[str]:
        return [f"{results[s][key]:{form}}" for s in sizes]

    process = [results[s]["process"] for s in sizes]
    lines = [
        ("", [f"{s:g} ha" for s in sizes], "growth"),
        ("---", ["---:"] * len(sizes), "---:"),
        ("engine, processor s", cells("process", ".2f"), growth(sizes, process)),
        ("engine, wall s", cells("wall", ".2f"), growth(sizes, [results[s]["wall"] for s in sizes])),
        ("bar, s", [f"{BARS_S[s]:g}" if s in BARS_S else "" for s in sizes], f"{BAR_GROWTH:g}"),
        ("parallel baseline, processor s", cells("baseline", ".2f"), growth(sizes, [results[s]["baseline"] for s in sizes])),
        ("engine over baseline", [f"{results[s]['process'] / max(results[s]['baseline'], 1e-3):.0f}" for s in sizes], ""),
        ("terrain before it, processor s", cells("terrain", ".2f"), growth(sizes, [results[s]["terrain"] for s in sizes])),
        ("peak memory, MB", cells("peak", ".0f"), ""),
        ("of it before rows", cells("before", ".0f"), ""),
        ("bar, MB", [f"{BAR_MEMORY_MB[s]:g}" if s in BAR_MEMORY_MB else "" for s in sizes], ""),
        ("rows", cells("rows", ".0f"), ""),
        ("legal share", cells("legal", ".3f"), ""),
    ]  # fmt: skip
    return "\n".join(f"| {name} | " + " | ".join(values) + f" | {last} |" for name, values, last in lines)


def growth(sizes: list[float], seconds: list[float]) -> str:
    """Exponent between the two largest sizes; empty where the smaller one is too short to tell."""
    if len(sizes) < 2 or seconds[-2] < 0.02:
        return ""
    return f"{math.log(seconds[-1] / seconds[-2]) / math.log(sizes[-1] / sizes[-2]):.2f}"


def own_process(size: float) -> dict[str, float]:
    """Measure one size in a process of its own."""
    print(f"{size:g} ha", file=sys.stderr, flush=True)
    run = subprocess.run([sys.executable, str(Path(__file__)), "--one", str(size)], capture_output=True, text=True, check=False)  # fmt: skip
    if run.returncode:
        sys.exit(f"{size:g} ha failed:\n{run.stderr}")
    found: dict[str, float] = json.loads(run.stdout)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("sizes", nargs="*", type=float, help="hectares; 1 10 100 if left out")
    parser.add_argument("--huge", action="store_true", help="measure 1,000 ha too")
    parser.add_argument("--one", type=float, help="measure one size in this process and print it as JSON")
    asked = parser.parse_args()
    if asked.one:
        print(json.dumps(measure(asked.one)))
        return
    sizes = sorted({*(asked.sizes or SIZES_HA), *([HUGE_HA] if asked.huge else [])})
    print(table({size: own_process(size) for size in sizes}))


if __name__ == "__main__":
    main()
