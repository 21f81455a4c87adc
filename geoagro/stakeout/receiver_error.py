"""The receiver's error told apart from planting error, from the survey itself.

A receiver errs alike in every direction, single points by its noise and whole rows by its drift. Rows are planted along
a tape, so what moves whole rows along themselves is taken as the receiver's; what moves them farther across themselves
is planting. The noise of single points can't be told from plants that stand off one by one, unless points were
measured again: it is then an upper bound for both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from scipy.special import stdtrit

from geoagro.arrays import Floats, Ints
from geoagro.stakeout.records.accuracy import ROW_OFFSETS, Accuracy
from geoagro.values.rows import TreeRows

_MAD = 1.4826  # median absolute deviation to standard deviation, normal errors
_LEAST_OFF_M = 0.10  # rows nearer to their place aren't named (our own choice)
_ERROR = 0.05  # chance that any row of a survey is named wrongly
_STRAY = 4.0
_AHEAD_M = 0.5
_LEAST_ROWS = 4  # fewer rows say nothing about drift


@dataclass(frozen=True, eq=False)
class Offsets:
    """Offsets of matched points from their places in the frame of their row, metres, and the row of each."""

    along: Floats
    across: Floats
    row: Ints


def offsets_in_rows(design: Floats, survey: Floats, row: Ints, rows: TreeRows) -> Offsets:
    """Turn displacements (n, 2) into along (forward) and across (left, upslope) each point's row."""
    lines = dict(zip(rows.frame["row"].astype(int), rows.frame.geometry, strict=True))
    known = np.array([int(r) in lines for r in row], dtype=bool)
    own = np.array([lines[int(r)] for r in row[known]], dtype=object)
    at = shapely.line_locate_point(own, shapely.points(design[known]))
    length = shapely.length(own)
    back, ahead = np.clip(at - _AHEAD_M, 0, length), np.clip(at + _AHEAD_M, 0, length)
    way = shapely.get_coordinates(shapely.line_interpolate_point(own, ahead)) - shapely.get_coordinates(
        shapely.line_interpolate_point(own, back)
    )
    way /= np.maximum(np.hypot(*way.T), 1e-12)[:, None]
    off = (survey - design)[known]
    return Offsets(
        (off * way).sum(axis=1), way[:, 0] * off[:, 1] - way[:, 1] * off[:, 0], np.asarray(row[known], dtype=np.int64)
    )


def accuracy_of(offsets: Offsets, repeats: Floats) -> tuple[Accuracy, Any]:
    """Estimate the scatter of a survey and build table ROW_OFFSETS.

    `repeats` (n, 2) are differences between points measured again and their first measurement.
    """
    number, one = np.unique(offsets.row, return_inverse=True)
    count = np.bincount(one, minlength=len(number))
    across, along = (_row_means(v, one, len(number)) for v in (offsets.across, offsets.along))
    scatter = _within(offsets, one, count)
    drift, rows_alike = _drift(along, count, scatter)
    noise = scatter**2 / np.maximum(count, 1)
    error = np.sqrt(noise + drift**2)
    sure = stdtrit(
        _freedom(noise, drift, len(offsets.row) - len(number), rows_alike), 1 - _ERROR / 2 / max(len(number), 1)
    )
    off = (np.abs(across) > sure * error) & (np.abs(across) >= _LEAST_OFF_M) & np.isfinite(error)
    table = ROW_OFFSETS.frame(
        {
            "row": number, "points": count, "across_m": across, "across_se_m": error, "along_m": along, "off_place": off,
        }
    )  # fmt: skip
    receiver = float(np.sqrt((repeats**2).mean() / 2)) if len(repeats) else scatter
    beyond = np.mean(across**2 - error**2) if len(number) >= _LEAST_ROWS else np.nan
    return (
        Accuracy(
            scatter_m=scatter,
            receiver_m=receiver,
            repeats=len(repeats),
            drift_m=drift if len(number) >= _LEAST_ROWS else np.nan,
            rows_m=float(np.sqrt(max(beyond, 0.0))),
            plants_m=float(np.sqrt(max(scatter**2 - receiver**2, 0.0))) if len(repeats) else np.nan,
        ),
        table,
    )


def _row_means(values: Floats, one: Ints, rows: int) -> Floats:
    """Mean offset of each row, strays left out: a wrong name or match mustn't move its row."""
    middle = _row_medians(values, one, rows)
    left = values - middle[one]
    near = np.abs(left) <= _STRAY * max(_MAD * float(np.median(np.abs(left))), 1e-9) if len(left) else left > 0
    near |= np.bincount(one, minlength=rows)[one] < 3
    weight = np.bincount(one, near, minlength=rows)
    return np.asarray(np.bincount(one, values * near, minlength=rows) / np.maximum(weight, 1))


def _row_medians(values: Floats, one: Ints, rows: int) -> Floats:
    order = np.lexsort((values, one))
    count = np.bincount(one, minlength=rows)
    first = np.cumsum(count) - count
    ranked = values[order]
    return np.asarray((ranked[first + (count - 1) // 2] + ranked[first + count // 2]) / 2)


def _within(offsets: Offsets, one: Ints, count: Ints) -> float:
    """Estimate the standard deviation of single points about their rows' medians, in both directions; NaN if unknown.

    Strays are left out; each row costs a degree of freedom.
    """
    rows = len(count)
    many = count[one] >= 2
    if not many.any():
        return float("nan")
    left = np.concatenate([(v - _row_medians(v, one, rows)[one])[many] for v in (offsets.along, offsets.across)])
    rough = _MAD * float(np.median(np.abs(left)))
    near = np.abs(left) <= _STRAY * max(rough, 1e-9)
    share_kept = 2 * many.sum() - 2 * (count >= 2).sum()
    return float(np.sqrt((left[near] ** 2).sum() / max(share_kept * near.mean(), 1)))


def _drift(along: Floats, count: Ints, scatter: float) -> tuple[float, float]:
    """Estimate how far whole rows drift along themselves beyond their points' noise, and how many rows that rests on.

    Rows walked one after another drift alike, so they tell less than as many rows that don't: n (1 - r) / (1 + r) with
    the correlation r from row to row (the effective number of a first-order chain).
    """
    if len(along) < _LEAST_ROWS:
        return 0.0, 1.0
    spread = _MAD * float(np.median(np.abs(along - np.median(along))))
    near = np.abs(along - np.median(along)) <= _STRAY * max(spread, 1e-9)
    kept = along[near]
    noise = float(np.mean(scatter**2 / np.maximum(count[near], 1)))
    drift = np.sqrt(max(float((kept**2).mean()) - noise, 0.0)) if len(kept) else 0.0
    left = kept - kept.mean()
    alike = float((left[1:] * left[:-1]).sum() / max((left**2).sum(), 1e-12)) if len(kept) > 2 else 0.0
    return float(drift), max(len(kept) * (1 - max(alike, 0.0)) / (1 + max(alike, 0.0)), 2.0)


def _freedom(noise: Floats, drift: float, points: int, rows: float) -> Floats:
    """Degrees of freedom of the sum of both variances (Welch and Satterthwaite, from memory)."""
    parts = noise**2 / max(points, 1) + drift**4 / max(rows - 1, 1.0)
    return np.asarray((noise + drift**2) ** 2 / np.maximum(parts, 1e-24)).clip(1.0, None)
