"""Light on vegetable beds between trees, by classes of bearing, width of the alley and fall of the ground."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from geoagro.arrays import Floats, Ints
from geoagro.light.canopy import Crown, light_below
from geoagro.light.capture import lines_of
from geoagro.light.growth import Canopy
from geoagro.light.rays import Rays, Sky
from geoagro.light.records.bed_light import BED_LIGHT, LIGHT_CLASSES, LIGHT_MONTHS, YEARS, BedLight
from geoagro.planar.threads import run_each
from geoagro.values.rules.care import WEEKS_PER_YEAR
from geoagro.values.section import Key, Section, key_of
from geoagro.values.timeline import Standing

_MONTHS = 12
_SEASONS = 4
_CLASS_YEAR = YEARS.index(5)
_BEARING_DEG, _HALF_TURN = 15.0, 12
OPEN_M = 40.0
"""Width of an alley without a tree row on the bed's far side, or with one farther off."""
ALLEY_STEPS_M = ((10.0, 0.5), (20.0, 1.0), (OPEN_M, 2.5))
"""How finely alleys up to a width are told apart (our choice): in wide ones a step changes the light less."""
_EDGES = (-0.85, -0.70, -0.50, -0.30)


@dataclass(frozen=True, eq=False)
class Spots:
    """Places along the beds, one every few metres.

    Attributes
    ----------
    bed
        Index of the bed.
    bearing_deg
        Of the bed's axis, its upslope side on the left.
    alley_m
        Distance of the two tree rows that the bed lies between; OPEN_M at the field's edge, and at most.
    right_m
        Distance from the row on the bed's left, growing to the right.
    fall
        Metres that the ground falls to the right for each metre.
    """

    bed: Ints
    bearing_deg: Floats
    alley_m: Floats
    right_m: Floats
    fall: Floats


@dataclass(frozen=True)
class Trees:
    """What stands in the tree beds."""

    section: Section
    standings: tuple[Standing, ...]
    canopies: Mapping[Key, Canopy]
    first_month: int

    def crowns(self, week: float, month: int) -> tuple[Crown, ...]:
        """Crowns of a week on one row at 0, each line spread over the rows of the section."""
        found = []
        for standing in self.standings:
            key = key_of(standing)
            canopy, stay = self.canopies[key], standing.stay_at(week)
            if stay is None or not canopy.casts or month in canopy.leafless:
                continue
            spacing = lines_of(self.section, key)[1]
            if spacing:
                one_row = self.section.rows / sum(1 / step for step in spacing)
                found.append(canopy.crown(((0.0,), (one_row,)), canopy.sizes(stay, week)))
        return tuple(found)


def light_on_beds(frame: gpd.GeoDataFrame, spots: Spots, trees: Trees, sky: Sky, *, basis: str) -> BedLight:
    """Reckon the light on each bed of a frame of layer BEDS: years YEARS x calendar months.

    Bearings are taken to 15 degrees, alleys to 0.5 m (ALLEY_STEPS_M: wide ones coarser), the fall of the ground to 0.1.
    """
    spots = one_way(spots)
    classes, of = np.unique(
        np.column_stack(
            [
                np.round(spots.bearing_deg / _BEARING_DEG),
                _alley_class(spots.alley_m),
                np.round(np.clip(spots.fall, -0.6, 0.6) * 10),
            ]
        ),
        axis=0,
        return_inverse=True,
    )
    of = of.ravel()
    members = np.split(np.argsort(of, kind="stable"), np.searchsorted(np.sort(of), np.arange(1, len(classes))))
    light = np.zeros((len(spots.bed), len(YEARS), _MONTHS))
    states = [list(_states(trees, year)) for year in YEARS]

    def reckon(number: int) -> None:
        bearing, width, fall = classes[number]
        here, alley = members[number], float(width)
        at = spots.right_m[here] / spots.alley_m[here] * alley
        met = _Met(sky.year(_BEARING_DEG * bearing, fall / 10), alley)
        for k, year in enumerate(states):
            for crowns, months in year:
                light[here[:, None], k, np.array(months) - 1] = _read(at, *met.ground(crowns, months), alley)

    run_each(reckon, len(classes))
    count = np.maximum(np.bincount(spots.bed, minlength=len(frame)), 1)
    by_bed = np.stack(
        [
            np.stack(
                [np.bincount(spots.bed, light[:, k, m], minlength=len(frame)) / count for m in range(_MONTHS)], axis=-1
            )
            for k in range(len(YEARS))
        ],
        axis=1,
    )
    return BedLight(_layer(frame, by_bed), _months(frame, by_bed), trees.first_month, basis)


def _alley_class(alley_m: Floats) -> Floats:
    """Width that stands for others near it, metres."""
    step = np.select([alley_m <= width for width, _ in ALLEY_STEPS_M], [step for _, step in ALLEY_STEPS_M], OPEN_M)
    standing: Floats = np.maximum(np.round(alley_m / step) * step, ALLEY_STEPS_M[0][1])
    return standing


def one_way(spots: Spots) -> Spots:
    """See every alley from the end from which it runs north or east: the same light, mirrored, in half as many classes."""
    step = np.round(spots.bearing_deg / _BEARING_DEG)
    turned = step % (2 * _HALF_TURN) >= _HALF_TURN
    return Spots(
        spots.bed,
        _BEARING_DEG * (step % _HALF_TURN),
        spots.alley_m,
        np.where(turned, spots.alley_m - spots.right_m, spots.right_m),
        np.where(turned, -spots.fall, spots.fall),
    )


class _Met:
    """Light on the ground of one class of alleys; equal states of the trees are reckoned once, over the years too."""

    def __init__(self, year: tuple[Rays, Floats], alley_m: float) -> None:
        self.rays, self.weights = year
        self.alley_m = alley_m
        self.met: dict[tuple[tuple[Crown, ...], tuple[int, ...]], tuple[Floats, Floats]] = {}

    def ground(self, crowns: tuple[Crown, ...], months: tuple[int, ...]) -> tuple[Floats, Floats]:
        """Places across, and the light there in each of these calendar months; only their rays are followed."""
        if (crowns, months) not in self.met:
            weights = self.weights[np.array(months) - 1]
            seen = np.flatnonzero(weights.any(axis=0))
            x, left = light_below(crowns, self.alley_m, self.rays.only(seen))
            self.met[crowns, months] = x, np.asarray(weights[:, seen] @ left, dtype=np.float64)
        return self.met[crowns, months]


def _states(trees: Trees, year: int) -> Iterator[tuple[tuple[Crown, ...], tuple[int, ...]]]:
    """Crowns of a year, with the calendar months in which they are so; sizes are those of the middle of each quarter."""
    found: dict[tuple[Crown, ...], list[int]] = {}
    for k in range(_MONTHS):
        month = (trees.first_month - 1 + k) % _MONTHS + 1
        quarter = k // (_MONTHS // _SEASONS)
        week = (year - 1 + (quarter + 0.5) / _SEASONS) * WEEKS_PER_YEAR
        found.setdefault(trees.crowns(week, month), []).append(month)
    for crowns, months in found.items():
        yield crowns, tuple(months)


def _read(at: Floats, x: Floats, ground: Floats, width: float) -> Floats:
    """Light at places across, straight between the reckoned ones and round the period: shape (places, months)."""
    far = np.concatenate([[x[-1] - width], x, [x[0] + width]])
    return np.column_stack([np.interp(at, far, np.concatenate([[g[-1]], g, [g[0]]])) for g in ground])


def _layer(frame: gpd.GeoDataFrame, light: Floats) -> pd.DataFrame:
    last = light[:, -1]
    darkest = np.argmin(last, axis=1) if len(last) else np.zeros(0, dtype=np.int64)
    columns = {
        **{name: frame[name].to_numpy() for name in ("bed", "row", "side")},
        **{f"year_{year}_pct": 100 * light[:, k].mean(axis=1) for k, year in enumerate(YEARS)},
        "light_class": np.array(LIGHT_CLASSES, dtype=object)[np.digitize(-light[:, _CLASS_YEAR].mean(axis=1), _EDGES)],
        "darkest_month": darkest + 1,
        "darkest_pct": 100 * last[np.arange(len(last)), darkest],
    }
    return BED_LIGHT.frame(columns, geometry=frame.geometry.to_numpy(), crs=frame.crs)


def _months(frame: gpd.GeoDataFrame, light: Floats) -> pd.DataFrame:
    area = frame.geometry.area.to_numpy()
    rows = [
        (year, month + 1, *(100 * v for v in _spread(light[:, k, month], area)))
        for k, year in enumerate(YEARS)
        for month in range(_MONTHS)
        if len(frame)
    ]
    return LIGHT_MONTHS.frame({name: [row[k] for row in rows] for k, name in enumerate(LIGHT_MONTHS.columns)})


def _spread(values: ArrayLike, area: ArrayLike) -> Sequence[float]:
    """Tenth, mean and nine tenths by area."""
    shares, size = np.asarray(values, dtype=float), np.asarray(area, dtype=float)
    order = np.argsort(shares)
    reached = np.cumsum(size[order]) / size.sum()
    low, high = (float(shares[order][np.searchsorted(reached, q)]) for q in (0.1, 0.9))
    return low, float(np.average(shares, weights=size)), high
