"""The row engine on made ground of many kinds, as surveys of several cell sizes show it.

Run: python scripts/bench_made_ground.py [--kinds kettles gullies ...] [--cells 1 10 25] [--grade 4] [--seeds 1 2]

Each ground is invented, 1 m wide cells are the truth. A survey of wider cells is the mean of the truth over each cell; rows
are laid on the survey alone. `told` is the legal share that the layout states, `true` the one on the truth. Beside both the
parallel baseline on the truth. One Markdown table goes to stdout. Seconds are processor seconds of laying rows.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable

import numpy as np
from baseline_rows import parallel_baseline
from bench_rows import Case, at_limit, engine, measures
from geopandas import GeoDataFrame
from pyproj import CRS
from scipy.ndimage import gaussian_filter
from shapely import MultiPolygon, box

from geoagro.arrays import Floats
from geoagro.ground.plantable import plantable_ground
from geoagro.terrain.build import build_terrain
from geoagro.values.design import GroundRule, RowRule
from geoagro.values.grid import Grid
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.terrain import GroundSource

UTM = CRS.from_epsg(32633)
WEST, NORTH = 600_000.0, 5_000_000.0
SIDE, MARGIN = 224, 88
"""The field is a square of this many metres in the middle of a raster that reaches so far beyond it."""
RULE = RowRule(spacing_m=4.5, spacing_tolerance_pct=10, min_row_length_m=20.0)
HEAD = (
    "ground",
    "seed",
    "cell m",
    "told",
    "true",
    "parallel, true",
    "open sides",
    "of parallel",
    "joins",
    "over 6 m",
    "s",
)


def waves(seed: int, size: int, scale_m: float) -> Floats:
    """Smooth noise with standard deviation 1 and features about as wide as given."""
    noise: Floats = gaussian_filter(np.random.default_rng(seed).normal(size=(size, size)), scale_m, mode="wrap")
    return noise / noise.std()


def kettles(seed: int, x: Floats, y: Floats) -> Floats:
    """Knobs and closed hollows, on ground that tilts a little."""
    return 1.6 * waves(seed, len(x), 22) + 0.015 * y


def loess(seed: int, x: Floats, y: Floats) -> Floats:
    """Even slopes cut by branching valleys with steep sides."""
    along = x + 25 * np.sin(y / 60 + seed) + 6 * waves(seed, len(x), 30)
    return 0.08 * y - 5 * np.exp(-((np.mod(along, 120) - 60) ** 2) / (2 * 14**2)) * np.clip(y / len(y) + 0.2, 0, 1)


def gullies(seed: int, x: Floats, y: Floats) -> Floats:
    """Rills and gullies run down a hillside."""
    across = x + 8 * waves(seed, len(x), 25)
    return (
        0.12 * y + 0.35 * np.sin(across / 5.5) + 0.8 * np.sin(across / 17 + seed) + 0.5 * waves(seed + 50, len(x), 40)
    )


def mesas(seed: int, x: Floats, y: Floats) -> Floats:
    """Flats at two heights with banks between."""
    return 3 * np.tanh(2.2 * waves(seed, len(x), 38)) + 0.01 * (x + y)


def dunes(seed: int, x: Floats, y: Floats) -> Floats:
    """Long ridges side by side that bend and branch."""
    return 1.8 * np.sin((x + 0.6 * y + 18 * waves(seed, len(x), 45)) / 15) + 0.02 * y


def shoulders(seed: int, x: Floats, y: Floats) -> Floats:
    """Broad noses and hollows on a slope of 10 %."""
    return 0.10 * y + 3.2 * waves(seed, len(x), 45)


KINDS: dict[str, Callable[[int, Floats, Floats], Floats]] = {
    kind.__name__: kind for kind in (kettles, loess, gullies, mesas, dunes, shoulders)
}


def case(heights: Floats, cell: int, name: str) -> Case:
    """Build the field with a survey of cells so many metres wide."""
    size = len(heights) // cell * cell
    survey = heights[:size, :size].reshape(size // cell, cell, size // cell, cell).mean(axis=(1, 3))
    boundary = MultiPolygon([box(WEST + MARGIN, NORTH - MARGIN - SIDE, WEST + MARGIN + SIDE, NORTH - MARGIN)])
    source = GroundSource(Grid(survey, WEST, NORTH, float(cell), UTM), None, None, None, "invented")
    terrain = build_terrain(source, boundary, spacing_m=RULE.spacing_m, max_gap_m=10.0)
    return Case(name, plantable_ground(Site("invented", boundary, (), (), UTM), terrain, GroundRule()), terrain, RULE)


def line(kind: str, seed: int, cell: int, grade_pct: float) -> str:
    """Lay one field and tell what came of it."""
    size = SIDE + 2 * MARGIN
    x, y = np.meshgrid(np.arange(size) + 0.5, size - np.arange(size) - 0.5)
    heights = 100 + KINDS[kind](seed, x, y)
    truth, surveyed = case(heights, 1, kind), case(heights, cell, kind)
    rule = at_limit(RULE, grade_pct)
    laid = engine(surveyed, rule)
    if laid.rows is None:
        return f"| {kind} | {seed} | {cell} | {laid.why} |"
    told, true = measures(surveyed, laid.rows, rule), measures(truth, laid.rows, rule)
    plain = parallel_baseline(truth.ground.plantable, truth.terrain, RULE.spacing_m, RULE.min_row_length_m)
    beside = measures(truth, TreeRows(GeoDataFrame(geometry=plain, crs=UTM), RULE.spacing_m, None), rule)
    cells = (
        f"{told['legal']:.3f}", f"{true['legal']:.3f}", f"{beside['legal']:.3f}", f"{told['open']:.3f}",
        f"{true['mean'] / beside['mean']:.2f}", f"{told['joins']:.0f}", f"{told['over 6 m']:.4f}", f"{laid.seconds:.1f}",
    )  # fmt: skip
    return f"| {kind} | {seed} | {cell} | " + " | ".join(cells) + " |"


def main() -> None:
    """Print one line per ground, seed and cell size."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kinds", nargs="*", choices=KINDS, default=list(KINDS))
    parser.add_argument("--seeds", nargs="*", type=int, default=[1])
    parser.add_argument("--cells", nargs="*", type=int, default=[1], help="metres")
    parser.add_argument("--grade", type=float, default=4.0, help="limit, percent")
    asked = parser.parse_args()
    print("| " + " | ".join(HEAD) + " |\n" + "| --- " * len(HEAD) + "|", flush=True)
    for kind in asked.kinds:
        for seed in asked.seeds:
            for cell in asked.cells:
                print(line(kind, seed, cell, asked.grade), flush=True)


if __name__ == "__main__":
    main()
