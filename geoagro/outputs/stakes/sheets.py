"""Printed sheets of a stake-out: an overview, then maps true to scale, to take into the field."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from geoagro.outputs.drawing.letters import width_mm
from geoagro.outputs.drawing.paper import Page, pdf_pages
from geoagro.outputs.stakes.overview_map import draw_overview
from geoagro.outputs.stakes.sheet_map import Content, draw_map
from geoagro.outputs.stakes.sheet_panel import cautions, draw_panel, list_names, north_arrow, write_name
from geoagro.outputs.stakes.sheet_plan import MARGIN_MM, PAPERS_MM, Frame, Sheet, SheetPlan, map_frame, plan_sheets
from geoagro.outputs.words.say import Words
from geoagro.stakeout.records import figures as f
from geoagro.values.base.records import records
from geoagro.values.progress import Progress, silent
from geoagro.values.stakeout import StakeRule
from geoagro.values.words import say

Listed = tuple[tuple[str, tuple[str, ...]], ...]
_OVERVIEW_PANEL_MM = 92.0
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
    boxes = words(say("White boxes: the number of a long part again, half-way. Plain numbers: tree rows."))
    bottom = page.paragraph(left, bottom - 3, _OVERVIEW_PANEL_MM, f"{key} {boxes}", size_pt=7)
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
    draw_overview(axes, content, plan, (width, height - below))
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
        else say("{length:.2f} km, about {hours:.1f} h, {days:.0f} {days:day|days}")
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
    message = say("{part}: day {day}, crew {crew}, {stakes} {stakes:stake|stakes}, {length:.1f} km, {hours:.1f} h")
    return tuple(
        content.words(
            message, part=part.whole("day_trip"), day=part.whole("day"), crew=part.whole("crew"), stakes=part.whole("stakes"),
            length=part.number("distance_m") / 1000, hours=part.number("hours"),
        )
        for part in records(content.stakes.walk.iloc[_MOST_PARTS:])
    )  # fmt: skip
