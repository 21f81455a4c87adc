"""Printed sheets of a stake-out: an overview, then maps true to scale, to take into the field."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from shapely import Polygon, box

from geoagro.outputs.drawing.letters import width_mm
from geoagro.outputs.drawing.paper import BLACK, GREY, Page, pdf_pages
from geoagro.outputs.stakes.sheet_map import Content, draw_map
from geoagro.outputs.stakes.sheet_panel import cautions, draw_panel, list_names, north_arrow, write_name
from geoagro.outputs.stakes.sheet_plan import MARGIN_MM, PAPERS_MM, Frame, Sheet, SheetPlan, map_frame, plan_sheets
from geoagro.outputs.stakes.walk_legs import walk_legs
from geoagro.outputs.words.say import Words
from geoagro.stakeout.records import figures as f
from geoagro.values.base.records import records
from geoagro.values.progress import Progress, silent
from geoagro.values.stakeout import StakeRule
from geoagro.values.words import say

Listed = tuple[tuple[str, tuple[str, ...]], ...]
_OVERVIEW_PANEL_MM = 92.0
_CIRCLE_MM = 4.6  # half of the circle around a sheet's number on the overview
_LEAST_ROOM_MM = 22.0  # for a further sheet's list of names, or it begins on the next page
_MOST_BELOW = 0.4  # of the page's height, for sentences below the overview's map; more get a page of their own
_MOST_PARTS = 10  # in the overview's table; further ones follow as lines of text, on the next page where room ends


def write_sheets(path: Path, content: Content, rule: StakeRule, *, progress: Progress = silent) -> int:
    """Write the overview and all sheets as one PDF; return the number of sheets (without the overview)."""
    rows = content.rows
    plan = plan_sheets(content.stakes.marks, rows.frame.geometry.to_numpy(), rows.spacing_m, rule)
    title = content.words(say("Stakes of {field}"), field=content.site.name)
    with pdf_pages(path, title, language=content.words.tag) as add:
        page, advice = _overview(content, plan)
        add(page)
        while advice:
            page, advice = _more_advice(content, plan, advice)
            add(page)
        more: list[tuple[int, Listed]] = []
        for k, sheet in enumerate(plan.sheets):
            progress("drawing sheets", k / len(plan.sheets))
            page, left_over = _sheet(content, plan, sheet)
            add(page)
            more += [(sheet.number, left_over)] if left_over else []
        while more:
            page, more = more_names_page(content, plan, more)
            add(page)
    return len(plan.sheets)


def _sheet(content: Content, plan: SheetPlan, sheet: Sheet) -> tuple[Page, Listed]:
    name = content.words(say("Sheet {number}: rows and stakes, 1:{scale}"), number=sheet.number, scale=plan.scale)
    page = Page(*PAPERS_MM[plan.paper], name=name)
    frame = map_frame(plan.paper)
    names = draw_map(page, frame, content, plan, sheet)
    left_over = draw_panel(page, content, plan, sheet, names.listed)
    _point_to_neighbours(page, frame, plan, sheet, content.words)
    return page, left_over


def more_names_page(
    content: Content, plan: SheetPlan, names: list[tuple[int, Listed]]
) -> tuple[Page, list[tuple[int, Listed]]]:
    """Give a page to names, by sheet, that found room neither on its map nor beside it; returns those left for the next."""
    words = content.words
    page = Page(*PAPERS_MM[plan.paper], name=words(say("More names of stakes")))
    top = page.height - MARGIN_MM
    write_name(page, MARGIN_MM, top, words(say("{field}: more names of stakes"), field=content.site.name), width_mm=200)
    top -= 9
    width = page.width - 2 * MARGIN_MM
    for k, (number, listed) in enumerate(names):
        page.write(MARGIN_MM, top, words(say("sheet {number}"), number=number), size_pt=8.0, fontweight="bold")
        place = (MARGIN_MM, top - 4.5, width)
        left, top = list_names(page, listed, place, words, bottom_mm=MARGIN_MM, size_pt=8.0)
        if left or (top < MARGIN_MM + _LEAST_ROOM_MM and k + 1 < len(names)):
            return page, [*([(number, left)] if left else []), *names[k + 1 :]]
        top -= 3.0
    return page, []


def _point_to_neighbours(page: Page, frame: Frame, plan: SheetPlan, sheet: Sheet, words: Words) -> None:
    """Say at each edge of the map which sheet goes on there."""
    x, y = frame.left + frame.width / 2, frame.bottom + frame.height / 2
    top, right = frame.bottom + frame.height, frame.left + frame.width
    box = {"boxstyle": "square,pad=0.2", "fc": "white", "ec": "none"}
    for step, at, options in (
        ((0, 1), (x, top + 0.8), {"ha": "center", "va": "bottom"}),
        ((0, -1), (x, frame.bottom - 4.2), {"ha": "center", "va": "top"}),
        ((-1, 0), (frame.left - 4.2, y), {"ha": "right", "va": "center", "rotation": 90}),
        ((1, 0), (right + 0.7, y), {"ha": "left", "va": "center", "rotation": 90}),
    ):
        other = plan.neighbour(sheet, *step)
        if other is not None:
            page.write(*at, words(say("sheet {number}"), number=other.number), size_pt=7.5, bbox=box, **options)


def _overview(content: Content, plan: SheetPlan) -> tuple[Page, tuple[str, ...]]:
    """Draw the overview; returns the sentences of advice that find no room on it."""
    words = content.words
    page = Page(*PAPERS_MM[plan.paper], name=words(say("Overview of sheets and walks")))
    left = page.width - MARGIN_MM - _OVERVIEW_PANEL_MM
    top = page.height - MARGIN_MM
    write_name(page, left, top, content.site.name, width_mm=_OVERVIEW_PANEL_MM - 16, size_pt=14)
    page.write(left, top - 7, words(say("Stakes: overview (not to scale)")), size_pt=9)
    north_arrow(page, page.width - MARGIN_MM - 5, top - 14, content.factor, words)
    bottom = _facts(page, content, left, top - 18)
    bottom = cautions(page, left, bottom - 1, words, width_mm=_OVERVIEW_PANEL_MM, size_pt=7.2)
    key = words(
        say(
            "Circles: sheets. Black boxes: where each part of the walk begins; its line goes on from there. Thin and grey: the way "
            "there from the start."
        )
    )
    bottom = page.paragraph(left, bottom - 3, _OVERVIEW_PANEL_MM, key, size_pt=7)
    bottom = _parts(page, content, left, bottom - 2)
    more = _advice(page, (*_further_parts(content), *content.advice), (left, bottom, _OVERVIEW_PANEL_MM))
    return page, _overview_map(page, content, plan, more)


def _overview_map(page: Page, content: Content, plan: SheetPlan, more: tuple[str, ...]) -> tuple[str, ...]:
    """Draw the map, less high where that makes room for the sentences below it; returns them where it doesn't."""
    width = page.width - 2 * MARGIN_MM - _OVERVIEW_PANEL_MM - 3
    height = page.height - 2 * MARGIN_MM
    text = sum(page.paragraph_mm(width, sentence, size_pt=7) + 1.5 for sentence in more)
    fits = text <= _MOST_BELOW * height
    below = text if fits else 0.0
    axes = page.frame(MARGIN_MM, MARGIN_MM + below, width, height - below)
    _fit(axes, content, plan, width, height - below)
    _draw_overview(axes, content, plan)
    return _advice(page, more, (MARGIN_MM, MARGIN_MM + below + 0.01, width)) if fits else more


def _advice(page: Page, sentences: tuple[str, ...], place: tuple[float, float, float]) -> tuple[str, ...]:
    """Write as many sentences as there is room for from a place (left, top, width) down; return the others."""
    left, top, width = place
    for k, sentence in enumerate(sentences):
        if top - 1.5 - page.paragraph_mm(width, sentence, size_pt=7) < MARGIN_MM:
            return sentences[k:]
        top = page.paragraph(left, top - 1.5, width, sentence, size_pt=7)
    return ()


def _more_advice(content: Content, plan: SheetPlan, sentences: tuple[str, ...]) -> tuple[Page, tuple[str, ...]]:
    """Give a page to what the overview has no room for."""
    page = Page(*PAPERS_MM[plan.paper], name=content.words(say("Overview, continued")))
    top = page.height - MARGIN_MM
    write_name(page, MARGIN_MM, top, content.site.name, width_mm=200)
    page.write(MARGIN_MM, top - 7, content.words(say("Overview, continued")), size_pt=9)
    return page, _advice(page, sentences, (MARGIN_MM, top - 12, page.width - 2 * MARGIN_MM))


def _fit(axes: Axes, content: Content, plan: SheetPlan, width: float, height: float) -> None:
    shapes = np.array([content.site.boundary, *(s.ground for s in plan.sheets)], dtype=object)
    west, south, east, north = shapely.total_bounds(shapes)
    metres_per_mm = 1.03 * max((east - west) / width, (north - south) / height)
    x, y = (west + east) / 2, (south + north) / 2
    axes.set_xlim(x - width * metres_per_mm / 2, x + width * metres_per_mm / 2)
    axes.set_ylim(y - height * metres_per_mm / 2, y + height * metres_per_mm / 2)


def _draw_overview(axes: Axes, content: Content, plan: SheetPlan) -> None:
    for exclusion in content.site.exclusions:
        for part in shapely.get_parts(exclusion.area):
            axes.fill(*shapely.get_coordinates(part.exterior).T, fc="#eeeeee", ec=GREY, hatch="xxx", lw=0.4)
    for part in shapely.get_parts(content.site.boundary):
        for ring in (part.exterior, *part.interiors):
            axes.plot(*shapely.get_coordinates(ring).T, color=BLACK, lw=1.3)
    rows = [shapely.get_coordinates(line) for line in content.rows.frame.geometry]
    axes.add_collection(LineCollection(rows, colors=GREY, linewidths=0.5))
    styles = ("solid", (0, (5, 2)), (0, (1, 1.2)), (0, (6, 2, 1, 2)))
    marks = content.stakes.marks.sort_values("walk")
    for number, way, walk in walk_legs(content.stakes.walk, marks):
        axes.plot(*shapely.get_coordinates(way).T, color=GREY, lw=0.25)
        axes.plot(*shapely.get_coordinates(walk).T, color=BLACK, lw=0.9, ls=styles[(number - 1) % len(styles)])
    start = shapely.get_coordinates(content.stakes.walk.geometry.iloc[0])[0]
    axes.plot(*start, marker="o", ms=7, mfc="white", mec=BLACK, mew=1.5)
    axes.annotate(
        content.words(say("start")), start, xytext=(6, 4), textcoords="offset points", fontsize=9, fontweight="bold"
    )
    firsts = list(records(marks.drop_duplicates("day_trip")))
    for first in firsts:
        axes.text(
            first.number("x"), first.number("y"), str(first.whole("day_trip")), fontsize=7, ha="center", va="center", zorder=6,
            bbox={"boxstyle": "square,pad=0.2", "fc": BLACK, "ec": BLACK}, color="white", fontweight="bold",
        )  # fmt: skip
    metres_per_mm = float(np.ptp(axes.get_xlim()) / (axes.bbox.width / axes.figure.dpi * 25.4))
    named = _named_on_overview(content, start, firsts, metres_per_mm)
    for sheet in plan.sheets:
        axes.plot(*shapely.get_coordinates(sheet.ground).T, color=GREY, lw=0.5, ls=(0, (2, 2)))
        axes.text(
            *off_names(plan.own_middle(sheet), named, _CIRCLE_MM * metres_per_mm), str(sheet.number), fontsize=13, fontweight="bold", ha="center", va="center", zorder=8,
            bbox={"boxstyle": "circle,pad=0.25", "fc": "white", "ec": BLACK, "lw": 0.8},
        )  # fmt: skip


def _named_on_overview(content: Content, start: Any, firsts: list[Any], metres_per_mm: float) -> list[Polygon]:
    """Ground that the words at the start and the boxes of the parts take on the overview."""
    x, y = start
    wide, high = width_mm(content.words(say("start")), 9, bold=True), 4.5
    boxes = [box(x, y, x + (wide + 3.0) * metres_per_mm, y + (high + 2.0) * metres_per_mm)]
    spots = [shapely.Point(first.number("x"), first.number("y")) for first in firsts]
    return [*boxes, *(spot.buffer(2.2 * metres_per_mm) for spot in spots)]


def off_names(middle: Any, taken: list[Polygon], reach_m: float) -> tuple[float, float]:
    """Find the place nearest to a middle where a circle of some reach covers nothing that is taken; else the middle."""
    away = np.arange(0.0, 6.5, 0.5) * reach_m
    turns = np.radians(np.arange(0, 360, 30))
    for far in away:
        for turn in turns[: 1 if far == 0 else None]:
            place = shapely.Point(middle[0] + far * np.cos(turn), middle[1] + far * np.sin(turn))
            if not any(place.distance(one) < reach_m for one in taken):
                return place.x, place.y
    return float(middle[0]), float(middle[1])


def _facts(page: Page, content: Content, left: float, top: float) -> float:
    words, pegs = content.words, content.stakes.baseline
    facts = [
        (say("Stakes"), _stakes(content)),
        (say("Rows"), _rows(content)),
        (say("Walk"), _walk(content)),
        (say("Baseline"), words(say("peg A at {a}, peg B at {b}"), a=pegs.a_name, b=pegs.b_name)),
        (say("Heights"), words(content.stakes.height_source)),
    ]
    names_mm = heads_mm([words(name) for name, _ in facts])
    for name, text in facts:
        page.write(left, top, words(name), size_pt=8, fontweight="bold")
        top = page.paragraph(left + names_mm, top, _OVERVIEW_PANEL_MM - names_mm, text, size_pt=8) - 0.8
    return top


def heads_mm(names: list[str]) -> float:
    """Room for the names of the facts: that of the longest, with air behind it."""
    return max(18.0, *(width_mm(name, 8, bold=True) + 2.0 for name in names))


def _stakes(content: Content) -> str:
    value = content.stakes.summary
    return content.words(
        say("{count:.0f} ({per_ha:.0f} per ha of rows)"), count=value[f.MARKS], per_ha=value[f.MARKS_PER_HA]
    )


def _rows(content: Content) -> str:
    length_km = content.stakes.summary[f.ROW_LENGTH] / 1000
    return content.words(say("{count}, {length:.2f} km"), count=len(content.rows.frame), length=length_km)


def _walk(content: Content) -> str:
    value = content.stakes.summary
    one_day = round(value[f.DAYS]) == 1
    message = (
        say("{length:.2f} km, about {hours:.1f} h, one day")
        if one_day
        else say("{length:.2f} km, about {hours:.1f} h, {days:.0f} days")
    )
    return content.words(message, length=value[f.WALK] / 1000, hours=value[f.HOURS], days=value[f.DAYS])


_LETTER_MM = 1.75  # width of a letter of the heads, bold


def columns_of_parts(words: Words) -> tuple[tuple[str, float], ...]:
    """Heads of the table of parts and where each begins, mm from the left; longer heads push the next ones on."""
    heads = (
        (say("Part"), 12),
        (say("Day"), 12),
        (say("Crew"), 13),
        (say("Stakes"), 17),
        (say("Walk km"), 20),
        (say("Hours"), 0),
    )
    widths = [max(least, _LETTER_MM * len(words(name)) + 2) for name, least in heads]
    return tuple((name, sum(widths[:k])) for k, (name, _) in enumerate(heads))


def _parts(page: Page, content: Content, left: float, top: float) -> float:
    words = content.words
    columns = columns_of_parts(words)
    for name, x in columns:
        page.write(left + x, top, words(name), size_pt=7.5, fontweight="bold")
    shown = content.stakes.walk.head(_MOST_PARTS)
    part: Any  # a row of layer WALK
    for part in shown.itertuples():
        top -= 4.0
        cells = (
            part.day_trip,
            part.day,
            part.crew,
            part.stakes,
            words.number(part.distance_m / 1000, 2),
            words.number(part.hours, 1),
        )
        for (_, x), text in zip(columns, cells, strict=True):
            page.write(left + x, top, str(text), size_pt=7.5)
    return top - 4.0


def _further_parts(content: Content) -> tuple[str, ...]:
    """Say each part that the table has no line for in a sentence of its own."""
    message = say("{part}: day {day}, crew {crew}, {stakes} stakes, {length:.1f} km, {hours:.1f} h")
    return tuple(
        content.words(
            message, part=part.whole("day_trip"), day=part.whole("day"), crew=part.whole("crew"), stakes=part.whole("stakes"),
            length=part.number("distance_m") / 1000, hours=part.number("hours"),
        )
        for part in records(content.stakes.walk.iloc[_MOST_PARTS:])
    )  # fmt: skip
