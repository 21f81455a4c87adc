"""Spans of time in which nothing stands in a bed."""

from __future__ import annotations

import numpy as np
import pandas as pd

LEAST_DAYS = 7
"""Shorter spans are the pause between two crops."""


def free_spans(stands: pd.DataFrame, beds: pd.DataFrame, last: int) -> pd.DataFrame:
    """Every span of at least a week, from day 0 to `last`, in which nothing stands in a bed.

    Parameters
    ----------
    stands
        bed, begin, end (first and last day on the ground) and planting.
    beds
        bed, row and walk of all beds that can stand free.

    Returns
    -------
    Frame with the columns of `beds`, `free_from`, `free_to` (days) and `next_planting`, in walking order.
    """
    ends = pd.DataFrame({"bed": beds["bed"], "begin": last + 1, "end": last + 1, "planting": ""})
    spans = pd.concat([stands[["bed", "begin", "end", "planting"]], ends], ignore_index=True)
    spans = spans.sort_values(["bed", "begin", "planting"], ignore_index=True)
    before = spans.groupby("bed")["end"].cummax().groupby(spans["bed"]).shift(fill_value=-1)
    gaps = spans.assign(free_from=np.maximum(before + 1, 0), free_to=spans["begin"] - 1)
    gaps = gaps[gaps["free_to"] - gaps["free_from"] + 1 >= LEAST_DAYS]
    gaps = gaps[["bed", "free_from", "free_to", "planting"]].merge(beds, on="bed")
    gaps = gaps.sort_values(["walk", "free_from"], ignore_index=True)
    return gaps.rename(columns={"planting": "next_planting"})
