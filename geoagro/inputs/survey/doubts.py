"""What looks wrong with the points of a survey though they lie at the field, over all its files."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from geoagro.arrays import Bools, Ints
from geoagro.inputs.survey.fit import NEAR_M
from geoagro.inputs.survey.several import where_all
from geoagro.values.site import Finding
from geoagro.values.words import Sentence

_SAME_PLACE_M = 0.02


def doubts(points: Any, labels: Sequence[str], file: Ints) -> list[Finding]:
    """Doubt names used again, points on one place and points far off; each names the files that hold them.

    `labels` are those of the survey's files, `file` (n,) tells which of them each point is from.
    """
    found = []

    def where(chosen: Bools) -> str:
        return where_all([labels[k] for k in np.unique(file[chosen])])

    names = points["name"].to_numpy(dtype=object)
    twice = [name for name, count in Counter(names).items() if name and count > 1]
    if twice:
        text = Sentence(
            "{n} {n:name|names} used more than once: {names}; see below how {n:it was|they were} matched",
            n=len(twice),
            names=", ".join(twice[:8]),
        )
        found.append(Finding("warning", where(np.isin(names, twice)), text))
    there = np.flatnonzero(np.isfinite(points["x"].to_numpy()))
    seen = points.iloc[there]
    xy = seen[["x", "y"]].to_numpy().reshape(-1, 2)
    pairs: Any = cKDTree(xy).query_pairs(_SAME_PLACE_M, output_type="ndarray") if len(seen) else ()
    if len(pairs):
        at = ", ".join(str(seen["name"].iloc[i] or seen["point"].iloc[i]) for i in np.unique(pairs[:, 0])[:8])
        found.append(
            Finding(
                "warning",
                where(np.isin(np.arange(len(points)), there[np.unique(pairs)])),
                Sentence("{n} {n:point|points} surveyed twice at one place: {at}", n=len(pairs), at=at),
            )
        )
    far = points[points["far"]]
    if len(far):
        at = ", ".join(str(name or number) for name, number in zip(far["name"][:8], far["point"][:8], strict=True))
        text = Sentence(
            "{n} {n:point lies|points lie} more than {near_m:.0f} m outside the field: {at}; left out",
            n=len(far),
            near_m=NEAR_M,
            at=at,
        )
        found.append(Finding("warning", where(points["far"].to_numpy(dtype=bool)), text))
    return found
