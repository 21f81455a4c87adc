"""The short account of tree rows, and of settings side by side, on the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from geoagro.cli.columns import costs, grid, measures, number, paragraph
from geoagro.rows.records.plan import RowPlan

_USE = {
    "rows.gpkg": "rows, pieces cut away, unserved ground, which limit the ground reaches first; for a GIS viewer",
    "rows.png": "the rows on one page; look at this first",
    "difficulty.png": "how hard the ground is for rows, as two maps",
    "difficulty.tif": "the same as a raster of three bands",
    "rows_compared.png": "the settings as charts; look at this first",
    "rows_compared.csv": "the same as a table",
}
_HEAD = (
    "", "method", "grade limit", "spacing", "in limits", "covered", "in tolerance", "spacing from", "to", "grade 95 %",
    "steepest", "ends/ha", "mean row",
)  # fmt: skip


def rows_summary(plan: RowPlan, written: Iterable[Path]) -> str:
    """Measures of the rows, what each limit costs, what the ground demands, and where the result is."""
    ground = f"{plan.ground.plantable.area / 1e4:.3f} ha of {plan.ground.boundary.area / 1e4:.3f} ha can be planted"
    return "\n\n".join(
        [
            _title(plan.site.name),
            f"Rows on {ground}\n" + measures(plan.quality),
            "Ground without rows, and the limit that costs it\n" + costs(plan.costs),
            "How hard the ground is for rows\n" + _difficulty(plan),
            "Result\n" + _files(written),
        ]
    )


def _difficulty(plan: RowPlan) -> str:
    if plan.difficulty is None:
        return paragraph("Unknown: it needs heights, and the design gives slope without direction.")
    table = plan.difficulty.summary
    lines = [("10 % below", "half below", "90 % below", "", "")]
    lines += [
        (*(number(row[k]) for k in ("p10", "p50", "p90")), row["unit"], row["definition"])
        for row in table.to_dict("records")
    ]
    widths = [max(len(line[k]) for line in lines) for k in range(4)]
    body = "\n".join(
        ("  " + "  ".join(line[k].rjust(widths[k]) for k in range(3)) + f"  {line[3]:<{widths[3]}}  {line[4]}").rstrip()
        for line in lines
    )
    return f"{paragraph(plan.difficulty.sentence)}\n\n{body}"


def comparison_summary(name: str, table: Any, written: Iterable[Path]) -> str:
    """Put settings side by side; say what the columns mean, which gave no rows, and where the result is."""
    cells = [_HEAD, *(_cells(row) for row in table.to_dict("records") if not row["problem"])]
    failed = [
        paragraph(f"{r.method}, {r.max_grade_pct:g} %, ± {100 * r.spacing_tolerance:g} %: {r.problem}")
        for r in table[table["problem"] != ""].itertuples()
    ]
    reading = (
        "* the design as it stands. In limits: share of the plantable ground with rows that hold this line's limits all "
        "at once. Covered: row length times spacing over plantable area. In tolerance: share of the distances between "
        "rows; nine tenths of them lie from .. to. Grade: 95 % of the row length is flatter, over 10 m."
    )
    return "\n\n".join(
        [
            _title(f"{name}: settings of the rows side by side"),
            grid(cells, left=2),
            paragraph(reading),
            *(["No rows\n" + "\n".join(failed)] if failed else []),
            "Result\n" + _files(written),
        ]
    )


def _cells(row: dict[str, Any]) -> tuple[str, ...]:
    return (
        "*" if row["own"] else "",
        row["method"],
        f"{row['max_grade_pct']:g} %",
        f"± {100 * row['spacing_tolerance']:g} %",
        *(_known(100 * row[name], "%", 1) for name in ("in_limits", "covered", "in_tolerance")),
        *(_known(row[name], "m", 2) for name in ("spacing_p05_m", "spacing_p95_m")),
        *(_known(row[name], "%", 2) for name in ("grade_p95_pct", "grade_max_pct")),
        f"{row['row_ends_per_ha']:.0f}",
        f"{row['mean_row_m']:.0f} m",
    )


def _known(value: float, unit: str, decimals: int) -> str:
    return "?" if math.isnan(value) else f"{value:.{decimals}f} {unit}"


def _title(text: str) -> str:
    return f"{text}\n" + "=" * len(text)


def _files(written: Iterable[Path]) -> str:
    return "\n".join(f"  {path}\n    {_USE.get(path.name, '')}".rstrip() for path in written)
