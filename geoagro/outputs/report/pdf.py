"""The report as PDF: pages set by typst from plain data, with fonts of our own; the same account, the same bytes."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any, Literal

import numpy as np
import shapely
from shapely import MultiPolygon, box

from geoagro.outputs.drawing.setting import set_pages
from geoagro.outputs.report import block_sheet
from geoagro.outputs.report.bed_letters import has_named_beds
from geoagro.outputs.report.blocks import Block
from geoagro.outputs.report.maps import (
    Bounds,
    MapData,
    best_height,
    legend_height,
    write_index,
    write_overview,
)
from geoagro.outputs.report.officer import fact_lines, facts
from geoagro.outputs.report.pages import Pictures, report_blocks, status
from geoagro.outputs.report.water import water_pages
from geoagro.outputs.words.say import Words
from geoagro.reports.records.account import Account
from geoagro.values.progress import Progress, silent
from geoagro.values.report import ReportRule
from geoagro.values.words import say

TEMPLATE = Path(__file__).with_name("report.typ")
_PAPERS = {"a4": ("a4", (178.0, 259.0)), "letter": ("us-letter", (183.9, 241.0))}  # name, room between margins in mm
_SHEET_FOOT_MM = 12.0  # two lines of caption, three where many crops are named
_COVER_MM = 113.0  # title, figures and caption of the first page
_FACT_MM = 4.6  # a line of facts on it
_OVERLAP = 0.08
_SCALES = (250, 500, 1000, 2000, 5000)
_MOST_SHEETS = 16


def write_report_pdf(
    account: Account, rule: ReportRule, data: MapData, path: Path, *, progress: Progress = silent
) -> None:
    """Draw the maps, set the pages and write the PDF.

    Raises
    ------
    OutputError
        Where the pages can't be set.
    """
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        work = Path(folder)
        pictures = _draw(rule, data, work, progress, facts_mm=_FACT_MM * fact_lines(facts(account, rule, data.words)))
        blocks = report_blocks(account, rule, data.words, pictures)
        progress("setting the pages", 0.9)
        typeset(_document(account, rule, data.words, blocks), work, path)
    progress("report written", 1.0)


def typeset(document: dict[str, Any], work: Path, path: Path) -> None:
    """Set a document (see report.typ) whose pictures lie in `work`."""
    set_pages(TEMPLATE, document, "data.json", work, path)


def document(
    *, title: str, author: str | None, status_words: str, rule: ReportRule, words: Words, blocks: list[Block]
) -> dict[str, Any]:
    """Wrap blocks into a document with its header, footer, language and paper."""
    page = words(say("Page {page} of {pages}"), page="\0", pages="\0").split("\0")
    return {
        "title": title,
        "author": author or "",
        "status": status_words,
        "foot": words.day(rule.as_of) if rule.as_of else "",
        "page_words": page,
        "language": words.locale.language,
        "region": words.locale.territory,
        "right_to_left": words.is_right_to_left,
        "paper": _PAPERS[rule.paper][0],
        "blocks": blocks,
    }


def page_room(rule: ReportRule) -> tuple[float, float]:
    """Width and height between the margins, millimetres."""
    return _PAPERS[rule.paper][1]


def _document(account: Account, rule: ReportRule, words: Words, blocks: list[Block]) -> dict[str, Any]:
    return document(
        title=account.name, author=rule.prepared_by, status_words=status(account, words), rule=rule, words=words, blocks=blocks
    )  # fmt: skip


def _draw(rule: ReportRule, data: MapData, work: Path, progress: Progress, *, facts_mm: float) -> Pictures:
    wide, high = page_room(rule)
    bounds = data.laid.boundary.bounds
    room = high - facts_mm - (_COVER_MM if rule.note is None else _COVER_MM + 37.0)
    progress("drawing the field", 0.0)
    write_overview(data, work / "cover.svg", (wide, best_height(bounds, wide, room)), legend_mm=0.0)
    legend = legend_height(data.laid)
    tall = best_height(bounds, wide, high - 24.0 - legend) + legend
    write_overview(data, work / "overview.svg", (wide, tall), legend_mm=legend)
    sheet, legend = (wide, high - _SHEET_FOOT_MM), block_sheet.legend_height(data.laid)
    room_mm = (sheet[0] - block_sheet.GRID_MM, sheet[1] - legend - block_sheet.GRID_MM)
    scale, blocks = block_frames(data.laid.boundary, rule.block_scale, room_mm)
    if len(blocks) > 1:
        framed = shapely.union_all([shapely.box(*block) for block in blocks]).bounds
        write_index(data, work / "index.svg", blocks, (wide, best_height(framed, wide, high - 40.0)))
    names, close = [], block_sheet.close_crops(data.laid, 1000 / scale)
    for number, extent in enumerate(blocks, start=1):
        progress("drawing block sheets", 0.2 + 0.7 * number / len(blocks))
        names.append(f"block{number}.pdf")
        block_sheet.write_block(data, work / names[-1], extent, size_mm=sheet, legend_mm=legend, close=close)
    return Pictures(
        cover="cover.svg",
        overview="overview.svg",
        index="index.svg" if len(blocks) > 1 else None,
        blocks=tuple(names),
        block_scale=scale,
        shaded=_shaded(data),
        beds_named=has_named_beds(data.laid, 1000 / scale),
        undrawn=tuple(data.laid.crops[code].name for code in sorted(close)),
        water=water_pages(data.laid.water, work, (wide, high)),
    )


def _shaded(data: MapData) -> Literal["heights", "slope", ""]:
    """Say what the relief on the maps shows: light on the ground by its heights, or slope alone, which has no side."""
    if data.terrain is None:
        return ""
    return "slope" if data.terrain.heights is None else "heights"


def block_frames(boundary: MultiPolygon, scale: int | str, frame_mm: tuple[float, float]) -> tuple[int, list[Bounds]]:
    """Cover the field with frames of one scale that overlap by 8 %, from the north-west; empty ones are dropped.

    "auto" takes the largest scale that needs 16 sheets at most (or 1:5000).
    """
    if scale != "auto":
        return int(scale), _frames(boundary, int(scale), frame_mm)
    for chosen in _SCALES:
        frames = _frames(boundary, chosen, frame_mm)
        if len(frames) <= _MOST_SHEETS:
            break
    return chosen, frames


def _frames(boundary: MultiPolygon, scale: int, frame_mm: tuple[float, float]) -> list[Bounds]:
    west, south, east, north = boundary.bounds
    wide, high = frame_mm[0] * scale / 1000, frame_mm[1] * scale / 1000
    lefts, tops = _starts(west, east, wide), _starts(-north, -south, high)
    frames = [(x, -y - high, x + wide, -y) for y in tops for x in lefts]
    boxes = np.array([box(*frame) for frame in frames], dtype=object)
    return [frame for frame, touches in zip(frames, shapely.intersects(boxes, boundary), strict=True) if touches]


def _starts(low: float, high: float, size: float) -> list[float]:
    """Where frames begin so that they cover low to high evenly and overlap by 8 % at least."""
    count = max(1, int(np.ceil(((high - low) / size - _OVERLAP) / (1 - _OVERLAP))))
    if count == 1:
        return [(low + high) / 2 - size / 2]
    return [float(v) for v in np.linspace(low, high - size, count)]
