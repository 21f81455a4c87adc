"""What a planter must know of the channels in a field, and how to keep rows off them."""

from __future__ import annotations

import math

import geopandas as gpd

from geoagro.values.ground import GULLIES
from geoagro.values.site import Finding
from geoagro.values.words import Sentence, in_a_row

_FREE_SHARE = 0.95
"""A channel of which an exclusion keeps so much free needs no word; outlines are rounded when they are written."""
_LEAST_MARGIN_M = 1.0


def gully_findings(gullies: gpd.GeoDataFrame, *, field_m2: float, file: str) -> tuple[Finding, ...]:
    """Tell of channels that nothing keeps free; `file` is where `geoagro rows` writes layer GULLIES, as the design says it."""
    open_ = gullies[gullies["kept_free_m2"] < _FREE_SHARE * gullies["area_m2"]]
    if len(open_) == 0:
        return ()
    deepest, area = open_.iloc[0], float(open_["area_m2"].sum())
    told = Sentence(
        "{n} {n:channel lies|channels lie} in the field, narrow and steep as gullies and ditches are: up to {depth:.1f} m "
        "deep and {width:.1f} m wide, {length:.0f} m long in all, {area:.0f} m² or {share:.1f} % of the field; the "
        "deepest place lies at {at} (working CRS).",
        n=len(open_),
        depth=float(deepest["depth_m"]),
        width=float(open_["width_m"].max()),
        length=float(open_["length_m"].sum()),
        area=area,
        share=100 * area / field_m2,
        at=f"{deepest['deepest_x']:.0f}, {deepest['deepest_y']:.0f}",
    )
    margin_m = max(_LEAST_MARGIN_M, math.ceil(float(deepest["depth_m"])))
    crossing = Sentence(
        "Rows can't cross such ground within rows.max_grade_pct: they bend or end there. Nothing was taken off the field; "
        "go and look first."
    )
    remedy = Sentence(
        "To keep rows off, run `geoagro rows` and put under inputs.exclusions: {entry}.",
        entry=f"{{file: {file}, layer: {GULLIES.name}, name: gully, buffer_m: {margin_m:g}}}",
    )
    caution = Sentence(
        "Keep machines at least as far from an edge as the channel is deep; anything that holds or leads water there "
        "needs a licensed professional."
    )
    return (Finding("warning", "inputs.exclusions", in_a_row(told, crossing, remedy, caution)),)
