"""The row engine beside two plain ways of laying rows, on every field of a folder of real terrain.

Run: python scripts/bench_rows.py FOLDER [--fields palouse_2m/field1 ...] [--grade 4 2] [--methods engine parallel]

FOLDER holds rasters NAME.tif, each with NAME_fields.gpkg beside it (layer `fields`, column `name`). The engine lays
its rows at each grade limit and is judged at that limit; the baselines know no limit, so they are laid once. One
Markdown table per limit goes to stdout, what is being done to stderr. Seconds are processor seconds of laying rows,
reading and terrain left out. `parallel cut` is the parallel rows cut where they break the limits that the engine's rows hold, so that
lengths of rows that hold the same limits stand beside each other.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
from baseline_rows import contour_baseline, parallel_baseline
from shapely import LineString

from geoagro.errors import GeoagroError
from geoagro.inputs.design.file import read_design
from geoagro.inputs.raster.ground_source import read_ground_source
from geoagro.inputs.site import read_site
from geoagro.pipeline import ground_of, terrain_of
from geoagro.rows import quality_table as q
from geoagro.rows.candidates import cut_to_limits
from geoagro.rows.joining import possible_joins
from geoagro.rows.layout import lay_rows
from geoagro.rows.task import Task
from geoagro.values.design import Design, RowRule
from geoagro.values.ground import Ground
from geoagro.values.rows import TreeRows
from geoagro.values.terrain import Terrain

METHODS = ("engine", "parallel", "parallel cut", "contour")
LEGAL_BARS = {4.0: 0.95, 2.0: 0.88}
"""Our own choice, as all bars: what open fields without road banks or gullies should reach at a grade limit (percent)."""
BASELINES = {"parallel": parallel_baseline, "contour": contour_baseline}
DESIGN = """
name: {name}
inputs:
  boundary: {{file: {fields}, layer: fields, where: {where}}}
  elevation: {{file: {raster}}}
ground: {{setback_m: 1}}
rows: {{method: contour, spacing_m: 4.5, spacing_tolerance_pct: 10, min_row_length_m: 20}}
"""
HEAD = (
    "field", "ha", "rows by", "legal", "open sides", "at the edge", "covered", "in tolerance", "nearer", "grade p95", "grade max",
    "over 6 m", "as surveyed", "joins left", "too short", "mean row", "of parallel", "radius min", "seconds", "misses",
)  # fmt: skip


@dataclass(frozen=True)
class Case:
    """One field, ready for rows."""

    name: str
    ground: Ground
    terrain: Terrain
    rule: RowRule


@dataclass(frozen=True)
class Laid:
    """Rows of one method, or why there are none."""

    rows: TreeRows | None
    seconds: float
    why: str = ""


def cases(folder: Path, wanted: Sequence[str]) -> Iterator[Case]:
    """Read one field after the other; `wanted` holds names as RASTER/FIELD, or their beginnings."""
    for raster in sorted(folder.resolve().glob("*.tif")):
        fields = raster.with_name(f"{raster.stem}_fields.gpkg")
        if not fields.exists():
            continue
        for field in sorted(gpd.read_file(fields, layer="fields", ignore_geometry=True)["name"]):
            name = f"{raster.stem}/{field}"
            if not wanted or any(name.startswith(w) for w in wanted):
                yield _case(name, _design(name, raster, fields, field))


def _design(name: str, raster: Path, fields: Path, field: str) -> Design:
    """Go through a design file, so that the benchmark lays what a user would get."""
    where = json.dumps(f"name = '{field}'")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "design.yaml"
        path.write_text(DESIGN.format(name=name, fields=fields, where=where, raster=raster))
        return read_design(path)


def _case(name: str, design: Design) -> Case:
    site = read_site(design)
    terrain = terrain_of(design, site, read_ground_source(design, site))
    return Case(name, ground_of(design, site, terrain), terrain, design.rows)


def at_limit(rule: RowRule, grade_pct: float) -> RowRule:
    """Return the rule with another grade limit, the preferred grade no higher than that."""
    preferred = min(rule.preferred_grade_pct, grade_pct)
    return rule.model_copy(update={"max_grade_pct": grade_pct, "preferred_grade_pct": preferred})


def timed(lay: Callable[[], TreeRows]) -> Laid:
    """Lay rows and stop the processor time."""
    start = time.process_time()
    try:
        rows = lay()
    except GeoagroError as error:
        return Laid(None, time.process_time() - start, str(error))
    return Laid(rows, time.process_time() - start)


def engine(case: Case, rule: RowRule) -> Laid:
    """Lay rows as the product does."""
    return timed(lambda: lay_rows(case.ground, case.terrain, rule))


def baseline(case: Case, method: str) -> Laid:
    """Lay rows by a baseline; they are only measured, so they need no numbers."""
    d, least = case.rule.spacing_m, case.rule.min_row_length_m

    def lay() -> TreeRows:
        lines: list[LineString] = BASELINES[method](case.ground.plantable, case.terrain, d, least)
        return TreeRows(gpd.GeoDataFrame(geometry=lines, crs=case.terrain.crs), d, None)

    return timed(lay)


def measures(case: Case, rows: TreeRows, rule: RowRule) -> dict[str, float]:
    """Measure rows by the layout's own table of quality, at the rule's limits."""
    found = q.row_quality(rows, case.ground.plantable, case.terrain, rule)
    return {
        "legal": found.at(q.IN_LIMITS)[rule.max_grade_pct],
        "open": found[q.OPEN_SIDES],
        "edge": found[q.OPEN_SIDES_AT_EDGE],
        "covered": found[q.COVERED],
        "within": found[q.SPACING_WITHIN],
        "nearer": found[q.NEARER],
        "p95": found[q.GRADE_P95],
        "max": found[q.GRADE_MAX],
        "over 6 m": found[q.STEEP_6_M],
        "as surveyed": found[q.STEEP_UNSMOOTHED],
        "joins": joins_left(case, rows, rule),
        "short": found[q.SHORT_ROWS],
        "mean": found[q.MEAN_ROW_LENGTH],
        "radius": found[q.RADIUS_MIN],
    }


def task_of(case: Case, rule: RowRule) -> Task | None:
    """Tell what rows are laid for; None where heights are unknown."""
    smooth, judged = case.terrain.smooth, case.terrain.judged
    return None if smooth is None or judged is None else Task(case.ground.plantable, smooth, judged, rule)


def joins_left(case: Case, rows: TreeRows, rule: RowRule) -> float:
    """Count facing row ends that a curve joins within every limit."""
    task = task_of(case, rule)
    return math.nan if task is None else float(len(possible_joins(list(rows.frame.geometry), task)))


def cut(case: Case, laid: Laid, rule: RowRule) -> Laid:
    """Cut rows where they break a hard limit of the rule, as the engine cuts its own; says why where they can't be."""
    task = task_of(case, rule)
    if laid.rows is None:
        return laid
    if task is None:
        return Laid(None, laid.seconds, "heights are unknown")
    kept = cut_to_limits(list(laid.rows.frame.geometry), task).held.kept
    if not kept:
        return Laid(None, laid.seconds, "no row holds the limits")
    return replace(laid, rows=replace(laid.rows, frame=gpd.GeoDataFrame(geometry=kept, crs=case.terrain.crs)))


def misses(m: dict[str, float], parallel: dict[str, float] | None, rule: RowRule) -> str:
    """Name the bars that the rows miss; those of the legal share are for 4 % and for 2 %."""
    whole = 1e-9
    failed = {
        "legal": m["legal"] < LEGAL_BARS.get(rule.max_grade_pct, 0.0),
        "open": m["open"] > 0.05,
        "covered": m["covered"] < 0.96,
        "tolerance": m["within"] < 0.95,
        "nearer": m["nearer"] > whole,
        "p95": m["p95"] > rule.max_grade_pct + whole,
        "max": m["max"] > rule.max_grade_pct + 1e-3,
        "short": m["short"] > 0,
        "joins": m.get("joins", 0.0) > 0,
        "radius": m["radius"] < rule.min_turn_radius_m * 0.999,
    }
    if parallel is not None:
        failed["mean"] = m["mean"] < 0.8 * parallel["mean"]
        failed["p95 half"] = parallel["p95"] > 4.0 and m["p95"] > parallel["p95"] / 2
    return ", ".join(name for name, bad in failed.items() if bad)


def line(case: Case, method: str, laid: Laid, rule: RowRule, parallel: dict[str, float] | None) -> list[str]:
    """Cells of one line of the table."""
    first = [case.name, f"{case.ground.plantable.area / 1e4:.2f}", method]
    if laid.rows is None:
        return [*first, *["-"] * (len(HEAD) - 5), f"{laid.seconds:.1f}", laid.why]
    m = measures(case, laid.rows, rule)
    ratio = m["mean"] / parallel["mean"] if parallel else math.nan
    return [
        *first,
        *(f"{m[key]:.3f}" for key in ("legal", "open", "edge", "covered", "within")),
        f"{m['nearer']:.4f}",
        f"{m['p95']:.2f} %",
        f"{m['max']:.2f} %",
        *(f"{m[key]:.3f}" for key in ("over 6 m", "as surveyed")),
        f"{m['joins']:.0f}",
        f"{m['short']:.0f}",
        f"{m['mean']:.0f} m",
        f"{ratio:.2f}" if parallel else "-",
        f"{m['radius']:.1f} m",
        f"{laid.seconds:.1f}",
        misses(m, parallel, rule) if method == "engine" else "",
    ]


def field_lines(case: Case, limits: Sequence[float], methods: Sequence[str]) -> Iterator[tuple[float, list[str]]]:
    """Lay one field by every method; yields (limit, line)."""
    plain = {}
    for method in (m for m in BASELINES if m in methods or f"{m} cut" in methods):
        tell(f"{case.name}: {method}")
        plain[method] = baseline(case, method)
    parallel = plain.get("parallel")
    for limit in limits:
        rule = at_limit(case.rule, limit)
        known = measures(case, parallel.rows, rule) if parallel and parallel.rows is not None else None
        if "engine" in methods:
            tell(f"{case.name}: engine at {limit:g} %")
            yield limit, line(case, "engine", engine(case, rule), rule, known)
        for method, laid in plain.items():
            if method in methods:
                yield limit, line(case, method, laid, rule, known)
            if f"{method} cut" in methods:
                yield limit, line(case, f"{method} cut", cut(case, laid, rule), rule, known)


def markdown(rows: Sequence[Sequence[str]], head: Sequence[str] = HEAD) -> str:
    """Set cells as a Markdown table whose columns line up in plain text too."""
    every = [list(head), *map(list, rows)]
    widths = [max(len(row[k]) for row in every) for k in range(len(head))]
    set_lines = ["| " + " | ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)) + " |" for row in every]
    return "\n".join([set_lines[0], "|" + "|".join("-" * (w + 2) for w in widths) + "|", *set_lines[1:]])


def tell(what: str) -> None:
    """Say what is being done, on stderr."""
    print(what, file=sys.stderr, flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--fields", nargs="+", default=(), help="RASTER/FIELD, or the beginning of it; all if left out")
    parser.add_argument("--grade", nargs="+", type=float, default=(4.0, 2.0), help="limits in percent; 4 2 if left out")
    parser.add_argument("--methods", nargs="+", choices=METHODS, default=METHODS, help="all if left out")
    asked = parser.parse_args()
    tables: dict[float, list[list[str]]] = {limit: [] for limit in asked.grade}
    for case in cases(asked.folder, asked.fields):
        for limit, cells in field_lines(case, asked.grade, asked.methods):
            tables[limit].append(cells)
    if not any(tables.values()):
        sys.exit(
            f"No field in {asked.folder}" + (f" begins with {' or '.join(asked.fields)}." if asked.fields else ".")
        )
    for limit, rows in tables.items():
        print(f"\nGrade limit {limit:g} %, spacing 4.5 m +- 10 %, setback 1 m, rows of 20 m or more\n")
        print(markdown(rows))


if __name__ == "__main__":
    main()
