"""The recipe cut square to the rows: what light and yields are reckoned on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

import geopandas as gpd
import numpy as np

from geoagro.arrays import Ints
from geoagro.plants.bed_sheet import model_stand
from geoagro.values.base.remembering import remembered
from geoagro.values.beds import Beds
from geoagro.values.design import BedRule
from geoagro.values.recipe import Crop, Planting
from geoagro.values.rules.bed_kinds import TREE, VEGETABLE
from geoagro.values.season import SeasonRule
from geoagro.values.section import Line, Section, Strip, key_of
from geoagro.values.timeline import Timeline

_LENGTH_M = 120.0
_SAME_M = 0.01


@remembered(8)
def section_of(
    rule: BedRule,
    spacing_m: float,
    crops: Mapping[str, Crop],
    plantings: Sequence[Planting],
    season: SeasonRule | None = None,
    *,
    start: date | None = None,
) -> tuple[Section, Timeline]:
    """Place the recipe on 120 m of straight rows and read off its lines over one period of inner rows.

    Beds at the edge of a field aren't in it. The timeline is that of the model's plants; its kinds are the section's.
    """
    beds, plants = model_stand(rule, spacing_m, crops, plantings, _LENGTH_M)
    frame = plants.frame
    timeline = Timeline.of(frame, crops, season, start=start)
    timeline.kind.setflags(write=False)
    low, high, rows = _period(beds)
    inside = (frame["y"].to_numpy() >= low) & (frame["y"].to_numpy() < high)
    lines = tuple(_lines(frame[inside], timeline.kind[inside], timeline, high))
    return Section(high - low, rows, lines, tuple(_strips(beds, low, high))), timeline


def _period(beds: Beds) -> tuple[float, float, int]:
    """From the middle of the lowest inner alley to that of the highest, and how many rows lie between."""
    middles = sorted(float(axis.coords[0][1]) for axis in beds.tree_beds["axis"])
    if len(middles) < 3:
        return (3 * middles[0] - middles[-1]) / 2, (3 * middles[-1] - middles[0]) / 2, len(middles)
    return (middles[0] + middles[1]) / 2, (middles[-1] + middles[-2]) / 2, len(middles) - 2


def _lines(frame: gpd.GeoDataFrame, kind: Ints, timeline: Timeline, top: float) -> Iterator[Line]:
    place = np.round((top - frame["y"].to_numpy()) / _SAME_M).astype(np.int64)
    counts = frame.assign(kind=kind, place=place).groupby(["kind", "place"]).size()
    for number, at, count in counts.reset_index(name="count").to_numpy().tolist():
        yield Line(key_of(timeline.kinds[number]), at * _SAME_M, _LENGTH_M / count)


def _strips(beds: Beds, low: float, high: float) -> Iterator[Strip]:
    for layer, kind in ((beds.tree_beds, TREE.code), (beds.beds, VEGETABLE.code)):
        for strip in layer.to_dict("records"):
            middle, half = float(strip["axis"].coords[0][1]), strip["width_m"] / 2
            if low <= middle < high:
                side, order = strip.get("side", ""), int(strip.get("order", 0))
                yield Strip(kind, str(side), order, high - middle - half, high - middle + half)
