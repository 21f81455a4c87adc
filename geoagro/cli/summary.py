"""The short account of a layout on the terminal."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from geoagro.cli.columns import columns, costs, grid, measures
from geoagro.reports.records.kinds import ground_kind
from geoagro.values.layout import Layout
from geoagro.values.measures import hectares_text
from geoagro.values.zones import REST

_USE = {
    "layout.gpkg": "all layers and tables; open it in a GIS viewer, the layers come with their look",
    "layout.png": "the field on one page; look at this first",
    "light.png": "light on the beds by month, and what company leaves of yields",
}


def layout_summary(layout: Layout, written: Iterable[Path]) -> str:
    """Areas, rows, plants, quality of the rows, what to look at in the inputs, and where the result is."""
    parts = [
        f"{layout.site.name}\n" + "=" * len(layout.site.name),
        "Areas\n" + _areas(layout),
        "Plants\n" + _plants(layout),
        _zones(layout),
        "Rows\n" + _quality(layout),
        "Unplanted ground, and the limit that costs it\n" + _costs(layout),
        _findings(layout),
        "Result\n" + _files(written),
    ]
    return "\n\n".join(part for part in parts if part)


def _areas(layout: Layout) -> str:
    """Areas in hectares; a part is set in under its whole."""
    table = layout.tables.area_summary
    depth: dict[str, int] = {}
    lines = []
    for item, whole, area in table[["item", "part_of", "area_m2"]].itertuples(index=False):
        depth[item] = depth.get(whole, -1) + 1
        lines.append(("  " * depth[item] + ground_kind(item).words, hectares_text(area, layout.site.area_sd_m2)))
    return columns(lines)


def _plants(layout: Layout) -> str:
    """Count planting points, plants standing at once and plantings in all, by crop."""
    table = layout.tables.crop_summary
    counts = ("plants", "standing_at_once", "all_plantings")
    rows = [[str(row["crop"]), *(f"{row[name]:,}" for name in counts)] for row in table.to_dict("records")]
    total = [f"{int(table[name].sum()):,}" for name in counts]
    at_once = _at_once(layout)
    return grid([["", "points", "at once", "planted in all"], *rows, ["all", total[0], f"{at_once:,}", total[2]]])


def _zones(layout: Layout) -> str:
    """Ground, rows and plants by zone, the rest of the field last."""
    if layout.zones is None:
        return ""
    areas = layout.zones.areas.groupby("zone")["area_m2"].sum()
    inside = layout.zones.zones.to_dict("records")

    def ha(zone: str) -> str:
        return hectares_text(areas.get(zone, 0.0), layout.site.area_sd_m2).removesuffix(" ha")

    rows = [[z["zone"], z["purpose"], ha(z["zone"]), f"{z['plants']:,}"] for z in inside]
    left = layout.plants.count - sum(z["plants"] for z in inside)
    rows.append([REST, "", ha(REST), f"{left:,}"])
    return "Zones\n" + grid([["", "purpose", "ha", "points"], *rows])


def _at_once(layout: Layout) -> int:
    from geoagro.inputs.design.crop_library import read_crop_library
    from geoagro.pipeline import crops_of, timeline_of

    return timeline_of(layout.design, layout.plants, crops_of(layout.design, read_crop_library())).most_at_once()


def _quality(layout: Layout) -> str:
    """Measures that tell most."""
    found = layout.tables.layout_quality
    told = found.told()
    rest = len(found) - len(told)
    return measures(told) + (f"\n  and {rest} more in the table layout_quality" if rest else "")


def _costs(layout: Layout) -> str:
    """Unplanted ground by reason; beds and paths are laid by now, so narrow alleys count as well."""
    from geoagro.pipeline import limit_costs_of

    return costs(limit_costs_of(layout.design, layout.ground, layout.unplanted, layout.beds))


def _findings(layout: Layout) -> str:
    worth = [f for f in layout.findings if f.level != "note"]
    return "Look at\n" + "\n".join(f"  {f.level}: {f.where}: {f.text}" for f in worth) if worth else ""


def _files(written: Iterable[Path]) -> str:
    return "\n".join(f"  {path}\n    {_USE.get(path.name, '')}".rstrip() for path in written)
