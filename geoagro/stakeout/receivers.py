"""What a receiver's accuracy does to the spacing of rows, found by staking the field many times by chance."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import STRtree

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.stakeout.procedure import FARTHEST_ROWS, RECEIVER_NAMES
from geoagro.stakeout.records.procedure import Way
from geoagro.stakeout.records.stakes import RECEIVERS
from geoagro.values.stakeout import Receiver, StakeRule
from geoagro.values.words import Sentence, say

_SEED = 20_240_611
_ROUNDS = 20
_MOST_SAMPLES = 4000
_MOST_ROWS = 120
_EVERY = {
    2: say(
        "Set every second row with it, each stake as the mean of several minutes; set the rows between by tape (figures: "
        "tape_offsets.csv), sharing out what is left over."
    ),
    3: say(
        "Set every third row with it, each stake as the mean of several minutes; set the rows between by tape (figures: "
        "tape_offsets.csv), sharing out what is left over."
    ),
    4: say(
        "Set every fourth row with it, each stake as the mean of several minutes; set the rows between by tape (figures: "
        "tape_offsets.csv), sharing out what is left over."
    ),
    5: say(
        "Set every fifth row with it, each stake as the mean of several minutes; set the rows between by tape (figures: "
        "tape_offsets.csv), sharing out what is left over."
    ),
}
_R95_IN_SIGMA = 2.4477  # radius that holds 95 % of a round normal distribution
_MEAN_IN_SIGMA = 1.2533  # mean distance from its middle
_RMS_IN_SIGMA = 1.4142  # root mean square distance


@dataclass(frozen=True)
class ReceiverClass:
    """A kind of receiver: standard deviation in east and north each, metres, and where that comes from."""

    name: str
    sigma_m: float
    source: str


CLASSES: dict[Receiver, ReceiverClass] = {
    "phone": ReceiverClass(
        RECEIVER_NAMES["phone"], 4.9 / _R95_IN_SIGMA, "4.9 m radius (95 %), van Diggelen and Enge 2015"
    ),
    "phone_under_trees": ReceiverClass(
        RECEIVER_NAMES["phone_under_trees"], 10.0 / _MEAN_IN_SIGMA, "7-13 m mean error, Merry and Bettinger 2019"
    ),
    "sbas": ReceiverClass(
        RECEIVER_NAMES["sbas"], 2.0 / _R95_IN_SIGMA, "1-2 m, taken as 2 m radius (95 %); common practice"
    ),
    "dgnss": ReceiverClass(
        RECEIVER_NAMES["dgnss"], 0.40 / _RMS_IN_SIGMA, "0.25-0.40 m RMS, technical data of survey receivers"
    ),
    "rtk": ReceiverClass(
        RECEIVER_NAMES["rtk"],
        (0.008 + 1e-6 * 5000) / _RMS_IN_SIGMA,
        "8 mm + 1 ppm RMS at 5 km from the base, technical data",
    ),
}


@dataclass(frozen=True, eq=False)
class Samples:
    """Places on the tapes between stakes of some rows, and the next row that their distance is measured to.

    Attributes
    ----------
    xy, row
        Stakes of the rows looked at: place, and position of the row among them.
    before
        Stake at which the tape begins; it ends at the next.
    share
        How far along the tape.
    other
        Position of the row on the far side.
    """

    xy: Floats
    row: Ints
    before: Ints
    share: Floats
    other: Ints


SPACING_P95_IN_SIGMA = 2.26
"""95 % of spacings between rows drawn through wrongly set stakes: 1.96 sqrt(4/3) standard deviations of a stake, since half way
along a tape both ends' errors are averaged (mean variance 2/3 on either row)."""
_MINUTES = {"points": 2.0, "points_and_tape": 4.0, "level_and_tape": 5.0, "pegs_and_tape": 4.0}
"""For one stake: by receiver; half of them as means of several minutes; by level or peg and tape, which takes two (our own
judgement, no source)."""
_OF_ERROR = 0.25  # share of what stakes are off anyway that a tape may lie off the row beside it


def sigma_of(rule: StakeRule) -> float:
    """Give the standard deviation in east and north each of the receiver that the design names, metres."""
    return rule.accuracy_m if rule.accuracy_m is not None else CLASSES[rule.receiver].sigma_m


def rule_for(rule: StakeRule, error_p95_m: float, limit_m: float, way: Way) -> StakeRule:
    """Fill in tolerance and minutes per stake by the receiver where the design doesn't give them.

    The tape's tolerance is a quarter of what stakes are off: by the receiver where it sets them, else by what the procedure
    promises (half of the spacing's tolerance), never above that promise; never below 5 cm.
    """
    given = rule.model_fields_set
    off = error_p95_m if way in ("points", "points_and_tape") else limit_m / 2
    more: dict[str, float] = {}
    if "tolerance_m" not in given:
        more["tolerance_m"] = max(rule.tolerance_m, round(_OF_ERROR * off, 2))
    if "minutes_per_stake" not in given:
        more["minutes_per_stake"] = _MINUTES[way]
    return rule.model_copy(update=more)


def receiver_table(
    marks: gpd.GeoDataFrame, rule: StakeRule, *, spacing_m: float, tolerance: float, base_row: str
) -> tuple[pd.DataFrame, dict[str, Sentence]]:
    """Build table RECEIVERS: one line per class, and the user's own accuracy where given; and its advice, to be put into words.

    `tolerance` is the share of the spacing that rows may be off. Errors of all stakes are taken as
    independent; stakes set within minutes share part of their error, so real spacing may be better.
    """
    classes = {str(code): one for code, one in CLASSES.items()}
    if rule.accuracy_m is not None:
        classes["own"] = ReceiverClass(RECEIVER_NAMES["own"], rule.accuracy_m, "stakeout.accuracy_m of the design file")
    samples = spacing_samples(marks, spacing_m)
    limit = tolerance * spacing_m
    lines, told = [], {}
    for code, one in classes.items():
        error = np.abs(spacing_errors(samples, one.sigma_m))
        p50, p95 = (float(np.quantile(error, q)) if len(error) else np.nan for q in (0.5, 0.95))
        beyond = 100 * float((error > limit).mean()) if len(error) else np.nan
        told[code] = advice(p95, limit, base_row)
        lines.append((code, one.name, one.sigma_m, p50, p95, beyond, one.source, str(told[code])))
    return RECEIVERS.frame({name: [line[k] for line in lines] for k, name in enumerate(RECEIVERS.columns)}), told


def advice(p95_m: float, limit_m: float, base_row: str) -> Sentence:
    """Say how to mark with a receiver that leaves 95 % of spacings within `p95_m` of the design."""
    if not p95_m > limit_m / 2:
        return Sentence("Set every stake with it.")
    if p95_m <= limit_m:
        return Sentence("Set every stake with it, and check the distance to the next row by tape at each end.")
    every = int(np.ceil(p95_m / limit_m))
    if every <= FARTHEST_ROWS:
        return Sentence(_EVERY[every])
    return Sentence(
        "Use it to find your way only. Mark row {row} first, as the base row, from a known point with water level or A-frame "
        "(figures: levels.csv), then offset row after row by tape (figures: tape_offsets.csv), as the page of the procedure says.",
        row=base_row,
    )


def spacing_samples(marks: gpd.GeoDataFrame, spacing_m: float) -> Samples:
    """Spread about 4,000 places over the tapes of 120 rows (all if there are fewer) that have a next row beside them."""
    row = _position(marks["row"].to_numpy())
    xy = marks[["x", "y"]].to_numpy()
    wanted = np.unique(np.linspace(0, row[-1], min(_MOST_ROWS, row[-1] + 1)).round().astype(np.int64))
    before = np.flatnonzero((row[1:] == row[:-1]) & np.isin(row[:-1], wanted))
    start, share = _places_on(xy, before)
    lines = np.asarray(shapely.linestrings(xy, indices=row), dtype=object)
    points = _on_tapes(xy, start, share)
    at, other = STRtree(lines).query(points, predicate="dwithin", distance=1.5 * spacing_m)
    below = other > row[start[at]]
    at, other = at[below], other[below]
    order = np.lexsort((shapely.distance(points[at], lines[other]), at))
    first = np.append(True, np.diff(at[order]) > 0) if len(order) else np.empty(0, dtype=bool)
    at, other = at[order][first], other[order][first]
    return _only_used(xy, row, Samples(xy, row, start[at], share[at], other))


def _places_on(xy: Floats, before: Ints) -> tuple[Ints, Floats]:
    """Spread places evenly over tapes: the stake that each comes after, and how far along the tape it lies."""
    length = np.hypot(*(xy[before + 1] - xy[before]).T)
    step = max(float(length.sum()) / _MOST_SAMPLES, 1.0)
    count = np.maximum(np.round(length / step), 1).astype(int)
    place = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    return np.repeat(before, count), (place + 0.5) / np.repeat(count, count)


def _only_used(xy: Floats, row: Ints, samples: Samples) -> Samples:
    """Leave out stakes of rows that no sample touches."""
    rows = np.union1d(row[samples.before], samples.other)
    kept = np.flatnonzero(np.isin(row, rows))
    return Samples(
        xy=xy[kept],
        row=np.searchsorted(rows, row[kept]),
        before=np.searchsorted(kept, samples.before),
        share=samples.share,
        other=np.searchsorted(rows, samples.other),
    )


def spacing_errors(samples: Samples, sigma_m: float, *, rounds: int = _ROUNDS, seed: int = _SEED) -> Floats:
    """Spacing of rows refitted through wrongly set stakes less the spacing as designed, for all rounds."""
    chance = np.random.default_rng(seed)
    design = _spacing(samples.xy, samples)
    shape = samples.xy.shape
    found = [_spacing(samples.xy + chance.normal(0.0, sigma_m, shape), samples) - design for _ in range(rounds)]
    return np.concatenate(found)


def _spacing(xy: Floats, samples: Samples) -> Floats:
    if len(samples.before) == 0:
        return np.empty(0)
    lines = np.asarray(shapely.linestrings(xy, indices=samples.row), dtype=object)
    return np.asarray(shapely.distance(_on_tapes(xy, samples.before, samples.share), lines[samples.other]))


def _on_tapes(xy: Floats, before: Ints, share: Floats) -> Shapes:
    return np.asarray(shapely.points(xy[before] * (1 - share[:, None]) + xy[before + 1] * share[:, None]), dtype=object)


def _position(row: Ints) -> Ints:
    """Count rows from 0 in their order."""
    return np.cumsum(np.append(0, np.diff(row) != 0))
