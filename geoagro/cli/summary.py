"""The short account of a layout on the terminal."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from geoagro.cli.columns import columns, costs, grid, measures
from geoagro.cli.habits.language import files_told, finding_line, headed, titled
from geoagro.outputs.report.areas import item_words
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.layout import Layout
from geoagro.values.words import meant, say
from geoagro.values.zones import PURPOSES, REST

_USE = {
    "layout.gpkg": say("all layers and tables; open it in a GIS viewer, the layers come with their look"),
    "layout.png": say("the field on one page; look at this first"),
    "light.png": say("light on the beds by month, and what company leaves of yields"),
}


def layout_summary(layout: Layout, written: Iterable[Path], words: Words = ENGLISH) -> str:
    """Areas, rows, plants, quality of the rows, what to look at in the inputs, and where the result is."""
    parts = [
        titled(layout.site.name),
        headed(say("Areas"), _areas(layout, words), words),
        headed(say("Plants"), _plants(layout, words), words),
        _zones(layout, words),
        headed(say("Rows"), _quality(layout, words), words),
        headed(say("Unplanted ground, and the limit that costs it"), _costs(layout, words), words),
        _findings(layout, words),
        files_told(written, _USE, words),
    ]
    return "\n\n".join(part for part in parts if part)


def _areas(layout: Layout, words: Words) -> str:
    """Areas in hectares; a part is set in under its whole."""
    table = layout.tables.area_summary
    depth: dict[str, int] = {}
    lines = []
    for item, whole, area in table[["item", "part_of", "area_m2"]].itertuples(index=False):
        depth[item] = depth.get(whole, -1) + 1
        area_ha = words.hectares(area, layout.site.area_sd_m2)
        lines.append(("  " * depth[item] + item_words(item, words), f"{area_ha} ha"))
    return columns(lines)


def _plants(layout: Layout, words: Words) -> str:
    """Count planting points, plants standing at once and plantings in all, by crop."""
    table = layout.tables.crop_summary
    counts = ("plants", "standing_at_once", "all_plantings")
    rows = [
        [words.crop(str(row["crop"])), *(words.number(row[name]) for name in counts)]
        for row in table.to_dict("records")
    ]
    points, _, plantings = (words.number(int(table[name].sum())) for name in counts)
    heads = (say("points"), say("at once"), say("planted in all"))
    total = [words(meant("sum", "all")), points, words.number(_at_once(layout)), plantings]
    return grid([["", *map(words, heads)], *rows, total])


def _zones(layout: Layout, words: Words) -> str:
    """Ground, rows and plants by zone, the rest of the field last."""
    if layout.zones is None:
        return ""
    areas = layout.zones.areas.groupby("zone")["area_m2"].sum()
    inside = layout.zones.zones.to_dict("records")

    def ha(zone: str) -> str:
        return words.hectares(areas.get(zone, 0.0), layout.site.area_sd_m2)

    rows = [[z["zone"], words(PURPOSES[z["purpose"]]), ha(z["zone"]), words.number(z["plants"])] for z in inside]
    left = layout.plants.count - sum(z["plants"] for z in inside)
    rows.append([words(REST), "", ha(REST), words.number(left)])
    heads = ["", words(say("purpose")), "ha", words(say("points"))]
    return headed(say("Zones"), grid([heads, *rows]), words)


def _at_once(layout: Layout) -> int:
    from geoagro.inputs.design.crop_library import read_crop_library
    from geoagro.pipeline import crops_of, timeline_of

    return timeline_of(layout.design, layout.plants, crops_of(layout.design, read_crop_library())).most_at_once()


def _quality(layout: Layout, words: Words) -> str:
    """Measures that tell most."""
    found = layout.tables.layout_quality
    told = found.told()
    rest = len(found) - len(told)
    more = words(say("and {n} more in the table layout_quality"), n=rest)
    return measures(told, words) + (f"\n  {more}" if rest else "")


def _costs(layout: Layout, words: Words) -> str:
    """Unplanted ground by reason; beds and paths are laid by now, so narrow alleys count as well."""
    from geoagro.pipeline import limit_costs_of

    return costs(limit_costs_of(layout.design, layout.ground, layout.unplanted, layout.beds), words)


def _findings(layout: Layout, words: Words) -> str:
    worth = [f for f in layout.findings if f.level != "note"]
    lines = "\n".join(f"  {finding_line(f, words)}" for f in worth)
    return headed(say("Look at"), lines, words) if worth else ""
