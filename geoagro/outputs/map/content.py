"""What a map page shows: layers with their looks and data, crops, headline figures, words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from geoagro.outputs.map.layers import Sheet, ground_layers, packed
from geoagro.outputs.map.pack import Pack, centimetres
from geoagro.outputs.map.parts import Box
from geoagro.outputs.map.plants import crop_heads, notes_key, on_page, pack_plants, sorted_plants
from geoagro.outputs.map.position import own_position
from geoagro.outputs.map.words import map_words
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.report.pages import status
from geoagro.outputs.words.say import Words
from geoagro.reports.records.account import Account
from geoagro.values.words import say


@dataclass(frozen=True, eq=False)
class Shared:
    """What all pages of a field have in common: words, place of the origin, ways to longitude and latitude, figures."""

    account: Account
    data: MapData
    origin: tuple[float, float]
    head: dict[str, Any]
    crops: list[dict[str, Any]]


def shared_content(account: Account, data: MapData) -> Shared:
    """Work out once what every page of the field has."""
    laid, words = data.laid, data.words
    west, south, _, _ = laid.boundary.bounds
    origin = (math.floor(west), math.floor(south))
    head = {
        "name": laid.name,
        "locale": str(words.locale).replace("_", "-"),
        "words": map_words(words),
        "origin": list(origin),
        "position": own_position(laid, origin),
        "row_spacing_m": laid.spacing_m,
    }
    return Shared(account, data, origin, head, crop_heads(account, laid, words))


def map_content(account: Account, data: MapData, relief: dict[str, Any] | None) -> dict[str, Any]:
    """Everything that the script reads of a field that fits on one page, ready for JSON."""
    shared, pack = shared_content(account, data), Pack()
    sheet = Sheet(shared.origin)
    layers = [packed(pack, layer, data.words, sheet) for layer in ground_layers(data.laid)]
    plants = sorted_plants(data.laid.plants, [crop["code"] for crop in shared.crops], None)
    beds = pack_plants(pack, plants.page(0), shared.origin)
    return page_content(
        shared,
        pack,
        box=data.laid.boundary.bounds,
        facts=field_facts(account, data.words),
        layers=with_relief(layers, relief, shared),
        crops=on_page(shared.crops, plants.counts[0]),
        beds=beds,
        stakes=pack_stakes(pack, data.stakes, shared.origin),
        plots=sample_plots(data.sample_plots, shared.origin),
        notes_key=notes_key(data.laid),
    )


def page_content(shared: Shared, pack: Pack, *, box: Box, **more: Any) -> dict[str, Any]:
    """Put a page together; `title` is the field's name and `parts` are none, if not told."""
    whole = {"title": shared.head["name"], "part": None, "parts": [], "near": [], "pages": ""}
    inside = [box[k] - shared.origin[k % 2] for k in range(4)]
    return shared.head | whole | more | {"box": inside, "arrays": pack.heads, "pack": pack.text()}


def with_relief(layers: list[dict[str, Any]], relief: dict[str, Any] | None, shared: Shared) -> list[dict[str, Any]]:
    """Put the picture of the relief above the lowest two layers."""
    if relief is None:
        return layers
    words, origin = shared.data.words, shared.origin
    box = [relief["box"][k] - origin[k % 2] for k in range(4)]
    shade = {**relief, "kind": "relief", "key": "relief", "title": words(say("Relief")), "box": box}
    return [*layers[:2], shade, *layers[2:]]


def field_facts(account: Account, words: Words) -> list[list[str]]:
    """Headline figures of the field: each with what it is."""
    head = account.headline
    return [
        [f"{words.hectares(head.planted_m2, account.area_sd_m2)} ha", words(say("planted"))],
        [words.number(head.trees), words(say("trees"))],
        [words.number(head.standing_at_once), words(say("plants at once"))],
        [f"{words.hectares(head.field_m2, account.area_sd_m2)} ha", words(say("field"))],
        [status(account, words), ""],
    ]


def pack_stakes(pack: Pack, marks: Any | None, origin: tuple[float, float]) -> list[str]:
    """Pack the places of the stakes, row by row, and give their names."""
    if marks is None:
        return []
    mine = marks.sort_values(["row", "station_m"], kind="stable")
    pack.add("stakes.x", centimetres(mine["x"], origin[0]), "i4", delta=1)
    pack.add("stakes.y", centimetres(mine["y"], origin[1]), "i4", delta=1)
    pack.add("stakes.row", mine["row"], "i4", delta=1)
    return [str(name) for name in mine["stake"]]


def sample_plots(plots: Any | None, origin: tuple[float, float]) -> list[dict[str, Any]]:
    """Describe the sample plots; `on` names the other parts of the field that a plot reaches into."""
    if plots is None:
        return []
    return [
        {
            "name": str(p.plot),
            "x": round(p.x - origin[0], 2),
            "y": round(p.y - origin[1], 2),
            "radius": float(p.radius_m),
            "on": [],
        }
        for p in plots.itertuples()
    ]
