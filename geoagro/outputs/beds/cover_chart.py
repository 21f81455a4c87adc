"""Ground cover and strata over the months, as a chart."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

from geoagro.outputs.beds.marks import FAINT
from geoagro.outputs.drawing.contrast import TEXT, standing_out
from geoagro.outputs.drawing.crop_looks import CROP_PAINTS
from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.plants.records.recipe_analysis import RecipeAnalysis
from geoagro.values.rules.bed_kinds import BED_KINDS
from geoagro.values.rules.crop_words import STRATA
from geoagro.values.words import say

# line, paint and dashes by stratum: dashes tell them apart in black and white
_LAYERS: dict[str, tuple[str, Any]] = {
    "emergent": (CROP_PAINTS[0], (0, (1, 1.2))),
    "high": (CROP_PAINTS[1], "-"),
    "medium": (CROP_PAINTS[2], (0, (6, 2))),
    "low": (CROP_PAINTS[3], (0, (3, 1.5, 1, 1.5))),
    "ground": (CROP_PAINTS[4], (0, (10, 2, 2, 2))),
}


def draw_cover(analysis: RecipeAnalysis, name: str, words: Words = ENGLISH) -> Figure:
    """Draw the ground under crowns by kind of bed, and by stratum over beds and paths."""
    figure = Figure(figsize=(9.2, 7.0), layout="constrained")
    FigureCanvasAgg(figure)
    above, below = figure.subplots(2, 1, sharex=True)
    title = words(say("{name}: ground under crowns, month by month"), name=name)
    figure.suptitle(title, fontsize=12, x=0.01, ha="left", color=INK)
    _kinds(above, analysis, words)
    _layers(below, analysis, words)
    return figure


def _dress(axes: Axes, title: str, last: int, words: Words) -> None:
    axes.set_title(title, fontsize=9, loc="left", color=INK)
    axes.set_ylim(0, 104)
    axes.set_xlim(0, last + 0.12 * last)
    axes.set_ylabel(words(say("% of the ground")), fontsize=8)
    axes.set_xticks(np.arange(0, last + 1, 3 if last <= 48 else 12))
    axes.tick_params(labelsize=8)
    axes.grid(color="#e4e4e4", lw=0.6)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _kinds(axes: Axes, analysis: RecipeAnalysis, words: Words) -> None:
    last = int(analysis.kind_cover["month"].max())
    title = say("By kind of bed; dotted line: cover at which weeding is taken to stop (80 %, a default)")
    _dress(axes, words(title), last, words)
    axes.plot([0, last], [80, 80], color=FAINT, lw=1.1, ls=":")
    ends = {}
    for (kind, part), dash in zip(analysis.kind_cover.groupby("bed_kind"), ("-", (0, (6, 2))), strict=False):
        axes.plot(part["month"] - 0.5, part["cover_pct"], color=INK, lw=1.8, ls=dash)
        ends[words(BED_KINDS[str(kind)].many)] = (float(part["cover_pct"].iloc[-1]), INK)
    _labels(axes, ends, last)


def _layers(axes: Axes, analysis: RecipeAnalysis, words: Words) -> None:
    field = analysis.cover[analysis.cover["bed"] == "field"]
    last = int(analysis.kind_cover["month"].max())
    field = field[field["month"] <= last]
    _dress(axes, words(_layers_title(analysis)), last, words)
    ends = {}
    for code, (paint, dash) in _LAYERS.items():
        name, share = words(STRATA[code]), field[f"{code}_pct"]
        if share.max() > 0:
            axes.plot(field["month"] - 0.5, share, color=paint, lw=1.8, ls=dash)
            if share.iloc[-1] > 3:
                ends[name] = (float(share.iloc[-1]), paint)
            else:
                _label_peak(axes, field["month"].to_numpy() - 0.5, share.to_numpy(), (name, paint))
    for code, value in _reference(analysis).items():
        axes.plot(last * 1.005, value, "<", ms=6, color=_LAYERS[str(code)][0], mec=INK, mew=0.5, clip_on=False)
        name = words(say("{stratum} (reference)"), stratum=words(STRATA[str(code)]))
        ends[name] = (float(value), _LAYERS[str(code)][0])
    _labels(axes, ends, last)
    axes.set_xlabel(words(say("month from the start")), fontsize=8)


def _layers_title(analysis: RecipeAnalysis) -> str:
    if len(_reference(analysis)):
        return say("By stratum, over beds and paths; marks: reference shares")
    return say("By stratum, over beds and paths")


def _reference(analysis: RecipeAnalysis) -> Any:
    """Look up the reference shares by stratum that the design asks for."""
    return analysis.strata.drop_duplicates("stratum").set_index("stratum")["reference_pct"].dropna()


def _label_peak(axes: Axes, month: Any, share: Any, look: tuple[str, str]) -> None:
    name, paint = look
    top = np.flatnonzero(share >= 0.97 * share.max())
    axes.text(
        month[top].mean(),
        share.max() + 2.5,
        name,
        fontsize=8,
        color=standing_out(paint, "#ffffff", least=TEXT),
        ha="center",
        path_effects=[withStroke(linewidth=3, foreground="white")],  # other lines may pass here
        zorder=5,
    )


def _labels(axes: Axes, ends: dict[str, tuple[float, str]], last: int) -> None:
    """Name each line at its end, moved apart where they would overlap."""
    low = -99.0
    for name, (value, paint) in sorted(ends.items(), key=lambda item: item[1][0]):
        low = max(value, low + 7.0)
        axes.text(last * 1.02, low, name, fontsize=8, color=standing_out(paint, "#ffffff", least=TEXT), va="center")
