"""How long `geoagro portfolio` takes over a batch's store, and how much memory; the store is made of invented lines.

Run: python scripts/bench_portfolio.py [FIELDS ...]

Each line is what laying out a field leaves: figures, one to four crops, an outline of 5 to 40 corners in a place of its own.
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import shapely

from geoagro.outputs.portfolio.store import write_store
from geoagro.values.results.field_result import FieldResult

CROPS = ("apple", "hazel", "bean", "lettuce", "maize", "cassava")
PITCH_DEG, ACROSS = 0.004, 150


def line(number: int, rng: np.random.Generator) -> FieldResult:
    """Invent what a field came to."""
    lon, lat = 15 + PITCH_DEG * (number % ACROSS), 45 + PITCH_DEG * (number // ACROSS)
    corners = int(rng.integers(5, 40))
    angle = (np.arange(corners) + rng.uniform(0, 0.8, corners)) * 2 * np.pi / corners
    away = rng.uniform(0.0006, 0.0014, len(angle))
    outline = shapely.multipolygons(
        [shapely.polygons(np.column_stack([lon + away * np.cos(angle), lat + away * np.sin(angle)]))]
    )
    field_m2 = round(float(shapely.area(outline)) * 8.76e9, 1)
    crops = tuple(
        {
            "crop": code,
            "name": code,
            "habit": "herb",
            "plants": int(rng.integers(10, 5000)),
            "share_area_m2": field_m2 / 9,
        }
        for code in rng.choice(CROPS, rng.integers(1, 5), replace=False)
    )
    figures = {
        "field_m2": field_m2, "field_geodesic_m2": field_m2, "plantable_m2": 0.9 * field_m2, "planted_m2": 0.5 * field_m2,
        "trees": float(rng.integers(10, 900)), "plants": float(sum(crop["plants"] for crop in crops)),
        "crops": float(len(crops)), "rows": 12.0, "row_length_m": 0.15 * field_m2, "trees_per_ha_planted": 400.0,
    }  # fmt: skip
    name = f"field {number:06d}"
    return FieldResult(
        name, f"fields/{number}", "invented", "done", figures=figures, crops=crops, crs="WGS 84 / UTM zone 33N",
        outline=str(shapely.to_wkb(outline, hex=True)), seconds=1.0, processor_s=1.0, memory_mb=400.0,
    )  # fmt: skip


def measured(count: int, folder: Path) -> str:
    """Write a store and add it up; a line of the table."""
    rng = np.random.default_rng(1)
    results = [line(number, rng) for number in range(count)]
    begin = time.process_time()
    write_store(results, folder)
    written_s, begin = time.process_time() - begin, time.monotonic()
    call = [sys.executable, "-m", "geoagro", "portfolio", str(folder), "--output", str(folder / "report")]
    started = subprocess.Popen(call, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(started.pid, 0)
    assert os.waitstatus_to_exitcode(status) == 0, "the portfolio can't be added up"
    wall_s, processor_s = time.monotonic() - begin, used.ru_utime + used.ru_stime
    size = sum(path.stat().st_size for path in (folder / "report").iterdir() if path.is_file()) / 1e6
    return (
        f"| {count:,} | {written_s:.1f} | {wall_s:.1f} | {processor_s:.1f} | {used.ru_maxrss / 1024:.0f} | {size:.1f} |"
    )


def main() -> None:
    """Print a table."""
    print(
        "| fields | store written, processor s | portfolio, s | of processor | MB at most | files, MB |\n|---|---|---|---|---|---|"
    )
    for count in [int(text) for text in sys.argv[1:]] or [100, 1_000, 10_000]:
        with tempfile.TemporaryDirectory() as place:
            print(measured(count, Path(place)), flush=True)


if __name__ == "__main__":
    main()
