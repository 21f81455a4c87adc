"""The ground on a map page: layers with their looks, thinned, cut at the edge of a page, and packed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from geoagro.arrays import Shapes
from geoagro.frames import gpd
from geoagro.outputs.drawing import looks
from geoagro.outputs.map.pack import Pack, add_shapes
from geoagro.outputs.map.parts import Box
from geoagro.outputs.words.say import Words
from geoagro.values.report import LaidOut
from geoagro.values.words import say

_THIN_M = 0.02  # outlines are thinned by this much at most
_MANY, _COARSE_M = (
    2000,
    0.2,
)  # layers with more points also come thinned, for drawing far out (COARSE_BELOW in paint.js)
_PIXELS_ACROSS = 4000  # of a large screen that shows a whole field
_OVERLOOK_M = 5.0  # so far beds and rows are drawn beyond the edge of a part

Line = tuple[str, str, str, int | None]  # column, words, unit, decimals (None for texts and numbers of things)

_BED: tuple[Line, ...] = (
    ("row", say("Row"), "", None),
    ("width_m", say("Width"), "m", 2),
    ("length_m", say("Length"), "m", 1),
    ("area_m2", say("Area on the map"), "m²", 1),
)
_ROW: tuple[Line, ...] = (
    ("length_m", say("Length"), "m", 1),
    ("elevation_m", say("Mean height"), "m", 1),
    ("grade_p95_pct", say("Grade, 95 % flatter"), "%", 2),
    ("up_p50_m", say("Distance to the row above (median)"), "m", 2),
    ("down_p50_m", say("Distance to the row below (median)"), "m", 2),
)
_AREA: tuple[Line, ...] = (("area_m2", say("Area on the map"), "m²", 1),)


@dataclass(frozen=True)
class Sheet:
    """What of the ground a page shows: metres are counted from `origin`, outlines thinned by `thin_m`; all of it without `box`."""

    origin: tuple[float, float]
    thin_m: float = _THIN_M
    box: Box | None = None


def field_sheet(origin: tuple[float, float], box: Box) -> Sheet:
    """Give the sheet of a whole large field, thinned to what it shows when all of it is seen, less than a pixel."""
    return Sheet(origin, max(_THIN_M, max(box[2] - box[0], box[3] - box[1]) / _PIXELS_ACROSS))


def ground_layers(laid: LaidOut, *, beds: bool = True) -> list[dict[str, Any]]:
    """Layers in drawing order, the lowest first, each with its `frame`; without `beds`, paths and beds are left out."""
    unplanted = [
        _filled(f"unplanted_{k}", *looks.reason_look(reason), _AREA)
        | {"frame": laid.unplanted[laid.unplanted["reason"] == reason], "sign": chr(ord("A") + k)}
        for k, reason in enumerate(dict.fromkeys(laid.unplanted["reason"]))
    ]
    ground = [
        *unplanted,
        *(_bed_layers(laid) if beds else []),
        _filled(
            "exclusions",
            say("Exclusions and access tracks"),
            looks.EXCLUSION,
            _AREA,
            name="name",
            one=say("Exclusion:"),
        )
        | {"frame": laid.exclusions},
        *_contours(laid),
        _line("tree_rows", say("Tree rows"), looks.TREE_ROW, _ROW, name="row", one=say("Row"), dark="#f2f5f6")
        | {"frame": laid.tree_rows, "width": 1.6, "widest_m": 0.12 * laid.spacing_m},
        _boundary(laid),
    ]
    return [layer for layer in ground if len(layer["frame"])]


def _bed_layers(laid: LaidOut) -> list[dict[str, Any]]:
    return [
        _filled("paths", say("Paths"), looks.PATH, _BED, name="path", one=say("Path")) | {"frame": laid.paths},
        _filled("beds", say("Vegetable beds"), looks.BED, _BED, name="bed", one=say("Bed")) | {"frame": laid.beds},
        _filled("tree_beds", say("Tree beds"), looks.TREE_BED, _BED, name="bed", one=say("Tree bed"))
        | {"frame": laid.tree_beds},
    ]


def _boundary(laid: LaidOut) -> dict[str, Any]:
    layer = _filled("field", say("Field boundary"), looks.FIELD, (), one=say("Field"))
    frame = gpd.GeoDataFrame(geometry=[laid.boundary], crs=laid.crs)
    return layer | {"frame": frame, "paint": {}, "width": 2.5, "always": True, "tapped": False}


def _contours(laid: LaidOut) -> list[dict[str, Any]]:
    every = laid.contours["is_index"].astype(bool)
    lines: tuple[Line, ...] = (("elevation_m", say("Elevation"), "m", 2),)
    minor = _line("contours", say("Contours"), looks.CONTOUR, lines, one=say("Contour"), dark="#b8926a")
    major = _line(
        "index_contours", say("Every fifth contour"), looks.INDEX_CONTOUR, lines, one=say("Contour"), dark="#d8ae80"
    )
    return [
        minor | {"frame": laid.contours[~every], "width": 0.8},
        major | {"frame": laid.contours[every], "width": 1.5},
    ]


def _filled(
    key: str, title: str, look: looks.Fill, lines: tuple[Line, ...], *, name: str = "", one: str = ""
) -> dict[str, Any]:
    return {
        "key": key, "title": title, "feature_title": one or title, "name": name, "lines": lines, "filled": True,
        "tapped": True, "width": 0.8, "least": 0.6, "always": False, **_inks(look),
    }  # fmt: skip


def _line(
    key: str, title: str, look: looks.Line, lines: tuple[Line, ...], *, one: str, dark: str, name: str = ""
) -> dict[str, Any]:
    return {
        "key": key, "title": title, "feature_title": one, "name": name, "lines": lines, "filled": False, "tapped": False,
        "least": 0.0, "always": True, "paint": {}, "ink": {"day": look.ink, "dark": dark, "sun": "#000000"},
    }  # fmt: skip


def _inks(look: looks.Fill) -> dict[str, Any]:
    """Give the fill and outline in each mode."""
    return {
        "paint": {"day": look.paint, "dark": look.dark, "sun": look.sun},
        "ink": {"day": look.ink, "dark": "#c5cdd2" if look.paint == "none" else "#0b1416", "sun": "#000000"},
    }


def packed(pack: Pack, layer: dict[str, Any], words: Words, sheet: Sheet) -> dict[str, Any]:
    """Put what a page shows of a layer into its pack, and give what the script needs to know of it."""
    frame, shapes, filled = _on_sheet(layer, sheet)
    wanted = dict.fromkeys([*(line[0] for line in layer["lines"]), *([layer["name"]] if layer["name"] else [])])
    columns = {name: [_json_value(v) for v in frame[name]] for name in wanted}
    add_shapes(pack, layer["key"], shapes, sheet.origin)
    if shapely.get_num_coordinates(shapes).sum() > _MANY:
        coarse = shapely.simplify(shapes, max(_COARSE_M, sheet.thin_m))
        add_shapes(pack, f"{layer['key']}.coarse", coarse, sheet.origin)
    lines = [{"column": c, "words": words(t), "unit": u, "decimals": d} for c, t, u, d in layer["lines"]]
    told = {key: value for key, value in layer.items() if key != "frame"}
    titles = {"title": words(layer["title"]), "feature_title": words(layer["feature_title"])}
    return told | titles | {"count": len(shapes), "columns": columns, "lines": lines, "filled": filled}


def _on_sheet(layer: dict[str, Any], sheet: Sheet) -> tuple[gpd.GeoDataFrame, Shapes, bool]:
    """Give the features on the page, their thinned shapes cut a little beyond its edge, and whether they are areas."""
    frame, filled = layer["frame"], layer["filled"]
    thin = 0.0 if layer["key"] == "field" else sheet.thin_m
    if sheet.box is None:
        shapes = _thinned(frame.geometry.to_numpy(), thin)
        seen = ~shapely.is_empty(shapes)
        return frame[seen], shapes[seen], filled
    window = shapely.box(*sheet.box).buffer(_OVERLOOK_M, join_style="mitre")
    near = np.sort(frame.sindex.query(window, predicate="intersects"))
    frame = frame.iloc[near]
    shapes = frame.geometry.to_numpy()
    if layer["key"] == "field":
        shapes, filled = shapely.boundary(shapes), False  # the edge of the page isn't one of the field
    across = ~shapely.covered_by(shapes, window)
    shapes = _thinned(shapes, thin)
    shapes[across] = shapely.clip_by_rect(shapes[across], *window.bounds)
    seen = ~shapely.is_empty(shapes)
    return frame[seen], shapes[seen], filled


def _thinned(shapes: Shapes, by_m: float) -> Shapes:
    if not by_m:
        return np.array(shapes, dtype=object)
    thinned: Shapes = np.asarray(shapely.simplify(shapes, by_m, preserve_topology=by_m <= _COARSE_M), dtype=object)
    return thinned


def _json_value(value: Any) -> Any:
    if isinstance(value, str) or value is None:
        return value
    number = value.item() if hasattr(value, "item") else value
    if isinstance(number, float):
        return round(number, 3) if math.isfinite(number) else None
    return number
