"""The map of a large field as a folder of pages: one of the whole field, and one for each part that it is cut into."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from geoagro.outputs.map.content import (
    Shared,
    field_facts,
    pack_stakes,
    page_content,
    sample_plots,
    shared_content,
    with_relief,
)
from geoagro.outputs.map.layers import Sheet, field_sheet, ground_layers, packed
from geoagro.outputs.map.pack import Pack
from geoagro.outputs.map.page import page_text, write_map_page
from geoagro.outputs.map.parts import Part, Parts, cut_into_parts
from geoagro.outputs.map.plants import SortedPlants, on_page, pack_plants, parts_notes_key, sorted_plants
from geoagro.outputs.map.relief import relief
from geoagro.outputs.report.maps import MapData
from geoagro.reports.records.account import Account
from geoagro.values.progress import Progress, silent
from geoagro.values.words import say

MAP, FOLDER = "map.html", "map_parts"
_FEW_STAKES = 5_000
_OWN_NAME = re.compile(r"[A-Z]+[0-9]+\.html")


def map_parts(data: MapData, most: int) -> Parts | None:
    """Cut the field so that no page has many more plants than `most`; None where one page carries all of them."""
    plants = data.laid.plants
    if len(plants) <= most:
        return None
    return cut_into_parts(data.laid.boundary, plants["x"].to_numpy(), plants["y"].to_numpy(), most)


def page_names(parts: Parts | None) -> list[str]:
    """Names of the files of a map, the page to open last."""
    return [*(f"{FOLDER}/{part.name}.html" for part in (parts.parts if parts else ())), MAP]


def earlier_names(folder: Path, names: list[str]) -> list[str]:
    """Pages of parts that an earlier map left in the folder, and that this one hasn't."""
    found = [f"{FOLDER}/{file.name}" for file in (folder / FOLDER).glob("*.html") if _OWN_NAME.fullmatch(file.name)]
    return sorted(set(found) - set(names))


def write_map_pages(
    account: Account, data: MapData, parts: Parts | None, folder: Path, *, progress: Progress = silent
) -> None:
    """Write the pages into a folder; that of the parts must be there."""
    if parts is None:
        write_map_page(account, data, folder / MAP)
        return
    for k, (name, content) in enumerate(_contents(account, data, parts)):
        progress(say("writing the map"), k / (len(parts.parts) + 1))
        (folder / name).write_text(page_text(content, data.words), encoding="utf-8")
    progress(say("writing the map"), 1.0)


@dataclass(frozen=True, eq=False)
class _Cut:
    """What the pages of all parts are made from."""

    shared: Shared
    parts: Parts
    plants: SortedPlants
    layers: list[dict[str, Any]]
    key: str
    list: list[dict[str, Any]]


def _contents(account: Account, data: MapData, parts: Parts) -> Iterator[tuple[str, dict[str, Any]]]:
    """Give the content of one page after the other, that of the whole field last."""
    laid, shared = data.laid, shared_content(account, data)
    codes = [crop["code"] for crop in shared.crops]
    pages = parts.of(laid.plants["x"].to_numpy(), laid.plants["y"].to_numpy())
    plants = sorted_plants(laid.plants, codes, pages, len(parts.parts))
    key = parts_notes_key(laid, codes, parts)
    listed = _listed(shared, parts, plants.counts.sum(axis=1).tolist())
    cut = _Cut(shared, parts, plants, ground_layers(laid), key, listed)
    for k, name in enumerate(page_names(parts)[:-1]):
        yield name, _part_content(cut, k)
    yield MAP, _field_content(cut)


def _listed(shared: Shared, parts: Parts, counts: list[int]) -> list[dict[str, Any]]:
    return [
        {"name": part.name, "plants": count, "box": [round(part.box[k] - shared.origin[k % 2], 2) for k in range(4)]}
        for part, count in zip(parts.parts, counts, strict=True)
    ]


def _part_content(cut: _Cut, k: int) -> dict[str, Any]:
    """Everything that stands in one part; beds and rows are drawn a little beyond its edge."""
    shared, data, part = cut.shared, cut.shared.data, cut.parts.parts[k]
    pack, sheet = Pack(), Sheet(cut.shared.origin, box=part.box)
    layers = [packed(pack, layer, data.words, sheet) for layer in cut.layers]
    return page_content(
        shared,
        pack,
        box=part.box,
        title=f"{shared.head['name']} · {part.name}",
        part=part.name,
        parts=cut.list,
        near=[other.name for other in cut.parts.around(k)],
        facts=_part_facts(cut, k),
        layers=with_relief([layer for layer in layers if layer["count"]], relief(data.terrain, part.box), shared),
        crops=on_page(shared.crops, cut.plants.counts[k]),
        beds=pack_plants(pack, cut.plants.page(k), shared.origin),
        stakes=pack_stakes(pack, _stakes_in(cut, k), shared.origin),
        plots=_plots_in(cut, k),
        notes_key=f"{cut.key}@{part.name}",
    )


def _field_content(cut: _Cut) -> dict[str, Any]:
    """Give the whole field without beds and plants, and the frames of its parts."""
    shared, data, pack = cut.shared, cut.shared.data, Pack()
    box = data.laid.boundary.bounds
    sheet = field_sheet(shared.origin, box)
    layers = [packed(pack, layer, data.words, sheet) for layer in ground_layers(data.laid, beds=False)]
    few = data.stakes is not None and len(data.stakes) <= _FEW_STAKES
    pack_plants(pack, cut.plants.page(0).iloc[:0], shared.origin)
    return page_content(
        shared,
        pack,
        box=box,
        parts=cut.list,
        pages=f"{FOLDER}/",
        facts=field_facts(shared.account, data.words),
        layers=with_relief(layers, relief(data.terrain, box), shared),
        crops=shared.crops,
        beds=[],
        stakes=pack_stakes(pack, data.stakes if few else None, shared.origin),
        plots=[],
        notes_key=f"{cut.key}@",
    )


def _part_facts(cut: _Cut, k: int) -> list[list[str]]:
    words, account = cut.shared.data.words, cut.shared.account
    ground = shapely.box(*cut.parts.parts[k].cell).intersection(cut.shared.data.laid.boundary).area
    return [
        [words.number(cut.list[k]["plants"]), words(say("plants"))],
        [f"{words.hectares(ground, account.area_sd_m2)} ha", words(say("in this part of the field"))],
    ]


def _stakes_in(cut: _Cut, k: int) -> Any | None:
    stakes = cut.shared.data.stakes
    if stakes is None:
        return None
    return stakes[cut.parts.of(stakes["x"].to_numpy(dtype=float), stakes["y"].to_numpy(dtype=float)) == k]


def _plots_in(cut: _Cut, k: int) -> list[dict[str, Any]]:
    """Give the sample plots that reach into a part, each with the other parts that it reaches into."""
    plots, part = cut.shared.data.sample_plots, cut.parts.parts[k]
    if plots is None or not len(plots):
        return []
    reached = [_reached(other, plots) for other in cut.parts.parts]
    mine = np.flatnonzero(_reached(part, plots))
    told = sample_plots(plots.iloc[mine], cut.shared.origin)
    for plot, at in zip(told, mine, strict=True):
        plot["on"] = [p.name for n, p in enumerate(cut.parts.parts) if n != k and reached[n][at]]
    return told


def _reached(part: Part, plots: Any) -> Any:
    places = shapely.points(plots["x"].to_numpy(dtype=float), plots["y"].to_numpy(dtype=float))
    return shapely.distance(shapely.box(*part.cell), places) <= plots["radius_m"].to_numpy(dtype=float)
