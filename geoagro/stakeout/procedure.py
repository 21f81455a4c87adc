"""The procedure of marking that a receiver's accuracy leaves: which rows to set first and how, and how many may be taped.

Rows taped one from another add up their tapes' errors: after n rows the standard deviation is s sqrt(n). Between two rows
that were set on their own the misfit shows and is shared out, so that the worst row, half way, is off by s sqrt(n) / 2
(a random walk tied at both ends) beside half of what both base rows are off. n is the most rows that keep the promise.
"""

from __future__ import annotations

import itertools
from collections import deque
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from geoagro.arrays import Floats
from geoagro.stakeout.records.procedure import STEPS, Findable, Procedure, Way
from geoagro.values.site import Site
from geoagro.values.stakeout import StakeRule
from geoagro.values.words import Sentence, say

TAPE_SD_M = 0.03
"""One tape from row to row, held level. Ordinary taping is good to 1 in 3,000 to 1 in 5,000 (Ghilani and Wolf, Elementary
Surveying, from memory): 1.5 mm on 4.5 m; holding it level by eye, plumbing its end and setting a stake of some centimetres
leave more, 3 cm in all (our own judgement)."""
LEVEL_SD_M = 0.01
"""Height of a levelled row against its first stake, by water level or optical level: a tube of water shows 1 cm in 10 m (FAO
Training Series 16/1, Topography for freshwater fish culture, from memory); along a row such errors don't all go one way."""
PEG_SD_M = 0.05
"""A peg set by tape from two findable points up to some 50 m away: 1 to 2 cm of taping at 1 in 3,000 to 1 in 5,000 (as above,
from memory), and as much for finding a corner and setting the peg (our own judgement)."""
FARTHEST_ROWS = 5
"""Rows taped from one set by receiver; a coarser receiver only finds the way (our own choice)."""
_SURE = 1.96
_FLAT = 0.03  # gentler ground doesn't say where a level row lies: 1 cm of height is a third of a metre
_CORNER_DEG, _THIN_M = 30.0, 2.0
_FARTHEST_M, _LEAST_ANGLE_DEG = 100.0, 25.0
_MOST_FINDABLE = 26
_MOST_TIMES = 5
_MEASURE = say("Measure {metres:.2f} m from {point} ({what}) to stake {stake}.")
_MEASURE_FAR = say(
    "Measure {metres:.2f} m from {point} ({what}) to stake {stake}. That is far: measure it twice, in pieces of at most 50 m on a "
    "line sighted with poles."
)
_LEVEL = say(
    "From stake {stake} set row {row} stake by stake with water level, optical level or A-frame: rises in levels.csv, distances "
    "in pocket_list.pdf."
)
_LEVEL_OFTEN = say(
    "From stake {stake} set row {row} stake by stake with water level, optical level or A-frame: rises in levels.csv, distances "
    "in pocket_list.pdf. The ground is gentle, so that a centimetre of height moves the row far: level it {times} times, each "
    "time anew from that stake, and set its stakes in the middle of the marks."
)
_SIGHT = say("Sight row {row} in between both pegs and set its stakes by baseline_offsets.csv and pocket_list.pdf.")
_PLANS: dict[Way, str] = {
    "points_and_tape": say(
        "With this receiver ({receiver}) set base rows ({base}) with the receiver, and tape the others ({taped}) between them; most "
        "tapes from one base row to the next: {between}."
    ),
    "level_and_tape": say(
        "With this receiver ({receiver}) set base rows ({base}) with a level from pegs measured to findable points, and tape the "
        "others ({taped}) between them; most tapes from one base row to the next: {between}."
    ),
    "pegs_and_tape": say(
        "With this receiver ({receiver}) set base rows ({base}) from pegs measured to findable points, as the ground is too flat, or "
        "its heights unknown, for a level; tape the other rows ({taped}) between them; most tapes from one base row to the "
        "next: {between}."
    ),
}
RECEIVER_NAMES = {
    "phone": say("phone under open sky"),
    "phone_under_trees": say("phone under trees"),
    "sbas": say("SBAS"),
    "dgnss": say("differential code"),
    "rtk": say("RTK"),
    "own": say("own receiver"),
}
"""Words of each class of receiver."""
_CORNERS = {"exclusion": say("corner of ground kept free"), "track": say("corner of a track")}


def most_between(promise_m: float, key_sd_m: float, tape_sd_m: float = TAPE_SD_M) -> int:
    """Most tapes from one base row to the next such that 95 % of rows lie within the promise; at least 1.

    >>> most_between(0.225, 0.0), most_between(0.225, 0.10), most_between(0.225, 0.20)
    (58, 36, 1)
    """
    left = (promise_m / _SURE) ** 2 - key_sd_m**2 / 2
    return max(int(np.floor(4 * left / tape_sd_m**2 + 1e-9)), 1)


def base_row_sd(slope: float, times: int = 1) -> float:
    """Give the standard deviation of a row levelled `times` times across itself: its height error over the slope, its peg's."""
    return float(np.hypot(LEVEL_SD_M / slope / np.sqrt(times), PEG_SD_M))


def levellings(slope: float, promise_m: float) -> int:
    """How often a base row is levelled so that 95 % of rows lie within the promise: on gentle ground once isn't enough.

    >>> levellings(0.10, 0.225), levellings(0.06, 0.225), levellings(0.03, 0.225)
    (1, 2, 5)
    """
    return next((n for n in range(1, _MOST_TIMES) if _kept(base_row_sd(slope, n), 1) <= promise_m), _MOST_TIMES)


def _kept(key_sd_m: float, between: int) -> float:
    """Distance within which 95 % of rows lie that are taped between two base rows."""
    return _SURE * float(np.sqrt(between * TAPE_SD_M**2 / 4 + key_sd_m**2 / 2))


def procedure_for(
    marks: gpd.GeoDataFrame,
    tapes: pd.DataFrame,
    site: Site,
    rule: StakeRule,
    *,
    spacing_m: float,
    limit_m: float,
    error_p95_m: float,
) -> Procedure:
    """Make the procedure for the receiver that leaves 95 % of spacings within `error_p95_m`, where `limit_m` is allowed.

    `marks` is layer MARKS, `tapes` table TAPE_OFFSETS. Nothing is taped where the receiver can set every stake.
    """
    slope = slope_across(tapes)
    way = way_of(error_p95_m, limit_m, slope)
    times = levellings(slope, limit_m / 2) if way == "level_and_tape" else 1
    key_sd = _key_sd(way, error_p95_m, slope, times)
    most = _between(way, error_p95_m, limit_m, key_sd)
    promise = _kept(key_sd, most) if most else error_p95_m
    parts = _depths(tapes, marks["row"].unique().tolist())
    keys = [sorted(depth) if way == "points" else _base_rows(marks, depth, most) for depth in parts]
    between = 0 if way == "points" else max(map(_longest, parts, keys), default=0)
    key = sorted(row for mine in keys for row in mine)
    label = dict(zip(marks["row"].tolist(), marks["label"].astype(str), strict=True))
    findable = () if way in ("points", "points_and_tape") else findable_points(site)
    taped = sum(map(len, parts)) - len(key)
    on_slope = spacing_m * (np.hypot(1.0, slope) - 1.0) * between if between else np.nan
    steps = _steps(marks, list(zip(parts, keys, strict=True)), label, findable, way=way, key_sd=key_sd, times=times)
    one = Procedure(
        way, tuple(label[row] for row in key) if way != "points" else (), between, promise, TAPE_SD_M, key_sd, taped,
        float(on_slope) if slope > 0 else float("nan"), findable, _numbered(steps), tuple(step[-1] for step in steps), (),
        times,
    )  # fmt: skip
    return Procedure(**{**one.__dict__, "sentences": _sentences(one, rule, slope)})


def _key_sd(way: Way, error_p95_m: float, slope: float, times: int) -> float:
    if way == "level_and_tape":
        return base_row_sd(slope, times)
    return {"points": 0.0, "pegs_and_tape": PEG_SD_M}.get(way, error_p95_m / _SURE / float(np.sqrt(2)))


def _between(way: Way, error_p95_m: float, limit_m: float, key_sd_m: float) -> int:
    if way == "points":
        return 0
    if way == "points_and_tape":  # so that what both rows are off is shared out over as many spacings
        return max(int(np.ceil(error_p95_m / limit_m)), 2)
    return most_between(limit_m / 2, key_sd_m)


def way_of(error_p95_m: float, limit_m: float, slope: float) -> Way:
    """Give the way that a receiver leaves which puts 95 % of spacings within `error_p95_m`, where `limit_m` is allowed.

    `slope` (ratio) is that across rows; on gentle ground a level doesn't say where a row lies.
    """
    if error_p95_m <= limit_m:
        return "points"
    if error_p95_m <= FARTHEST_ROWS * limit_m:
        return "points_and_tape"
    return "level_and_tape" if slope >= _FLAT else "pegs_and_tape"


def slope_across(tapes: pd.DataFrame) -> float:
    """Give the median slope (ratio) across rows from table TAPE_OFFSETS; 0 where heights are unknown."""
    slope = (tapes["rise_m"].abs() / tapes["level_m"].where(tapes["level_m"] > 0)).dropna()
    return float(slope.median()) if len(slope) else 0.0


def _depths(tapes: pd.DataFrame, rows: list[int]) -> list[dict[int, int]]:
    """Tapes from the topmost row to each row, for each part of the field whose rows tapes can join."""
    beside: dict[int, set[int]] = {row: set() for row in rows}
    for one, other in zip(tapes["row"].tolist(), tapes["to_row"].tolist(), strict=True):
        beside[one].add(other)
        beside[other].add(one)
    parts: list[dict[int, int]] = []
    for top in sorted(rows):
        if any(top in part for part in parts):
            continue
        depth = {top: 0}
        parts.append(depth)
        waiting = deque([top])
        while waiting:
            row = waiting.popleft()
            for other in sorted(beside[row] - depth.keys()):
                depth[other] = depth[row] + 1
                waiting.append(other)
    return parts


def _base_rows(marks: gpd.GeoDataFrame, depth: dict[int, int], between: int) -> list[int]:
    """Choose for one part the longest row of the first depth, of every `between`-th after it, and of the last.

    The last row is a base row, too: tapes that end nowhere have nothing to be checked against.
    """
    length = marks.groupby("row")["station_m"].max().to_dict()
    last = max(depth.values())
    stops = sorted({*range(0, last, between), last})
    return sorted({max((r for r in depth if depth[r] == stop), key=lambda r: (length[r], -r)) for stop in stops})


def _longest(depth: dict[int, int], key: list[int]) -> int:
    """Most tapes from one base row of a part to the next: a small part has fewer rows than could be taped."""
    stops = sorted(depth[row] for row in key)
    return max((after - before for before, after in itertools.pairwise(stops)), default=0)


def findable_points(site: Site) -> tuple[Findable, ...]:
    """Corners of the boundary, and of ground kept free and tracks, that turn by 30 degrees or more: found without a receiver."""
    shapes = [(site.boundary, Sentence("corner of the boundary"))]
    shapes += [
        (e.area, Sentence("corner of {name}", name=e.name) if e.name else Sentence(_CORNERS[e.kind]))
        for e in site.exclusions
    ]
    out: list[Findable] = []
    for shape, what in shapes:
        for part in shapely.get_parts(shape):
            for x, y in _corners(part.exterior):
                name = f"C{len(out) + 1}"
                out.append(Findable(name, float(x), float(y), what))
    return tuple(out[:_MOST_FINDABLE])


def _corners(ring: Any) -> Floats:
    xy = shapely.get_coordinates(shapely.simplify(ring, _THIN_M))[:-1]
    before, after = xy - np.roll(xy, 1, axis=0), np.roll(xy, -1, axis=0) - xy
    turn = np.degrees(
        np.abs(np.angle((after[:, 0] + 1j * after[:, 1]) / np.maximum(np.hypot(*before.T), 1e-9) * np.exp(-1j * np.arctan2(before[:, 1], before[:, 0]))))
    )  # fmt: skip
    return np.asarray(xy[turn >= _CORNER_DEG])


def _two_from(points: tuple[Findable, ...], x: float, y: float) -> list[tuple[Findable, float]]:
    """Choose the two nearest findable points that are seen at a fair angle, with their distances; fewer where there are none."""
    away = sorted(((float(np.hypot(p.x - x, p.y - y)), p) for p in points), key=lambda item: (item[0], item[1].name))
    if not away:
        return []
    first_m, first = away[0]
    for second_m, second in away[1:]:
        between = np.degrees(np.angle(complex(second.x - x, second.y - y) / complex(first.x - x, first.y - y or 1e-9)))
        if _LEAST_ANGLE_DEG <= abs(between) <= 180 - _LEAST_ANGLE_DEG:
            return [(first, first_m), (second, second_m)]
    return [(first, first_m)]


def _steps(
    marks: gpd.GeoDataFrame,
    parts: list[tuple[dict[int, int], list[int]]],
    label: dict[int, str],
    findable: tuple[Findable, ...],
    *,
    way: Way,
    key_sd: float,
    times: int,
) -> list[tuple[Any, ...]]:
    lines: list[tuple[Any, ...]] = []
    if way == "points":
        return lines
    for depth, key in parts:
        for row in key:
            lines += _base_row_steps(marks[marks["row"] == row], label[row], findable, way, times=times)
        by_depth = sorted(key, key=lambda row: depth[row])
        for one, other in itertools.pairwise(by_depth):
            lines += _between_steps(label[one], label[other], depth[other] - depth[one], key_sd)
    return lines


def _numbered(lines: list[tuple[Any, ...]]) -> pd.DataFrame:
    numbered = [(k, *line[:-1], str(line[-1])) for k, line in enumerate(lines, start=1)]
    return STEPS.frame({name: [line[k] for line in numbered] for k, name in enumerate(STEPS.columns)})


def _between_steps(one: str, other: str, count: int, key_sd: float) -> list[tuple[Any, ...]]:
    """Tape from one base row to the next, and check there."""
    allowed = _SURE * float(np.sqrt(count * TAPE_SD_M**2 + 2 * key_sd**2))
    tape = Sentence(
        "From every stake of row {row} tape row after row as tape_offsets.csv says, tape held level; number of tapes: {count}.",
        row=one, count=count,
    )  # fmt: skip
    check = Sentence(
        "At row {row} the tapes must close within {allowed:.2f} m. Share the misfit out evenly over all tapes ({count}); if it "
        "is more, look for a slip before going on.",
        row=other, allowed=allowed, count=count,
    )  # fmt: skip
    return [
        ("tape", one, f"row {one}", f"row {other}", np.nan, np.nan, tape),
        ("check", other, f"the last taped row before {other}", f"row {other}", np.nan, allowed, check),
    ]


def _base_row_steps(
    mine: gpd.GeoDataFrame, label: str, findable: tuple[Findable, ...], way: Way, *, times: int = 1
) -> list[tuple[Any, ...]]:
    first, last = mine.iloc[0], mine.iloc[-1]
    if way == "points_and_tape":
        text = Sentence(
            "Set every stake of row {row} with the receiver, each as the mean of several minutes.", row=label
        )
        return [("row", label, "receiver", f"row {label}", np.nan, np.nan, text)]
    out: list[tuple[Any, ...]] = []
    for stake in (first, last) if way == "pegs_and_tape" else (first,):
        pegs = _two_from(findable, float(stake["x"]), float(stake["y"]))
        for point, metres in pegs:
            message = _MEASURE_FAR if metres > _FARTHEST_M else _MEASURE
            text = Sentence(message, metres=metres, point=point.name, what=point.what, stake=str(stake["stake"]))
            out.append(("peg", label, point.name, str(stake["stake"]), metres, np.nan, text))
        if len(pegs) == 2:
            text = Sentence(
                "Stake {stake} stands where both tapes meet. They must agree within {allowed:.2f} m when measured again.",
                stake=str(stake["stake"]), allowed=_SURE * PEG_SD_M,
            )  # fmt: skip
            both = f"{pegs[0][0].name}, {pegs[1][0].name}"
            out.append(("check", label, both, str(stake["stake"]), np.nan, _SURE * PEG_SD_M, text))
    message = (_LEVEL_OFTEN if times > 1 else _LEVEL) if way == "level_and_tape" else _SIGHT
    text = Sentence(message, stake=str(first["stake"]), row=label, times=times)
    out.append(("row", label, str(first["stake"]), str(last["stake"]), np.nan, np.nan, text))
    return out


def _sentences(one: Procedure, rule: StakeRule, slope: float) -> tuple[Sentence, ...]:
    receiver = Sentence(RECEIVER_NAMES["own" if rule.accuracy_m is not None else rule.receiver])
    if one.way == "points":
        return (Sentence("With this receiver ({receiver}) every stake is set as a point.", receiver=receiver),)
    told = [
        Sentence(_PLANS[one.way], receiver=receiver, base=len(one.base_rows), taped=one.rows_taped, between=one.between),
        Sentence(
            "Then 95 % of the rows lie within {promise:.2f} m of their place. That rests on a standard deviation of {tape:.2f} m "
            "for a tape held level and {base:.2f} m for a base row (handbooks' figures for taping and levelling, and our own "
            "judgement of setting stakes); a crew that works less exactly needs more base rows.",
            promise=one.promise_m, tape=one.tape_sd_m, base=one.key_sd_m,
        ),
    ]  # fmt: skip
    if np.isfinite(one.on_slope_m):
        told.append(
            Sentence(
                "Hold the tape level: laid on the slope ({slope:.0f} % here) it would put row {rows}, counted from the base row, "
                "{off:.2f} m off.",
                slope=100 * slope, rows=one.between, off=one.on_slope_m,
            )
        )  # fmt: skip
    return tuple(told)
