"""Ground that root zones share, by pair of crops; `root_harm` tells where that is a conflict."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from geoagro.arrays import Floats, Ints
from geoagro.plants.records.recipe_analysis import ROOT_PAIRS
from geoagro.plants.root_shares import crop_means, used_share, worst_moment
from geoagro.plants.root_turns import Roots
from geoagro.values.words import CropName, Sentence

_LEAST = 0.005
_JUDGES = 400


def pair_table(roots: Roots) -> pd.DataFrame:
    """Layer ROOT_PAIRS: worst pairs first."""
    means = crop_means(roots.shares)
    rows = [row for a in range(len(means)) for b in range(len(means)) if (row := _pair_row(roots, means, a, b))]
    rows.sort(key=lambda row: (-row["mean_share_pct"], row["crop"], row["with_crop"]))
    return ROOT_PAIRS.frame({name: [row[name] for row in rows] for name in ROOT_PAIRS.columns})


def _pair_row(roots: Roots, means: Floats, a: int, b: int) -> dict[str, Any] | None:
    mean = np.nan_to_num(means[a, b])
    at = worst_moment(mean, ~np.isnan(means[a, b]))
    if mean[at] < _LEAST:
        return None
    who = _judges(roots, a, at)
    used = used_share(roots.stand, roots.shares, who, np.full(len(who), at), b)
    row = {
        "crop": roots.shares.crops[a],
        "with_crop": roots.shares.crops[b],
        "plants": len(who),
        "mean_share_pct": 100 * float(used.mean()),
        "worst_share_pct": 100 * float(used.max()),
        "month": int(roots.months[at]),
        "from_month": _from_month(roots, mean, a, b) if used.mean() >= roots.threshold else 0,
    }
    return row | {"text": _sentence(roots, row)}


def _judges(roots: Roots, crop: int, at: int) -> Ints:
    """Up to 400 living plants of a crop, evenly picked."""
    living = np.flatnonzero((roots.shares.crop == crop) & roots.shares.alive[:, at])
    return living[:: -(-len(living) // _JUDGES)]


def _from_month(roots: Roots, mean: Floats, a: int, b: int) -> int:
    """First month in which the mean share passes the threshold; the summed shares say where to start looking."""
    for at in np.flatnonzero(mean >= roots.threshold):
        who = _judges(roots, a, int(at))
        if used_share(roots.stand, roots.shares, who, np.full(len(who), at), b).mean() >= roots.threshold:
            return int(roots.months[at])
    return 0


def _sentence(roots: Roots, row: dict[str, Any]) -> str:
    first, second = (CropName(roots.names[row[key]]) for key in ("crop", "with_crop"))
    told = {"crop": first, "share": float(row["mean_share_pct"]), "other": second, "month": row["month"]}
    if row["crop"] == row["with_crop"]:
        return Sentence(
            "{crop} shares {share:.0f} % of its root zone with others of its kind in month {month}.", **told
        )
    if not row["from_month"]:
        return Sentence("{crop} shares {share:.0f} % of its root zone with {other} in month {month}.", **told)
    return Sentence(
        "{crop} shares {share:.0f} % of its root zone with {other} in month {month} ({least:.0f} % or more from month {first}).",
        **told, least=100 * roots.threshold, first=row["from_month"],
    )  # fmt: skip
