"""What a layout was made from, kept inside the result so that it can be traced and made again."""

from __future__ import annotations

import hashlib
from typing import Any

import pandas as pd
from pyproj import CRS

from geoagro.values.layers import Field, LayerSpec
from geoagro.values.layout import Layout
from geoagro.version import __version__

SOURCE = LayerSpec(
    "layout_source",
    "What the layout was made from",
    "none",
    (
        Field("item", "text", "program, working_crs, heights, design, design_file, or the role of an input file."),
        Field("value", "text", "Version, name, path or whole text of the item."),
        Field("sha256", "text", "Checksum of an input file or of the text; empty for the rest."),
    ),
)

FINDINGS = LayerSpec(
    "layout_findings",
    "What was found on the way",
    "none",
    (
        Field("severity", "text", "note (nothing to do), repair (changed while reading) or warning (look at it)."),
        Field("about", "text", "File, key or place that it is about."),
        Field("finding", "text", "What was found, and what was done or is to be done about it."),
    ),
)


def source_table(layout: Layout, design_text: str | None) -> pd.DataFrame:
    """Program, CRS, heights, the design with every value in force, its text as written, and each input file."""
    design = layout.design.model_dump_json(indent=1, by_alias=True)
    rows = [
        ("program", f"geoagro {__version__}", None),
        ("working_crs", _crs_name(layout.site.crs), None),
        ("heights", layout.terrain.height_source, None),
        ("design", design, _sha256(design)),
    ]
    if design_text is not None:
        rows.append(("design_file", design_text, _sha256(design_text)))
    rows += [(source.role, source.path, source.sha256) for source in layout.site.sources]
    return _table(SOURCE, rows)


def findings_table(layout: Layout) -> pd.DataFrame:
    """One line per finding of reading and planting."""
    return _table(FINDINGS, [(f.level, f.where, f.text) for f in layout.findings])


def _table(spec: LayerSpec, rows: list[tuple[Any, ...]]) -> pd.DataFrame:
    return spec.frame({name: [row[k] for row in rows] for k, name in enumerate(spec.columns)})


def _crs_name(crs: CRS) -> str:
    authority = crs.to_authority(min_confidence=100)
    return f"{crs.name} ({':'.join(authority)})" if authority else str(crs.to_wkt())


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
