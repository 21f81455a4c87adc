"""The panel beside the map of a sheet: what it is, scale, north, which sheet lies where, symbols, cautions."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from geoagro.arrays import Floats
from geoagro.outputs.drawing.letters import LEAST_PT, wrapped
from geoagro.outputs.drawing.letters import width_mm as letters_mm
from geoagro.outputs.drawing.paper import BLACK, GREY, Page
from geoagro.outputs.stakes.cautions import CAUTIONS
from geoagro.outputs.stakes.scale_factor import ScaleFactor
from geoagro.outputs.stakes.sheet_map import SHAPES, Content
from geoagro.outputs.stakes.sheet_plan import MARGIN_MM, PANEL_MM, Frame, Sheet, SheetPlan
from geoagro.outputs.words.say import Words
from geoagro.values.stakeout import STAKE_KINDS
from geoagro.values.words import say

_BAR_MM = 40.0
_NORTH_MM = 26.0
_LISTED_PT = LEAST_PT


def draw_panel(
    page: Page, content: Content, plan: SheetPlan, sheet: Sheet, names: tuple[tuple[str, tuple[str, ...]], ...]
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Fill the panel from the top down; `names` by row found no room on the map. Return those that have none here, too."""
    words = content.words
    left = page.width - MARGIN_MM - PANEL_MM
    top = page.height - MARGIN_MM
    write_name(page, left, top, content.site.name, width_mm=PANEL_MM - 14)
    page.write(
        left,
        top - 7,
        words(say("Stakes: sheet {number} of {count}"), number=sheet.number, count=len(plan.sheets)),
        size_pt=9.5,
    )
    page.write(left, top - 12, words(say("Scale 1:{scale}"), scale=plan.scale), size_pt=12, fontweight="bold")
    north_arrow(page, left + PANEL_MM - 5, top - 14, content.factor, words)
    scale_bar(page, left, top - 25, plan.scale, words)
    bottom = sheet_index(page, content, plan, sheet.number, Frame(left, top - 71, PANEL_MM, 38.0))
    bottom = symbols(page, left, bottom - 5, words)
    bottom = cautions(page, left, bottom - 3, words, width_mm=PANEL_MM, size_pt=LEAST_PT)
    return list_names(page, names, (left, bottom - 3, PANEL_MM), words, bottom_mm=MARGIN_MM, size_pt=_LISTED_PT)[0]


def list_names(
    page: Page,
    names: tuple[tuple[str, tuple[str, ...]], ...],
    place: tuple[float, float, float],
    words: Words,
    *,
    bottom_mm: float,
    size_pt: float,
) -> tuple[tuple[tuple[str, tuple[str, ...]], ...], float]:
    """List names of stakes, row after row, from a place (left, top, width) down to a height.

    Returns the rows that don't fit, and the height below the others.
    """
    left, top, width = place
    if not names:
        return (), top
    heading = words(say("No room for these on the map (in order along their row):"))
    top = page.paragraph(left, top, width, heading, size_pt=size_pt)
    lines = [words(say("row {row}: {names}"), row=row, names=", ".join(texts)) for row, texts in names]
    count = len(lines)
    while count and top - page.paragraph_mm(width, words.listed(lines[:count]), size_pt=size_pt) < bottom_mm:
        count -= 1
    top = page.paragraph(left, top - 0.4, width, words.listed(lines[:count]), size_pt=size_pt)
    return names[count:], top


def write_name(page: Page, left: float, top: float, name: str, *, width_mm: float, size_pt: float = 12.0) -> None:
    """Write the field's name, smaller if it is long, so that it keeps within a width; the longest in two lines, cut if need be."""
    size_pt = max(min(size_pt, 0.99 * size_pt * width_mm / max(letters_mm(name, size_pt, bold=True), 0.1)), LEAST_PT)
    lines = wrapped(name, width_mm, size_pt, bold=True)
    for k, line in enumerate(lines[:2]):
        told = f"{line}…" if k == 1 and len(lines) > 2 else line
        page.write(left, top - k * 0.4 * size_pt, told, size_pt=size_pt, fontweight="bold")


def scale_bar(page: Page, left: float, top: float, scale: int, words: Words) -> None:
    """Draw a bar of 40 mm in four fields, with the ground distance and the length to check the print by."""
    for k in range(4):
        page.box(left + k * _BAR_MM / 4, top - 2, _BAR_MM / 4, 2, fc=BLACK if k % 2 == 0 else "white")
    for share in (0.0, 0.5, 1.0):
        metres = share * _BAR_MM * scale / 1000
        page.write(left + share * _BAR_MM, top + 3.2, words.brief(metres), size_pt=7, ha="center" if share else "left")
    page.write(left, top - 3, words(say("metres; the bar is 40 mm long")), size_pt=LEAST_PT)


def north_arrow(page: Page, x: float, bottom: float, factor: ScaleFactor, words: Words) -> None:
    """Draw grid north, which is the sheet's up, and say where true north lies."""
    page.shape([(x - 2.6, bottom), (x, bottom + 10), (x, bottom + 2.4)], fc=BLACK)
    page.shape([(x + 2.6, bottom), (x, bottom + 10), (x, bottom + 2.4)], fc="white")
    page.write(x, bottom + 13.8, words(say("N")), size_pt=9, ha="center", fontweight="bold")
    turn = -factor.convergence_deg
    message = say("true north {turn:.1f}\u00b0 E") if turn > 0 else say("true north {turn:.1f}\u00b0 W")
    if abs(turn) < 0.05:
        message = say("true north: grid north")
    told = words(message, turn=abs(turn)).replace("° ", "°\u00a0")
    for k, line in enumerate(wrapped(told, _NORTH_MM, LEAST_PT)):  # one line would reach the scale, or beyond the frame
        page.write(x + 5, bottom - 0.8 - 2.9 * k, line, size_pt=LEAST_PT, ha="right")


def sheet_index(page: Page, content: Content, plan: SheetPlan, number: int, place: Frame) -> float:
    """Draw the field small at the top of a place, with all sheets and this one dark; return the height below."""
    west, south, east, north = shapely.total_bounds(
        np.array([content.site.boundary, *(s.ground for s in plan.sheets)], dtype=object)
    )
    mm_per_m = min(place.width / (east - west), place.height / (north - south))
    left, bottom = place.left, place.bottom + place.height - (north - south) * mm_per_m

    def on_page(xy: Floats) -> tuple[Any, Any]:
        return left + (xy[:, 0] - west) * mm_per_m, bottom + (xy[:, 1] - south) * mm_per_m

    for sheet in plan.sheets:
        x, y = on_page(shapely.get_coordinates(sheet.ground))
        this = sheet.number == number
        page.shape(np.column_stack([x, y]), fc="#bdbdbd" if this else "none", ec=GREY, lw=0.4)
        middle_x, middle_y = on_page(np.array([plan.own_middle(sheet)]))
        size_pt = float(np.clip((x.max() - x.min()) * 1.2, 0.0, 8.0))
        if size_pt < LEAST_PT and not this:
            continue  # among so many sheets only this one's place can be read
        size_pt = max(size_pt, LEAST_PT)
        weight = "bold" if this else "normal"
        page.write(
            middle_x[0], middle_y[0], str(sheet.number), size_pt=size_pt, ha="center", va="center", fontweight=weight
        )
    for part in shapely.get_parts(content.site.boundary):
        page.line(*on_page(shapely.get_coordinates(part.exterior)), width_pt=0.9)
    return float(bottom)


def symbols(page: Page, left: float, top: float, words: Words) -> float:
    """List the symbols; return the height below."""
    for k, kind in enumerate(STAKE_KINDS.values()):
        x, y = left + (k % 2) * PANEL_MM / 2, top - (k // 2) * 4.6
        page.marker(x + 1.5, y, SHAPES[kind.shape], size_pt=kind.size_pt, fill=BLACK if kind.is_filled else "white")
        page.write(x + 4, y, words(kind.brief), size_pt=7, va="center")
    bottom = top - 3 * 4.6
    for sentence in (
        say("012 at a stake: metres from the row's start."),
        say("12 in a box: row. Name on the stake: 12-012."),
    ):
        bottom = page.paragraph(left, bottom + 1.4, PANEL_MM, words(sentence), size_pt=LEAST_PT) - 1.4
    return bottom - 1.0


def cautions(page: Page, left: float, top: float, words: Words, *, width_mm: float, size_pt: float) -> float:
    """Write the cautions in a box; return the height below."""
    bottom = top - 1.5
    for title, text in CAUTIONS:
        page.write(left + 1.5, bottom, words(title), size_pt=size_pt * 1.15, fontweight="bold")
        bottom = page.paragraph(left + 1.5, bottom - 0.53 * size_pt, width_mm - 3, words(text), size_pt=size_pt) - 1.0
    page.box(left, bottom, width_mm, top - bottom, lw=1.0)
    return bottom
