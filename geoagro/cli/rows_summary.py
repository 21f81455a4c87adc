"""The short account of tree rows on the terminal."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from geoagro.cli.columns import costs, measures, number, paragraph
from geoagro.rows.records.plan import RowPlan
from geoagro.values.measures import hectares_text

_USE = {
    "rows.gpkg": "rows, pieces cut away, unserved ground, which limit the ground reaches first; for a GIS viewer",
    "rows.png": "the rows on one page; look at this first",
    "difficulty.png": "how hard the ground is for rows, as two maps",
    "difficulty.tif": "the same as a raster of three bands",
}


def rows_summary(plan: RowPlan, written: Iterable[Path]) -> str:
    """Measures of the rows, what each limit costs, what the ground demands, and where the result is."""
    return "\n\n".join(
        [
            _title(plan.site.name),
            *_by_hand(plan),
            f"Rows ({_ground(plan)})\n" + measures(plan.quality),
            "Ground without rows, and the limit that costs it\n" + costs(plan.costs),
            "How hard the ground is for rows\n" + _difficulty(plan),
            "Result\n" + _files(written),
        ]
    )


def _ground(plan: RowPlan) -> str:
    areas = (plan.ground.plantable.area, plan.ground.boundary.area)
    ready, whole = (hectares_text(area, plan.site.area_sd_m2) for area in areas)
    return f"{ready} of {whole} can be planted"


def _by_hand(plan: RowPlan) -> list[str]:
    """How much of each row and guide drawn by hand is followed and why not more, and each limit that they break."""
    found = [f for f in (*plan.site.findings, *plan.ground.findings, *plan.rows.findings) if f.level != "note"]
    found += plan.rows.by_hand.findings if plan.rows.by_hand else ()
    return ["Look at\n" + "\n".join(paragraph(f"{f.level}: {f.where}: {f.text}") for f in found)] if found else []


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


def _title(text: str) -> str:
    return f"{text}\n" + "=" * len(text)


def _files(written: Iterable[Path]) -> str:
    return "\n".join(f"  {path}\n    {_USE.get(path.name, '')}".rstrip() for path in written)
