"""The short account of a layout on the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path

from geoagro.values.layout import Layout

_USE = {
    "layout.gpkg": "all layers and tables; open it in a GIS viewer, the layers come with their look",
    "layout.png": "the field on one page; look at this first",
}


def layout_summary(layout: Layout, written: Iterable[Path]) -> str:
    """Areas, rows, plants, quality of the rows, what to look at in the inputs, and where the result is."""
    parts = [
        f"{layout.site.name}\n" + "=" * len(layout.site.name),
        "Areas\n" + _areas(layout),
        "Plants\n" + _plants(layout),
        "Rows\n" + _quality(layout),
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
        lines.append(("  " * depth[item] + item.replace("_", " "), f"{area / 10_000:.3f} ha"))
    return _columns(lines)


def _plants(layout: Layout) -> str:
    table = layout.tables.crop_summary
    lines = [(crop, f"{count:,}") for crop, count in table[["crop", "plants"]].values]
    return _columns([*lines, ("all", f"{int(table['plants'].sum()):,}")])


def _quality(layout: Layout) -> str:
    table = layout.tables.layout_quality
    return _columns(
        (measure.replace("_", " "), f"{_number(value)} {unit}".strip())
        for measure, value, unit in table[["measure", "value", "unit"]].values
    )


def _findings(layout: Layout) -> str:
    worth = [f for f in layout.findings if f.level != "note"]
    return "Look at\n" + "\n".join(f"  {f.level}: {f.where}: {f.text}" for f in worth) if worth else ""


def _files(written: Iterable[Path]) -> str:
    return "\n".join(f"  {path}\n    {_USE.get(path.name, '')}".rstrip() for path in written)


def _columns(lines: Iterable[tuple[str, str]]) -> str:
    """Names to the left, figures under each other to the right."""
    kept = list(lines)
    left = max((len(name) for name, _ in kept), default=0)
    right = max((len(figure.split(" ")[0]) for _, figure in kept), default=0)
    return "\n".join(
        f"  {name:<{left}}  {number:>{right}} {unit}".rstrip()
        for name, (number, _, unit) in ((name, figure.partition(" ")) for name, figure in kept)
    )


def _number(value: float) -> str:
    """Whole numbers whole, others to three digits that count.

    >>> _number(1234.0), _number(0.98765), _number(4.5012)
    ('1,234', '0.988', '4.5')
    """
    if not math.isfinite(value):
        return "unknown" if math.isnan(value) else "no limit"
    return f"{value:,.0f}" if float(value).is_integer() else f"{value:,.3g}" if abs(value) < 1000 else f"{value:,.0f}"
