"""One page per bed: plan, list, side views by month, cautions. What a field worker is shown before planting."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from geoagro.outputs.beds.marks import FAINT
from geoagro.outputs.beds.plan import dims_mm, dims_under, draw_plan
from geoagro.outputs.beds.sides import draw_side, highest_m, month_between, side_title_lines, telling_months
from geoagro.outputs.beds.table import draw_table, table_mm
from geoagro.outputs.drawing.letters import wrapped
from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.drawing.typefaces import family
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.plants.records.sheet import BedSheet
from geoagro.values.words import say

_PAGE_MM = 210.0, 297.0
_MARGIN_MM = 12.0
_LEFT_MM = 18.0
_PLAN_MM = 62.0
_LEAST_SCALE = 0.3
"""The plan gives way to the largest root zone, but no further than to this share of its scale."""
_SIDE_LETTERS = 110  # of 8 points, of all titles beside each other
_SIDE_LINE_MM, _SIDE_AIR_MM = 3.4, 3.6  # a line of a side view's title, and what lies above and below the title
_MOST_SIDES, _LEAST_OF_SIZE = 6, 0.85
"""Side views of further months may take so much off the size of those that tell the story."""
_LEAST_SIDES_MM = 60.0
"""Room for side views below which the page is made longer."""
_TITLE_PT, _TITLE_LINE_MM = 14.0, 5.8
_LINE_PT = 8.5
_ROW_SIDES = {"below": say("The tree row lies at the bottom."), "above": say("The tree row lies at the top.")}


def draw_bed(sheet: BedSheet, months: Sequence[int] = (), words: Words = ENGLISH) -> Figure:
    """Draw the page of one bed; `months` for the side views, or the telling ones.

    A bed of so many kinds that their list leaves no room for side views has a longer page.
    """
    wanted = list(months)
    with mpl.rc_context({"hatch.linewidth": 0.5, "font.family": family()}):
        figure, top = _begun(_PAGE_MM[1], sheet, words)
        room = _side_room(figure, sheet, top + 6.0 + table_mm(sheet, words) + 7.0, words)
        if room < _LEAST_SIDES_MM:
            figure, top = _begun(_PAGE_MM[1] + _LEAST_SIDES_MM - room, sheet, words)
        months = wanted or _months_that_fill(sheet, max(room, _LEAST_SIDES_MM), words)
        top = _table(figure, sheet, months, top + 6.0, words)
        _sides(figure, sheet, months, top + 7.0, words)
        _cautions(figure, sheet, words)
    return figure


def _begun(high_mm: float, sheet: BedSheet, words: Words) -> tuple[Figure, float]:
    """Begin a page of this height with head and plan; the height below them, mm."""
    figure = Figure(figsize=(_PAGE_MM[0] / 25.4, high_mm / 25.4))
    FigureCanvasAgg(figure)
    return figure, _plan(figure, sheet, _head(figure, sheet, words), words)


def _size_mm(figure: Figure) -> tuple[float, float]:
    return _PAGE_MM[0], float(figure.get_figheight() * 25.4)


def _axes(figure: Figure, left: float, top: float, width: float, height: float) -> Axes:
    """Axes at a place on the page in millimetres from its top left corner."""
    w, h = _size_mm(figure)
    return figure.add_axes((left / w, 1 - (top + height) / h, width / w, height / h))


def _write(figure: Figure, left: float, top: float, text: str, *, size: float, bold: bool = False) -> None:
    weight = "bold" if bold else "normal"
    w, h = _size_mm(figure)
    figure.text(left / w, 1 - top / h, text, fontsize=size, weight=weight, color=INK, va="top")


def _head(figure: Figure, sheet: BedSheet, words: Words) -> float:
    """Write what the page is of; return the height below."""
    lines = wrapped(words(sheet.title), _PAGE_MM[0] - 2 * _MARGIN_MM, _TITLE_PT, bold=True)
    for k, line in enumerate(lines):
        _write(figure, _MARGIN_MM, 9.0 + k * _TITLE_LINE_MM, line, size=_TITLE_PT, bold=True)
    top = 16.0 + (len(lines) - 1) * _TITLE_LINE_MM
    _write(figure, _MARGIN_MM, top, words(sheet.beds), size=9)
    told = (
        say("The row runs to the right, uphill is at the top."),
        _ROW_SIDES.get(sheet.row_side, ""),
        say("Distances on the plan in cm."),
    )
    text = " ".join(words(sentence) for sentence in told if sentence)
    for line in wrapped(text, _PAGE_MM[0] - 2 * _MARGIN_MM, _LINE_PT):
        top += 4.5
        _write(figure, _MARGIN_MM, top, line, size=_LINE_PT)
    return top + 6.5


def _plan(figure: Figure, sheet: BedSheet, top: float, words: Words) -> float:
    width = _PAGE_MM[0] - 2 * _MARGIN_MM - _LEFT_MM - 8.0
    mm_per_m = min(width / sheet.length_m, _PLAN_MM / sheet.width_m)
    half, most = sheet.width_m / 2, _PLAN_MM + 14.0
    up, down = (
        max(half, *(side * y + sheet.kinds[k].reach_m for y, k in zip(sheet.y, sheet.kind, strict=True)))
        for side in (1, -1)
    )
    mm_per_m *= float(np.clip(most / ((up + down) * mm_per_m), _LEAST_SCALE, 1.0))
    shown = min(1.0, most / ((up + down) * mm_per_m))
    above = max(half, up * shown) * mm_per_m + 1.0
    below = max(down * shown * mm_per_m + 1.0, half * mm_per_m + dims_mm(len(dims_under(sheet, mm_per_m))))
    height = above + below
    axes = _axes(figure, _MARGIN_MM, top, width + _LEFT_MM + 8.0, height)
    axes.set_xlim(-_LEFT_MM / mm_per_m, (width + 8.0) / mm_per_m)
    axes.set_ylim(-below / mm_per_m, above / mm_per_m)
    axes.axis("off")
    draw_plan(axes, sheet, mm_per_m, words)
    _uphill(axes, sheet, mm_per_m, words)
    return float(top + height)


def _uphill(axes: Axes, sheet: BedSheet, mm_per_m: float, words: Words) -> None:
    x = sheet.length_m + 5.0 / mm_per_m
    style = {"arrowstyle": "-|>", "lw": 2.2, "color": INK, "mutation_scale": 16}
    axes.annotate("", (x, 9.0 / mm_per_m), (x, -9.0 / mm_per_m), arrowprops=style)
    axes.text(x + 1.6 / mm_per_m, 0, words(say("uphill")), fontsize=8, rotation=90, ha="left", va="center", color=INK)


def _table(figure: Figure, sheet: BedSheet, months: Sequence[int], top: float, words: Words) -> float:
    height = table_mm(sheet, words)
    width = _PAGE_MM[0] - 2 * _MARGIN_MM
    axes = _axes(figure, _MARGIN_MM, top, width, height)
    axes.set_xlim(0, width)
    axes.set_ylim(height, 0)
    draw_table(axes, sheet, months, words)
    return top + height


def _sides(figure: Figure, sheet: BedSheet, months: Sequence[int], top: float, words: Words) -> None:
    text = words(say("From the side (heights in m; ▼ above marks these months)"))
    _write(figure, _MARGIN_MM, top - 3.0, text, size=8.5)
    columns, scale, tall = _grid(sheet, months, _side_room(figure, sheet, top, words), words)
    head = _side_head_mm(sheet, months, columns, words)
    width, height = sheet.length_m * scale, tall * scale
    step = (_PAGE_MM[0] - 2 * _MARGIN_MM) / columns
    for number, month in enumerate(months):
        left = _MARGIN_MM + 6.0 + (number % columns) * step
        axes = _axes(figure, left, top + head + (number // columns) * (height + head), width, height)
        axes.set_xlim(0, sheet.length_m)
        axes.set_ylim(-0.02 * tall, tall)
        axes.set_aspect("equal", anchor="SW")
        draw_side(axes, sheet, month, _SIDE_LETTERS // columns, words)


def _side_room(figure: Figure, sheet: BedSheet, top: float, words: Words) -> float:
    """Height that is left for the side views below a height, mm."""
    return _size_mm(figure)[1] - top - 3.0 - 12.0 - _caution_mm(sheet, words)


def _side_head_mm(sheet: BedSheet, months: Sequence[int], columns: int, words: Words) -> float:
    """Height that the titles of side views take above each, as broken into lines."""
    return _SIDE_AIR_MM + _SIDE_LINE_MM * side_title_lines(sheet, months, _SIDE_LETTERS // columns, words)


def _grid(sheet: BedSheet, months: Sequence[int], room_mm: float, words: Words) -> tuple[int, float, float]:
    """Columns of side views, their scale in mm per metre, and the height that each shows, metres."""
    tall = 1.08 * highest_m(sheet, months)
    heads = {n: _side_head_mm(sheet, months, n, words) for n in (1, 2, 3)}
    scales = {n: _scale((sheet.length_m, tall), room_mm, len(months), n, head) for n, head in heads.items()}
    columns = max(n for n in scales if scales[n] >= 0.8 * max(scales.values()))
    return columns, scales[columns], tall


def _months_that_fill(sheet: BedSheet, room_mm: float, words: Words) -> list[int]:
    """Give the telling months, and months between them where these leave room for a further line of views."""
    months = chosen = telling_months(sheet)
    _, usual, _ = _grid(sheet, months, room_mm, words)
    while len(chosen) < _MOST_SIDES and (more := month_between(sheet, chosen)):
        chosen = sorted([*chosen, more])
        columns, scale, _ = _grid(sheet, chosen, room_mm, words)
        if scale < _LEAST_OF_SIZE * usual:
            break
        if len(chosen) % columns == 0:
            months = chosen
    return months


def _scale(size_m: tuple[float, float], room_mm: float, count: int, columns: int, head_mm: float) -> float:
    """Millimetres per metre if `count` side views of so many metres stand in so many columns, each under its title."""
    width = (_PAGE_MM[0] - 2 * _MARGIN_MM) / columns - 12.0
    height = room_mm / -(-count // columns) - head_mm - 1.0
    return min(width / size_m[0], height / size_m[1])


def _caution_lines(sheet: BedSheet, words: Words) -> list[str]:
    cautions = dict.fromkeys(
        words(say("{name}: {text}"), name=words.title(words.crop(k.name)), text=words(k.caution))
        for k in sheet.kinds
        if k.caution
    )
    return [line for text in cautions for line in wrap(text, 118)]


def _caution_mm(sheet: BedSheet, words: Words) -> float:
    lines = _caution_lines(sheet, words)
    return 6.0 + 4.2 * len(lines) if lines else 0.0


def _cautions(figure: Figure, sheet: BedSheet, words: Words) -> None:
    lines, (w, h) = _caution_lines(sheet, words), _size_mm(figure)
    top = h - 10.0 - _caution_mm(sheet, words)
    if lines:
        axes = _axes(figure, _MARGIN_MM, top, _PAGE_MM[0] - 2 * _MARGIN_MM, _caution_mm(sheet, words))
        axes.set_xticks([])
        axes.set_yticks([])
        for spine in axes.spines.values():
            spine.set(linewidth=1.6, color=INK)
        _write(figure, _MARGIN_MM + 2.5, top + 1.6, words(say("CAUTION")), size=8.5, bold=True)
        for k, line in enumerate(lines):
            _write(figure, _MARGIN_MM + 2.5, top + 5.6 + 4.2 * k, line, size=8)
    text = " ".join(map(words, _key(sheet)))
    figure.text(_MARGIN_MM / w, 6.0 / h, text, fontsize=7, color=FAINT, va="center")


def _key(sheet: BedSheet) -> Iterator[str]:
    """Explain the marks of roots that the plan shows, and no more."""
    grown = np.array([not sheet.kinds[k].standing for k in sheet.kind], dtype=bool)
    unaimed = np.isnan(sheet.facing_deg)
    wedges, circles = bool((grown & ~unaimed).any()), bool((grown & unaimed).any())
    if wedges and circles:
        yield say("Shaded wedges and dotted circles: where digging harms a grown plant's roots.")
    elif wedges:
        yield say("Shaded wedges: where digging harms a grown plant's roots.")
    elif circles:
        yield say("Dotted circles: where digging harms a grown plant's roots.")
    if wedges:
        yield say("Arrow: where the storage roots point.")
