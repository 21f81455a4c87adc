"""What the map page shows: layers with their looks and data, crops, headline figures, words."""

from __future__ import annotations

import hashlib
import math
from typing import Any

import numpy as np
import shapely

from geoagro.arrays import Ints
from geoagro.crs import WGS84, transform_points
from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.crop_looks import crop_look, crop_numbers
from geoagro.outputs.map.pack import Pack, add_shapes, centimetres
from geoagro.outputs.map.words import map_words
from geoagro.outputs.report.block_sheet import crop_gap_m
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.report.pages import status
from geoagro.outputs.words.say import Words
from geoagro.reports.records.account import Account
from geoagro.values.base.records import records
from geoagro.values.plants import FARTHEST_NEIGHBOUR_M
from geoagro.values.report import LaidOut
from geoagro.values.rules.crop_words import stratum_words
from geoagro.values.words import say

_THIN_M = 0.02  # outlines are thinned by this much at most
_MANY, _COARSE_M = (
    2000,
    0.2,
)  # layers with more points also come thinned, for drawing far out (COARSE_BELOW in paint.js)
_REACH_M = 5000.0  # own position is exact this far around the field

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


def map_content(account: Account, data: MapData, relief: dict[str, Any] | None) -> dict[str, Any]:
    """Everything that the page's script reads, ready for JSON."""
    laid, words = data.laid, data.words
    pack = Pack()
    west, south, east, north = laid.boundary.bounds
    origin = (math.floor(west), math.floor(south))
    layers = _layers(pack, laid, words, origin)
    if relief is not None:
        box = [relief["box"][k] - origin[k % 2] for k in range(4)]
        layers.insert(2, {**relief, "kind": "relief", "key": "relief", "title": words(say("Relief")), "box": box})
    crops, beds = _plants(pack, account, laid, origin)
    for crop in crops:
        facts = laid.crops.get(crop["code"])
        crop["name"], crop["stratum"] = words.crop(crop["name"]), words(stratum_words(crop["stratum"]))
        crop["caution"] = words(facts.caution) if facts is not None and facts.caution else ""
    return {
        "name": laid.name,
        "locale": str(words.locale).replace("_", "-"),
        "facts": _facts(account, words),
        "words": map_words(words),
        "origin": list(origin),
        "box": [west - origin[0], south - origin[1], east - origin[0], north - origin[1]],
        "position": own_position(laid, origin),
        "layers": layers,
        "crops": crops,
        "beds": beds,
        "stakes": _stakes(pack, data.stakes, origin),
        "row_spacing_m": data.laid.spacing_m,
        "plots": _sample_plots(data.sample_plots, origin),
        "notes_key": _notes_key(laid),
        "arrays": pack.heads,
        "pack": pack.text(),
    }


def _facts(account: Account, words: Words) -> list[list[str]]:
    head = account.headline
    return [
        [f"{words.hectares(head.planted_m2, account.area_sd_m2)} ha", words(say("planted"))],
        [words.number(head.trees), words(say("trees"))],
        [words.number(head.standing_at_once), words(say("plants at once"))],
        [f"{words.hectares(head.field_m2, account.area_sd_m2)} ha", words(say("field"))],
        [status(account, words), ""],
    ]


def _layers(pack: Pack, laid: LaidOut, words: Words, origin: tuple[float, float]) -> list[dict[str, Any]]:
    """Layers in drawing order, the lowest first."""
    unplanted = [
        _filled(f"unplanted_{k}", *looks.reason_look(reason), _AREA)
        | {"frame": laid.unplanted[laid.unplanted["reason"] == reason], "sign": chr(ord("A") + k)}
        for k, reason in enumerate(dict.fromkeys(laid.unplanted["reason"]))
    ]
    ground = [
        *unplanted,
        _filled("paths", say("Paths"), looks.PATH, _BED, name="path", one=say("Path")) | {"frame": laid.paths},
        _filled("beds", say("Vegetable beds"), looks.BED, _BED, name="bed", one=say("Bed")) | {"frame": laid.beds},
        _filled("tree_beds", say("Tree beds"), looks.TREE_BED, _BED, name="bed", one=say("Tree bed"))
        | {"frame": laid.tree_beds},
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
    return [_packed(pack, layer, words, origin) for layer in ground if len(layer["frame"])]


def _boundary(laid: LaidOut) -> dict[str, Any]:
    layer = _filled("field", say("Field boundary"), looks.FIELD, (), one=say("Field"))
    shapes: dict[str, Any] = {
        "frame": None,
        "shapes": [laid.boundary],
        "paint": {},
        "width": 2.5,
        "always": True,
        "tapped": False,
    }
    return layer | shapes | {"frame": [0], "columns_only": {}}


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


def _packed(pack: Pack, layer: dict[str, Any], words: Words, origin: tuple[float, float]) -> dict[str, Any]:
    """Put a layer's shapes into the pack and leave what the script needs to know of it."""
    frame = layer.pop("frame")
    shapes = layer.pop("shapes", None)
    columns = layer.pop("columns_only", None)
    if shapes is None:
        shapes = shapely.simplify(frame.geometry.to_numpy(), _THIN_M)
        wanted = dict.fromkeys([*(line[0] for line in layer["lines"]), *([layer["name"]] if layer["name"] else [])])
        columns = {name: [_json_value(v) for v in frame[name]] for name in wanted}
    add_shapes(pack, layer["key"], shapes, origin)
    if shapely.get_num_coordinates(shapes).sum() > _MANY:
        add_shapes(pack, f"{layer['key']}.coarse", shapely.simplify(shapes, _COARSE_M), origin)
    lines = [{"column": c, "words": words(t), "unit": u, "decimals": d} for c, t, u, d in layer["lines"]]
    titles = {"title": words(layer["title"]), "feature_title": words(layer["feature_title"])}
    return layer | titles | {"count": len(shapes), "columns": columns, "lines": lines}


def _json_value(value: Any) -> Any:
    if isinstance(value, str) or value is None:
        return value
    number = value.item() if hasattr(value, "item") else value
    if isinstance(number, float):
        return round(number, 3) if math.isfinite(number) else None
    return number


def _plants(
    pack: Pack, account: Account, laid: LaidOut, origin: tuple[float, float]
) -> tuple[list[dict[str, Any]], list[str]]:
    """Pack the plants by crop, and describe the crops in the order of the report."""
    codes = list(account.crops["crop"])
    numbers = crop_numbers(codes)
    order = laid.plants["crop"].map({code: k for k, code in enumerate(codes)}).to_numpy()
    plants = laid.plants.iloc[np.lexsort((laid.plants["plant"], order))]
    beds = list(dict.fromkeys(plants["bed"]))
    pack.add("plants.x", centimetres(plants["x"], origin[0]), "i4", delta=1)
    pack.add("plants.y", centimetres(plants["y"], origin[1]), "i4", delta=1)
    pack.add("plants.place", _places_cm(plants), "u2")
    pack.add("plants.number", plants["plant"], "i4", delta=1)
    pack.add("plants.crop", np.sort(order), "u2")
    pack.add("plants.row", plants["row"], "i4", delta=1)
    pack.add("plants.bed", plants["bed"].map({bed: k for k, bed in enumerate(beds)}), "i4", delta=1)
    pack.add("plants.line", plants["line"], "u2")
    pack.add("plants.station", np.round(plants["station_m"] * 100), "i4", delta=1)
    ends = np.cumsum(account.crops["plants"].to_numpy()) if codes else np.array([], dtype=int)
    crops = []
    for k, row in enumerate(records(account.crops)):
        code, count = row.text("crop"), row.whole("plants")
        look = crop_look(numbers[code], row.text("stratum"))
        crops.append(
            {
                "code": code, "name": row.text("name"), "stratum": row.text("stratum"), "count": count,
                "share": row.number("share_area_m2"), "paint": look.paint, "shape": look.shape, "size": look.size_mm,
                "gap": min(crop_gap_m(laid, code), 1000.0),
                "span": [int(ends[k]) - count, int(ends[k])],
            }
        )  # fmt: skip
    return crops, beds


def _places_cm(plants: Any) -> Ints:
    """Width of each plant's place in whole centimetres, rounded down; as wide as it is looked for where none is near."""
    places: Ints = np.floor(100 * plants["nearest_m"].fillna(FARTHEST_NEIGHBOUR_M).to_numpy() + 1e-6).astype(np.int64)
    return places


def _stakes(pack: Pack, marks: Any | None, origin: tuple[float, float]) -> list[str]:
    """Pack the places of the stakes, row by row, and give their names."""
    if marks is None:
        return []
    mine = marks.sort_values(["row", "station_m"], kind="stable")
    pack.add("stakes.x", centimetres(mine["x"], origin[0]), "i4", delta=1)
    pack.add("stakes.y", centimetres(mine["y"], origin[1]), "i4", delta=1)
    pack.add("stakes.row", mine["row"], "i4", delta=1)
    return [str(name) for name in mine["stake"]]


def _sample_plots(plots: Any | None, origin: tuple[float, float]) -> list[dict[str, Any]]:
    if plots is None:
        return []
    return [
        {
            "name": str(p.plot),
            "x": round(p.x - origin[0], 2),
            "y": round(p.y - origin[1], 2),
            "radius": float(p.radius_m),
        }
        for p in plots.itertuples()
    ]


def _notes_key(laid: LaidOut) -> str:
    """Tell this layout's plants from those of another: notes go by plant number, which another layout gives anew."""
    table = laid.plants[["plant", "crop", "row"]].to_csv(index=False) + str(
        laid.plants[["x", "y"]].round(2).to_numpy().sum()
    )
    return hashlib.sha256(table.encode()).hexdigest()[:12]


def own_position(laid: LaidOut, origin: tuple[float, float]) -> dict[str, Any]:
    """Fit longitude and latitude to metres on the map by a polynomial of third degree (0.1 mm within 5 km), and back."""
    west, south, east, north = laid.boundary.bounds
    x, y = (
        a.ravel()
        for a in np.meshgrid(
            np.linspace(west - _REACH_M, east + _REACH_M, 15), np.linspace(south - _REACH_M, north + _REACH_M, 15)
        )
    )
    lon, lat = transform_points(x, y, laid.crs, WGS84)
    u, v = lon - lon.mean(), lat - lat.mean()
    fits = _cubics(u, v, (x - origin[0], y - origin[1]))
    east, north = x.mean() - origin[0], y.mean() - origin[1]
    back = _cubics((x - origin[0] - east) / _REACH_M, (y - origin[1] - north) / _REACH_M, (u, v))
    return {
        "lon0": float(lon.mean()), "lat0": float(lat.mean()), "x": fits[0], "y": fits[1],
        "x0": float(east), "y0": float(north), "unit": _REACH_M, "lon": back[0], "lat": back[1],
    }  # fmt: skip


def _cubics(u: Any, v: Any, wanted: tuple[Any, Any]) -> list[list[float]]:
    """Coefficients of both polynomials of third degree, in the order that tools.js adds them up."""
    terms = np.column_stack([u**0, u, v, u * u, u * v, v * v, u**3, u * u * v, u * v * v, v**3])
    return [np.linalg.lstsq(terms, values, rcond=None)[0].tolist() for values in wanted]
