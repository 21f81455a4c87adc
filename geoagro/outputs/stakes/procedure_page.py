"""The page of the procedure: a picture of base rows, pegs and findable points, and beside it what to do, step by step."""

from __future__ import annotations

from pathlib import Path

import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection

from geoagro.outputs.drawing.paper import BLACK, GREY, Page, pdf_pages
from geoagro.outputs.stakes.sheet_map import Content
from geoagro.outputs.stakes.sheet_panel import cautions, north_arrow, write_name
from geoagro.outputs.stakes.sheet_plan import MARGIN_MM, PAPERS_MM
from geoagro.values.base.records import records
from geoagro.values.stakeout import Paper
from geoagro.values.words import say

_TEXT_MM = 118.0
_STEP_PT = 7.2


def write_procedure(path: Path, content: Content, *, paper: Paper) -> int:
    """Write the page, and more where the steps need them; return the number of pages."""
    words = content.words
    steps = [f"{k}. {words(step)}" for k, step in enumerate(content.stakes.procedure.told, start=1)]
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
    return cautions(page, left, top - 1, content.words, width_mm=width, size_pt=6.2) - 3


def _write_steps(page: Page, steps: list[str], left: float, top: float, width: float) -> list[str]:
    """Write as many steps as fit; return the others."""
    for k, text in enumerate(steps):
        if top - page.paragraph_mm(width, text, size_pt=_STEP_PT) < MARGIN_MM:
            return steps[k:]
        top = page.paragraph(left, top, width, text, size_pt=_STEP_PT) - 1.0
    return []


def _picture(page: Page, content: Content) -> None:
    width, height = page.width - 2 * MARGIN_MM - _TEXT_MM - 5, page.height - 2 * MARGIN_MM
    axes = page.frame(MARGIN_MM, MARGIN_MM, width, height)
    west, south, east, north = _extent(content)
    metres_per_mm = 1.14 * max((east - west) / width, (north - south) / height)
    x, y = (west + east) / 2, (south + north) / 2
    axes.set_xlim(x - width * metres_per_mm / 2, x + width * metres_per_mm / 2)
    axes.set_ylim(y - height * metres_per_mm / 2, y + height * metres_per_mm / 2)
    _ground(axes, content)
    _rows(axes, content)
    _points(axes, content)
    north_arrow(page, MARGIN_MM + 24, page.height - MARGIN_MM - 18, content.factor, content.words)
    key = say(
        "Thick: base rows, numbered. Thin: rows to tape. C1, C2 ...: points found without a receiver; squares: pegs; dashed: tapes "
        "to them. Not to scale."
    )
    told = content.words(key)
    below = MARGIN_MM + 1 + page.paragraph_mm(width - 4, told, size_pt=6.5)
    page.box(MARGIN_MM + 0.5, MARGIN_MM + 0.5, width - 1, below - MARGIN_MM + 2.5, fc="white", ec="none")
    page.paragraph(MARGIN_MM + 2, below, width - 4, told, size_pt=6.5)


def _extent(content: Content) -> tuple[float, float, float, float]:
    """Bounds of the field and of every point that a tape is led from, however far outside it lies."""
    one = content.stakes.procedure
    used = {step.text("start") for step in records(one.steps) if step.text("kind") == "peg"}
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
    used = [s for s in records(one.steps) if s.text("kind") == "peg"]
    for step in used:
        (ax, ay), (bx, by) = place[step.text("start")], stake[step.text("end")]
        axes.plot([ax, bx], [ay, by], color=BLACK, lw=0.8, ls=(0, (3, 2)), zorder=5)
        axes.plot([bx], [by], marker="s", ms=5, mfc="white", mec=BLACK, zorder=7)
    for name in sorted({step.text("start") for step in used}):
        x, y = place[name]
        axes.plot([x], [y], marker="o", ms=4, mfc=BLACK, mec=BLACK, zorder=7)
        axes.annotate(name, (x, y), xytext=(4, 4), textcoords="offset points", fontsize=8, fontweight="bold", zorder=8)
