"""The page of the procedure: a picture of base rows, pegs and findable points, and beside it what to do, step by step."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection

from geoagro.outputs.drawing.letters import LEAST_PT
from geoagro.outputs.drawing.paper import BLACK, GREY, Page, pdf_pages
from geoagro.outputs.stakes.overview_map import row_names, write_apart
from geoagro.outputs.stakes.sheet_map import Content
from geoagro.outputs.stakes.sheet_panel import cautions, north_arrow, write_name
from geoagro.outputs.stakes.sheet_plan import MARGIN_MM, PAPERS_MM
from geoagro.values.base.records import Record, records
from geoagro.values.stakeout import Paper
from geoagro.values.words import Sentence, say

_TEXT_MM = 118.0
_STEP_PT = 7.2
_SMALL_PT = LEAST_PT
_BY_POINTS = (
    say("Go by the cards (pocket_list.pdf): they list the stakes in the order of the walk."),
    say(
        "Before the first stake store a point that you will find again, such as a nail in a wall or a peg driven flush. Set the "
        "receiver up on it whenever it was switched off, and at the end of each day: where the two places differ by more "
        "than the receiver promises, look for the cause and check the stakes set since the last time."
    ),
    say(
        "Set no stake unless the receiver reports a fixed solution; under trees and beside walls wait, or tape from the next row."
    ),
)
"""What to mind where the receiver sets every stake; common practice of surveying, no source."""


def write_procedure(path: Path, content: Content, *, paper: Paper) -> int:
    """Write the page, and more where the steps need them; return the number of pages."""
    words = content.words
    procedure = content.stakes.procedure
    told = _BY_POINTS if procedure.way == "points" else procedure.told
    steps = [f"{k}. {words(step)}" for k, step in enumerate(told, start=1)]
    pages = 0
    with pdf_pages(path, words(say("Marking {field}"), field=content.site.name), language=words.tag) as add:
        while pages == 0 or steps:
            page = Page(*PAPERS_MM[paper], name=words(say("How to mark out, with a picture of the base rows")))
            top = page.height - MARGIN_MM
            left = MARGIN_MM if pages else page.width - MARGIN_MM - _TEXT_MM
            width = page.width - 2 * MARGIN_MM if pages else _TEXT_MM
            title = (
                say("{field}: how to mark this field, continued") if pages else say("{field}: how to mark this field")
            )
            write_name(page, left, top, words(title, field=content.site.name), width_mm=width - 12, size_pt=12)
            top -= 8
            if pages == 0:
                _picture(page, content)
                top = _promise(page, content, left, top, width)
            steps = _write_steps(page, steps, left, top, width)
            add(page)
            pages += 1
    return pages


def _promise(page: Page, content: Content, left: float, top: float, width: float) -> float:
    for sentence in content.stakes.procedure.sentences:
        top = page.paragraph(left, top, width, content.words(sentence), size_pt=8.0) - 1.2
    return cautions(page, left, top - 1, content.words, width_mm=width, size_pt=_SMALL_PT) - 3


def _write_steps(page: Page, steps: list[str], left: float, top: float, width: float) -> list[str]:
    """Write as many steps as fit; return the others."""
    for k, text in enumerate(steps):
        if top - page.paragraph_mm(width, text, size_pt=_STEP_PT) < MARGIN_MM:
            return steps[k:]
        top = page.paragraph(left, top, width, text, size_pt=_STEP_PT) - 1.0
    return []


def _picture(page: Page, content: Content) -> None:
    width = page.width - 2 * MARGIN_MM - _TEXT_MM - 5
    told = " ".join(map(content.words, _key(content)))
    foot = page.paragraph_mm(width, told, size_pt=_SMALL_PT) + 2
    page.paragraph(MARGIN_MM, MARGIN_MM + foot - 4, width, told, size_pt=_SMALL_PT)
    height = page.height - 2 * MARGIN_MM - foot
    axes = page.frame(MARGIN_MM, MARGIN_MM + foot, width, height)
    west, south, east, north = _extent(content)
    metres_per_mm = 1.14 * max((east - west) / width, (north - south) / height)
    x, y = (west + east) / 2, (south + north) / 2
    axes.set_xlim(x - width * metres_per_mm / 2, x + width * metres_per_mm / 2)
    axes.set_ylim(y - height * metres_per_mm / 2, y + height * metres_per_mm / 2)
    _ground(axes, content)
    _rows(axes, content)
    _points(axes, content)
    if not content.stakes.procedure.base_rows:
        write_apart(axes, row_names(content, metres_per_mm), [], metres_per_mm, framed=False)
    north_arrow(page, MARGIN_MM + 24, page.height - MARGIN_MM - 18, content.factor, content.words)


def _key(content: Content) -> Iterator[str]:
    """Explain what the picture shows, and no more."""
    one = content.stakes.procedure
    if one.base_rows:
        yield say("Thick: base rows, numbered.")
        if one.rows_taped:
            yield say("Thin: rows to tape.")
    else:
        yield say("Lines: tree rows, the first and every fifth with its number.")
    if pegs := _pegs(content):
        names = ", ".join(sorted({peg.text("start") for peg in pegs}))
        yield Sentence("{names}: points found without a receiver; squares: pegs; dashed: tapes to them.", names=names)
    yield say("Not to scale.")


def _pegs(content: Content) -> list[Record]:
    return [step for step in records(content.stakes.procedure.steps) if step.text("kind") == "peg"]


def _extent(content: Content) -> tuple[float, float, float, float]:
    """Bounds of the field and of every point that a tape is led from, however far outside it lies."""
    one = content.stakes.procedure
    used = {step.text("start") for step in _pegs(content)}
    points = [shapely.Point(p.x, p.y) for p in one.findable if p.name in used]
    west, south, east, north = shapely.total_bounds([content.site.boundary, *points])
    return float(west), float(south), float(east), float(north)


def _ground(axes: Axes, content: Content) -> None:
    for exclusion in content.site.exclusions:
        for part in shapely.get_parts(exclusion.area):
            axes.fill(*shapely.get_coordinates(part.exterior).T, fc="#eeeeee", ec=GREY, hatch="xxx", lw=0.4)
    for part in shapely.get_parts(content.site.boundary):
        for ring in (part.exterior, *part.interiors):
            axes.plot(*shapely.get_coordinates(ring).T, color=BLACK, lw=1.3, dashes=(6, 2))


def _rows(axes: Axes, content: Content) -> None:
    labels = content.stakes.marks.drop_duplicates("row").set_index("row")["label"].astype(str)
    key = set(content.stakes.procedure.base_rows)
    lines = content.rows.frame.geometry.to_numpy()
    thin = [shapely.get_coordinates(line) for line in lines]
    axes.add_collection(LineCollection(thin, colors=GREY, linewidths=0.4))
    for number, line in zip(content.rows.frame["row"].tolist(), lines, strict=True):
        if labels[number] not in key:
            continue
        axes.plot(*shapely.get_coordinates(line).T, color=BLACK, lw=2.0, zorder=4)
        middle = shapely.line_interpolate_point(line, 0.5, normalized=True)
        axes.text(
            middle.x, middle.y, labels[number], fontsize=8, fontweight="bold", ha="center", va="center", zorder=6,
            bbox={"boxstyle": "round,pad=0.15", "fc": "white", "ec": BLACK, "lw": 0.5},
        )  # fmt: skip


def _points(axes: Axes, content: Content) -> None:
    one = content.stakes.procedure
    place = {p.name: (p.x, p.y) for p in one.findable}
    stake = {m.text("stake"): (m.number("x"), m.number("y")) for m in records(content.stakes.marks)}
    used = _pegs(content)
    for step in used:
        (ax, ay), (bx, by) = place[step.text("start")], stake[step.text("end")]
        axes.plot([ax, bx], [ay, by], color=BLACK, lw=0.8, ls=(0, (3, 2)), zorder=5)
        axes.plot([bx], [by], marker="s", ms=5, mfc="white", mec=BLACK, zorder=7)
    for name in sorted({step.text("start") for step in used}):
        x, y = place[name]
        axes.plot([x], [y], marker="o", ms=4, mfc=BLACK, mec=BLACK, zorder=7)
        axes.annotate(name, (x, y), xytext=(4, 4), textcoords="offset points", fontsize=8, fontweight="bold", zorder=8)
