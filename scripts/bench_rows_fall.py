"""Rows with a wanted fall beside level rows, on every field of a folder of real terrain.

Run: python scripts/bench_rows_fall.py FOLDER [--fields palouse_2m/field1 ...] [--fall 0.5 1] [--toward outlet ridge]

The folder is as for bench_rows.py. The outlet is the lowest corner of the plantable ground. Level rows are laid once a field, all rows at
a grade limit of 4 %. One Markdown table for each way and fall goes to stdout, what is being done to stderr.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import shapely
from bench_rows import Case, at_limit, cases, engine, markdown, tell
from shapely import Point

from geoagro.rows import quality_table as q
from geoagro.rows.layout import lay_rows

LIMIT_PCT = 4.0
HEAD = (
    "field", "covered", "by level rows", "kept within half", "median fall", "most of 95 %", "rise, most", "square to it", "legal",
    "open sides", "mean row", "seconds",
)  # fmt: skip


def lowest_corner(case: Case) -> Point:
    """Return the lowest corner of the plantable ground: where water would be led."""
    xy = shapely.get_coordinates(case.ground.plantable)
    assert case.terrain.judged is not None  # asked before
    return Point(xy[np.nanargmin(case.terrain.judged.sample(*xy.T))])


def line(case: Case, level_covered: float, fall_pct: float, toward: str) -> list[str]:
    """Lay one field with a wanted fall: cells of one line of the table."""
    asked = {"target_grade_pct": fall_pct, "fall_toward": toward}
    rule = at_limit(case.rule, LIMIT_PCT).model_copy(update=asked)
    outlet = lowest_corner(case) if toward == "outlet" else None
    start = time.process_time()
    rows = lay_rows(case.ground, case.terrain, rule, outlet=outlet)
    seconds = time.process_time() - start
    m = q.row_quality(rows, case.ground.plantable, case.terrain, rule, outlet=outlet)
    return [
        case.name,
        *(f"{v:.3f}" for v in (m[q.COVERED], level_covered, m[q.FALL_WITHIN])),
        *(f"{m[key]:.2f} %" for key in (q.FALL_P50, q.FALL_P95)),
        f"{100 * m[q.FALL_RISE]:.1f} cm",
        *(f"{v:.3f}" for v in (m[q.FALL_SQUARE], m.at(q.IN_LIMITS)[LIMIT_PCT], m[q.OPEN_SIDES])),
        f"{m[q.MEAN_ROW_LENGTH]:.0f} m",
        f"{seconds:.1f}",
    ]


def field_lines(case: Case, falls: list[float], ways: list[str]) -> Iterator[tuple[tuple[str, float], list[str]]]:
    """Lay one field level, then with each fall; yields ((way, fall), line)."""
    if case.terrain.judged is None:
        return
    tell(f"{case.name}: level rows")
    rule = at_limit(case.rule, LIMIT_PCT)
    level = engine(case, rule)
    if level.rows is None:
        sys.exit(f"{case.name}: {level.why}")
    covered = q.row_quality(level.rows, case.ground.plantable, case.terrain, rule)[q.COVERED]
    for toward in ways:
        for fall in falls:
            tell(f"{case.name}: {fall:g} % toward {toward}")
            yield (toward, fall), line(case, covered, fall, toward)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--fields", nargs="+", default=(), help="RASTER/FIELD, or the beginning of it; all if left out")
    parser.add_argument("--fall", nargs="+", type=float, default=[0.5, 1.0], help="percent; 0.5 1 if left out")
    parser.add_argument(
        "--toward", nargs="+", choices=("outlet", "ridge"), default=["outlet", "ridge"], help="both if left out"
    )
    asked = parser.parse_args()
    tables: dict[tuple[str, float], list[list[str]]] = {}
    for case in cases(asked.folder, asked.fields):
        for key, cells in field_lines(case, asked.fall, asked.toward):
            tables.setdefault(key, []).append(cells)
    if not tables:
        sys.exit(
            f"No field with heights in {asked.folder}"
            + (f" begins with {' or '.join(asked.fields)}." if asked.fields else ".")
        )
    for (toward, fall), rows in tables.items():
        print(
            f"\nWanted fall {fall:g} % toward {toward}, grade limit {LIMIT_PCT:g} %, spacing 4.5 m +- 10 %, setback 1 m\n"
        )
        print(markdown(rows, HEAD))


if __name__ == "__main__":
    main()
