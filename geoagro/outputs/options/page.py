"""Options on one page: a table with a bar for every figure, and a small map of each at one scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure

from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.sheet import save_page
from geoagro.outputs.words.say import ENGLISH, NOTHING, Words
from geoagro.values.results.options import Compared, OptionResult
from geoagro.values.results.trades import trades
from geoagro.values.words import say

WIDTH_IN = 420 / 25.4
_MARGIN_IN, _TITLE_IN, _LINE_IN, _GAP_IN, _HEAD_IN = 0.5, 0.8, 0.36, 0.3, 0.62
_MOST_ACROSS = 10  # figures side by side; more begin a further block of the table
_WON_IN = 0.2
_MAP_IN = 3.1
_NAME_SHARE = 0.19
_BAR, _BEST, _FAINT = "#9db8c6", "#1f5c5a", "#6f7680"
_MAPS_ACROSS = 5
_MOST_LETTERS = 34


def write_page(
    options: Sequence[OptionResult], compared: Sequence[Compared], path: Path, words: Words = ENGLISH, *, title: str
) -> None:
    """Draw the page as a PNG file; the same options give the same bytes with the same library versions."""
    save_page(partial(draw_page, options, compared, words, title=title), path)


def draw_page(
    options: Sequence[OptionResult], compared: Sequence[Compared], words: Words = ENGLISH, *, title: str
) -> Figure:
    """Draw the page; it grows downward with the number of options."""
    laid = [option for option in options if not option.problem]
    maps_down = -(-len(laid) // _MAPS_ACROSS)
    blocks = _blocks(compared)
    block_in = _HEAD_IN + len(options) * _LINE_IN + _GAP_IN
    won = trades(options)
    head_in = _TITLE_IN + len(won) * _WON_IN
    height = head_in + len(blocks) * block_in + maps_down * (_MAP_IN + 0.35) + 2 * _MARGIN_IN + 0.4
    figure = Figure(figsize=(WIDTH_IN, height), facecolor="white")
    _text(figure, _MARGIN_IN, _MARGIN_IN + 0.1, title, size=16, weight="bold")
    _text(figure, _MARGIN_IN, _MARGIN_IN + 0.42, _reading(options, words), size=8.5, color=_FAINT)
    for number, text in enumerate(won, start=1):
        _text(figure, _MARGIN_IN, _MARGIN_IN + 0.42 + number * _WON_IN, words(text), size=8.5)
    top = _MARGIN_IN + head_in
    for block in blocks:
        _table(figure, options, block, top, words)
        _bars(figure, options, block, top)
        top += block_in
    for number, option in enumerate(laid):
        _map(figure, option, laid, (number, top), words)
    return figure


def _blocks(compared: Sequence[Compared]) -> list[Sequence[Compared]]:
    """Figures in blocks of about equal width, each narrow enough for its heads and numbers."""
    count = max(-(-len(compared) // _MOST_ACROSS), 1)
    width = -(-len(compared) // count)
    return [compared[k : k + width] for k in range(0, len(compared), width)] or [compared]


def _reading(options: Sequence[OptionResult], words: Words) -> str:
    currency = ", ".join(sorted({option.currency for option in options if option.currency}))
    told = words(say("Bars begin at zero, each figure on its own scale. Dark: best of the options, all else equal."))
    if not currency:
        return told
    money = say("Money in {currency}, by the prices and wages of each design: assumptions of whoever wrote it.")
    return f"{told} {words(money, currency=currency)}"


def _text(figure: Figure, x_in: float, y_in: float, text: str, **style: Any) -> None:
    """Write text at a place measured from the page's upper left corner, inches."""
    width, height = figure.get_size_inches()
    look: dict[str, Any] = {"size": 9, "color": looks.INK, "va": "center", "ha": "left"} | style
    figure.text(x_in / width, 1 - y_in / height, text, **look)


def _columns(compared: Sequence[Compared]) -> tuple[float, list[float], float]:
    """Width of the names, left edges and width of the figures' columns, inches."""
    inner = WIDTH_IN - 2 * _MARGIN_IN
    names = _NAME_SHARE * inner
    width = (inner - names) / max(len(compared), 1)
    return names, [_MARGIN_IN + names + k * width for k in range(len(compared))], width


def _head(compared: Compared, currency: str, words: Words) -> str:
    unit = {"share": "%", "money": currency, "1/ha": ""}.get(compared.quantity.unit, compared.quantity.unit)
    return _wrapped(words(compared.quantity.words)) + (f"\n{unit}" if unit else "")


def _wrapped(words: str, most: int = 12) -> str:
    lines = [""]
    for word in words.replace("\n", " ").split(" "):
        if lines[-1] and len(lines[-1]) + len(word) + 1 > most:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    return "\n".join(lines)


def _best(options: Sequence[OptionResult], compared: Compared) -> float:
    """Best value of a figure; NaN where there is no better side, or no difference."""
    values = np.array([option.value(compared) for option in options])
    values = values[~np.isnan(values)]
    if not compared.better or len(values) < 2 or values.max() == values.min():
        return math.nan
    return float(values.max() if compared.better == "high" else values.min())


def _table(
    figure: Figure, options: Sequence[OptionResult], compared: Sequence[Compared], top: float, words: Words
) -> None:
    _, lefts, width = _columns(compared)
    currency = next((option.currency for option in options if option.currency), "")
    for left, item in zip(lefts, compared, strict=True):
        _text(figure, left + width - 0.06, top + _HEAD_IN - 0.08, _head(item, currency, words), size=8, ha="right", va="bottom",
              color=_FAINT)  # fmt: skip
    for line, option in enumerate(options):
        y = top + _HEAD_IN + (line + 0.35) * _LINE_IN
        _text(figure, _MARGIN_IN, y, _short(words(option.name)), size=9)
        if option.problem:
            _text(
                figure,
                lefts[0],
                y,
                words(say("not laid out: {reason}"), reason=option.problem.splitlines()[0][:150]),
                size=8,
                color="#a23b2e",
            )
            continue
        for left, item in zip(lefts, compared, strict=True):
            value = option.value(item)
            best = value == _best(options, item)
            _text(figure, left + width - 0.06, y, number(value, item.quantity.unit, words), size=9, ha="right",
                  weight="bold" if best else "normal", color=_BEST if best else looks.INK)  # fmt: skip


def _short(name: str) -> str:
    return name if len(name) <= _MOST_LETTERS else name[: _MOST_LETTERS - 1] + "…"


def number(value: float, unit: str, words: Words = ENGLISH) -> str:
    """Write a value as the table shows it; a share comes in percent.

    >>> number(97.66, "share"), number(12345.6, "m"), number(float("nan"), "h")
    ('97.7', '12,346', '–')
    """
    if math.isnan(value):
        return NOTHING
    if unit == "share":
        return words.number(value, 1)
    return words.number(value, 0 if abs(value) >= 100 or float(value).is_integer() else 2)


def _bars(figure: Figure, options: Sequence[OptionResult], compared: Sequence[Compared], top: float) -> None:
    """Draw a bar from nought under every number, each figure on its own scale; those below nought run left."""
    _, lefts, width = _columns(compared)
    page_width, height = figure.get_size_inches()
    rows = len(options) * _LINE_IN
    for left, item in zip(lefts, compared, strict=True):
        axes = figure.add_axes(
            (
                (left + 0.12) / page_width,
                1 - (top + _HEAD_IN + rows) / height,
                (width - 0.18) / page_width,
                rows / height,
            )
        )
        values = np.array([option.value(item) for option in options])
        best = _best(options, item)
        colors = [_BEST if value == best else _BAR for value in values]
        places = np.arange(len(options)) + 0.78
        axes.barh(places, np.nan_to_num(values), height=0.14, color=colors)
        axes.axvline(0, color=_FAINT, linewidth=0.6)
        known = np.append(values[~np.isnan(values)], 0.0)
        axes.set_xlim(known.min(), max(known.max(), known.min() + 1e-9))
        axes.set_ylim(len(options), 0)
        axes.set_axis_off()


def _map(
    figure: Figure, option: OptionResult, laid: Sequence[OptionResult], at: tuple[int, float], words: Words
) -> None:
    """Draw one field with its rows; all maps are at the scale of the largest field."""
    (place, top), (page_width, height) = at, figure.get_size_inches()
    inner = WIDTH_IN - 2 * _MARGIN_IN
    width = inner / _MAPS_ACROSS
    left = _MARGIN_IN + (place % _MAPS_ACROSS) * width
    upper = top + (place // _MAPS_ACROSS) * (_MAP_IN + 0.35)
    _text(figure, left, upper + 0.08, _short(words(option.name)), size=8.5)
    axes = figure.add_axes(
        (left / page_width, 1 - (upper + 0.2 + _MAP_IN) / height, (width - 0.12) / page_width, _MAP_IN / height)
    )
    reach = max(_half_width(one.outline, (width - 0.12) / _MAP_IN) for one in laid)
    west, _, east, north = _bounds(option.outline)
    x, top_y = (west + east) / 2, north + 0.04 * reach  # a broad field stands right below its name
    axes.set_xlim(x - reach * (width - 0.12) / _MAP_IN, x + reach * (width - 0.12) / _MAP_IN)
    axes.set_ylim(top_y - 2 * reach, top_y)
    axes.set_aspect(1.0, anchor="NW")
    axes.set_axis_off()
    axes.add_collection(
        LineCollection([np.array(row) for row in option.rows], colors=looks.TREE_BED.paint, linewidths=0.55)
    )
    axes.add_collection(LineCollection([np.array(ring) for ring in option.outline], colors=looks.INK, linewidths=0.9))


def _bounds(outline: Sequence[Sequence[tuple[float, float]]]) -> tuple[float, float, float, float]:
    xy = np.concatenate([np.array(ring) for ring in outline])
    return float(xy[:, 0].min()), float(xy[:, 1].min()), float(xy[:, 0].max()), float(xy[:, 1].max())


def _half_width(outline: Sequence[Sequence[tuple[float, float]]], across: float) -> float:
    """Half the height that a map must show for a field to fit in, metres; `across` is its width over its height."""
    west, south, east, north = _bounds(outline)
    return 0.52 * max(north - south, (east - west) / across)
