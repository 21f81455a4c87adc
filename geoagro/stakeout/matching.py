"""Pair what was surveyed with what was designed: by name, and the rest by the best assignment within a distance."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components, min_weight_full_bipartite_matching
from scipy.spatial import cKDTree

from geoagro.arrays import Bools, Floats, Ints, Texts

_DENSE = 400  # largest cluster solved by the dense solver


@dataclass(frozen=True, eq=False)
class Pairs:
    """Matches: positions in the design and in the survey, and how each was found ("name" or "place")."""

    design: Ints
    survey: Ints
    by: Texts


def match(
    design_names: Texts,
    design_xy: Floats,
    survey_names: Texts,
    survey_xy: Floats,
    *,
    within_m: float,
    name_within_m: float,
) -> tuple[Pairs, list[str]]:
    """Match by name first, then by place; also tell names that are matched to nothing because they lie too far.

    Names count where they are written once on each side and the two places lie within `name_within_m`.
    """
    named, strayed = by_name(design_names, design_xy, survey_names, survey_xy, within_m=name_within_m)
    left_design = np.setdiff1d(np.arange(len(design_xy)), named[:, 0])
    left_survey = np.setdiff1d(np.arange(len(survey_xy)), named[:, 1])
    placed = by_place(design_xy[left_design], survey_xy[left_survey], within_m=within_m)
    design = np.concatenate([named[:, 0], left_design[placed[:, 0]]])
    survey = np.concatenate([named[:, 1], left_survey[placed[:, 1]]])
    by = np.repeat(["name", "place"], [len(named), len(placed)])
    order = np.argsort(design)
    return Pairs(design[order], survey[order], by[order]), strayed


def by_name(
    design_names: Texts, design_xy: Floats, survey_names: Texts, survey_xy: Floats, *, within_m: float
) -> tuple[Ints, list[str]]:
    """Pairs (n, 2) of equal names that are unique on both sides; and names whose places lie too far apart.

    A surveyed name without a position (NaN) lies nowhere, so it is never too far.
    """
    design, survey = _unique_names(design_names), _unique_names(survey_names)
    shared = sorted(design.keys() & survey.keys(), key=lambda name: design[name])
    pairs = np.array([(design[name], survey[name]) for name in shared], dtype=np.int64).reshape(-1, 2)
    away = np.hypot(*(design_xy[pairs[:, 0]] - survey_xy[pairs[:, 1]]).T)
    near = ~(away > within_m)  # a name without a position counts
    return pairs[near], [shared[k] for k in np.flatnonzero(~near)]


def _unique_names(names: Texts) -> dict[str, int]:
    text = np.array([plain_name(name) for name in names], dtype=object)
    values, first, count = np.unique(text.astype(str), return_index=True, return_counts=True)
    return {v: int(k) for v, k, n in zip(values.tolist(), first, count, strict=True) if n == 1 and v}


def plain_name(name: object) -> str:
    """Bring a name as people write it to one form: no blanks, small letters, no leading noughts.

    >>> plain_name(" 12 - 035"), plain_name("12-000"), plain_name(None)
    ('12-35', '12-0', '')
    """
    return re.sub(r"(?<![\d.])0+(?=\d)", "", re.sub(r"\s", "", str(name or "").lower()))


def by_place(design_xy: Floats, survey_xy: Floats, *, within_m: float) -> Ints:
    """Pairs (n, 2) within the distance: as many as can be, and of those the least sum of distances.

    Points fall apart into clusters that don't touch each other; each is solved by itself (Jonker and Volgenant
    1987, in SciPy), so the answer is that of solving all at once.
    """
    if len(design_xy) == 0 or len(survey_xy) == 0:
        return np.empty((0, 2), dtype=np.int64)
    near = cKDTree(design_xy).sparse_distance_matrix(cKDTree(survey_xy), within_m, output_type="coo_matrix")
    i, j = np.asarray(near.row, dtype=np.int64), np.asarray(near.col, dtype=np.int64)
    away = np.hypot(*(design_xy[i] - survey_xy[j]).T)
    cluster = _clusters(i, j, len(design_xy), len(survey_xy))
    order = np.lexsort((j, i, cluster))
    i, j, away, cluster = i[order], j[order], away[order], cluster[order]
    starts = np.flatnonzero(np.append(True, cluster[1:] != cluster[:-1])) if len(i) else np.empty(0, dtype=np.int64)
    ends = np.append(starts[1:], len(i)).astype(np.int64)
    single = ends - starts == 1
    pairs = [np.column_stack([i[starts[single]], j[starts[single]]])]
    for start, end in zip(starts[~single], ends[~single], strict=True):
        pairs.append(_best(i[start:end], j[start:end], away[start:end], within_m))
    found = np.vstack(pairs).astype(np.int64)
    return found[np.argsort(found[:, 0])]


def _clusters(i: Ints, j: Ints, designs: int, surveys: int) -> Ints:
    """Find the cluster that each near pair belongs to."""
    links = coo_array((np.ones(len(i), dtype=np.int8), (i, j + designs)), shape=(designs + surveys,) * 2)
    _, label = connected_components(links.tocsr(), directed=False)
    return np.asarray(label[i], dtype=np.int64)


def _best(i: Ints, j: Ints, away: Floats, within_m: float) -> Ints:
    """Solve one cluster; leaving a point alone costs more than any distance saved by it."""
    rows, row = np.unique(i, return_inverse=True)
    columns, column = np.unique(j, return_inverse=True)
    alone = (min(len(rows), len(columns)) + 1) * (within_m + 1.0)
    if max(len(rows), len(columns)) <= _DENSE:
        cost = np.full((len(rows), len(columns)), alone)
        cost[row, column] = away
        a, b = linear_sum_assignment(cost)
        kept = cost[a, b] < alone
    else:
        a, b, kept = _best_sparse(row, column, away, alone)
    return np.column_stack([rows[a[kept]], columns[b[kept]]])


def _best_sparse(row: Ints, column: Ints, away: Floats, alone: float) -> tuple[Ints, Ints, Bools]:
    """Solve a large cluster on its sparse graph: each design point may also take a place of its own, alone."""
    designs, surveys = int(row.max()) + 1, int(column.max()) + 1
    own = np.arange(designs)
    cost = csr_array(
        (
            np.concatenate([away + 1e-9, np.full(designs, alone)]),
            (np.concatenate([row, own]), np.concatenate([column, surveys + own])),
        ),
        shape=(designs, surveys + designs),
    )
    a, b = (np.asarray(side, dtype=np.int64) for side in min_weight_full_bipartite_matching(cost))
    kept = b < surveys
    return a, np.where(kept, b, 0), kept
