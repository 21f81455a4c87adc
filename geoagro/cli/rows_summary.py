"""The short account of tree rows on the terminal."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from geoagro.cli.columns import costs, measures, number, paragraph
from geoagro.cli.habits.language import files_told, finding_line, headed, titled
from geoagro.outputs.tables.column_words import unit_words
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.rows.records.plan import RowPlan
from geoagro.values.words import say

_USE = {
    "rows.gpkg": say("rows, pieces cut away, unplanted ground, which limit the ground reaches first; for a GIS viewer"),
    "rows.png": say("the rows on one page; look at this first"),
    "difficulty.png": say("how hard the ground is for rows, as two maps"),
    "difficulty.tif": say("the same as a raster of three bands"),
}


def rows_summary(plan: RowPlan, written: Iterable[Path], words: Words = ENGLISH) -> str:
    """Measures of the rows, what each limit costs, what the ground demands, and where the result is."""
    return "\n\n".join(
        [
            titled(plan.site.name),
            *_by_hand(plan, words),
            f"{_head(plan, words)}\n" + measures(plan.quality, words),
            headed(say("Ground without rows, and the limit that costs it"), costs(plan.costs, words), words),
            headed(say("How hard the ground is for rows"), _difficulty(plan, words), words),
            files_told(written, _USE, words),
        ]
    )


def _head(plan: RowPlan, words: Words) -> str:
    areas = (plan.ground.plantable.area, plan.ground.boundary.area)
    ready, whole = (words.hectares(area, plan.site.area_sd_m2) for area in areas)
    return words(say("Rows ({ready} ha of {whole} ha can be planted)"), ready=ready, whole=whole)


def _by_hand(plan: RowPlan, words: Words) -> list[str]:
    """How much of each row and guide drawn by hand is followed and why not more, and each limit that they break."""
    found = [f for f in (*plan.site.findings, *plan.ground.findings, *plan.rows.findings) if f.level != "note"]
    found += plan.rows.by_hand.findings if plan.rows.by_hand else ()
    lines = "\n".join(paragraph(finding_line(f, words)) for f in found)
    return [headed(say("Look at"), lines, words)] if found else []


def _difficulty(plan: RowPlan, words: Words) -> str:
    if plan.difficulty is None:
        return paragraph(words(say("Unknown: it needs heights, and the design gives slope without direction.")))
    table = plan.difficulty.summary
    heads = (say("10 % below"), say("half below"), say("90 % below"))
    lines = [(*map(words, heads), "", "")]
    lines += [
        (
            *(number(row[k], words) for k in ("p10", "p50", "p90")),
            unit_words(row["unit"], words),
            words.again(row["definition"]),
        )
        for row in table.to_dict("records")
    ]
    widths = [max(len(line[k]) for line in lines) for k in range(4)]
    body = "\n".join(
        ("  " + "  ".join(line[k].rjust(widths[k]) for k in range(3)) + f"  {line[3]:<{widths[3]}}  {line[4]}").rstrip()
        for line in lines
    )
    return f"{paragraph(words.again(plan.difficulty.sentence))}\n\n{body}"
