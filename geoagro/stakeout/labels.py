"""Names on stakes that outlive small changes of the layout.

A name is the row's label and the whole metres along the row (12-035), so adding or dropping one stake renames
no other. When the layout is computed again, the marks of the last time are given as well: a row takes the
label of the row that was staked where it now runs, counts its metres from where that row began, and a mark
beside an earlier one takes over its name.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from string import ascii_lowercase
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import STRtree

from geoagro.arrays import Floats

_SAME_STAKE_M = 1.0
_SAME_ROW = 0.25  # share of the spacing: earlier stakes farther off stood on another row


@dataclass(frozen=True, eq=False)
class KnownRow:
    """What is known about a row from earlier marks.

    Attributes
    ----------
    label
        As written on stakes.
    zero_m
        Station of the present row at which the stakes' metres begin (may be below 0).
    stations, names
        Earlier marks, by station on the present row.
    """

    label: str
    zero_m: float
    stations: Floats
    names: tuple[str, ...]


def known_rows(frame: gpd.GeoDataFrame, spacing_m: float, earlier: Any | None) -> list[KnownRow]:
    """For each row its label and earlier marks; without earlier marks the label is the row's number."""
    numbers = [int(row) for row in frame["row"]]
    if earlier is None or len(earlier) == 0:
        return [KnownRow(str(n), 0.0, np.empty(0), ()) for n in numbers]
    lines = frame.geometry.to_numpy()
    points = earlier.geometry.to_numpy()
    mark, row = STRtree(lines).query_nearest(points, max_distance=_SAME_ROW * spacing_m, all_matches=False)
    old_labels = earlier["label"].to_numpy()
    labels = row_labels(numbers, list(zip(row.tolist(), old_labels[mark].tolist(), strict=True)))
    out = []
    for k, label in enumerate(labels):
        mine = mark[(row == k) & (old_labels[mark] == label)]
        out.append(_known_row(label, lines[k], earlier.iloc[mine]))
    return out


def _known_row(label: str, line: Any, earlier: pd.DataFrame) -> KnownRow:
    if len(earlier) == 0:
        return KnownRow(label, 0.0, np.empty(0), ())
    station = shapely.line_locate_point(line, earlier.geometry.to_numpy())
    order = np.argsort(station, kind="stable")
    written = earlier["station_on_stake_m"].to_numpy(dtype=float)
    # ends may have moved; what lies between tells how the counting runs
    inner = (station > 0) & (station < line.length)
    use = inner if inner.any() else np.ones(len(station), dtype=bool)
    zero = float(np.median((station - written)[use]))
    return KnownRow(label, round(zero, 3), station[order], tuple(earlier["stake"].to_numpy()[order]))


def row_labels(numbers: list[int], seen: list[tuple[int, str]]) -> list[str]:
    """Label of each row: that of most earlier marks beside it; a new row's own number, or one with a letter.

    `seen` holds (position of the row in `numbers`, earlier label), one per earlier mark.

    >>> row_labels([1, 2, 3], [(1, "1"), (1, "1"), (2, "2")])
    ['0a', '1', '2']
    """
    labels: dict[int, str] = {}
    for (row, label), _ in sorted(Counter(seen).items(), key=lambda item: (-item[1], item[0])):
        if row not in labels and label not in labels.values():
            labels[row] = label
    taken = {label for _, label in seen} | set(labels.values())
    last = "0"
    for k, number in enumerate(numbers):
        if k not in labels:
            labels[k] = _free_label(str(number), last, taken)
            taken.add(labels[k])
        last = labels[k]
    return [labels[k] for k in range(len(numbers))]


def _free_label(own: str, last: str, taken: set[str]) -> str:
    if own not in taken:
        return own
    stem = last.rstrip(ascii_lowercase) or "0"
    endings = [*ascii_lowercase, *(a + b for a in ascii_lowercase for b in ascii_lowercase)]
    return next(f"{stem}{end}" for end in endings if f"{stem}{end}" not in taken)


def mark_names(known: KnownRow, station: Floats) -> list[str]:
    """Name of each mark of a row, all different; a mark within 1 m of an earlier one keeps its name."""
    kept = _kept_names(known, station)
    used = set(kept.values())
    names = []
    for k, s in enumerate(station):
        name = kept.get(k) or _free_name(known.label, float(s) - known.zero_m, used)
        used.add(name)
        names.append(name)
    return names


def _kept_names(known: KnownRow, station: Floats) -> dict[int, str]:
    """Pair new and earlier marks, nearest first, each once."""
    away = np.abs(station[:, None] - known.stations[None, :])
    pairs = np.argwhere(away <= _SAME_STAKE_M)
    kept: dict[int, str] = {}
    for new, old in sorted(pairs.tolist(), key=lambda p: (away[p[0], p[1]], p)):
        if new not in kept and known.names[old] not in kept.values():
            kept[new] = known.names[old]
    return kept


def _free_name(label: str, station: float, used: set[str]) -> str:
    """Whole metres; where that name is taken, as many decimals as it needs; before the old start with an N."""
    before = "N" if station < -1e-6 else ""
    for decimals in (0, 1, 2, 3):
        unit = 10**decimals
        metres = np.floor(abs(station) * unit + 1e-6) / unit
        name = f"{label}-{before}{metres:0{3 if decimals == 0 else 4 + decimals}.{decimals}f}"
        if name not in used:
            return name
    raise AssertionError("marks are at least a millimetre apart")
