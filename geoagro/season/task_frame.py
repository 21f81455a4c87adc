"""The record that every task is written down in."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoagro.season.clock import Clock, Days

Column: TypeAlias = "pd.Series | NDArray[np.generic] | str | int | float"
_COLUMNS = ["lot", "bed", "row", "walk", "planting", "crop", "bed_kind", "planting_no", "places"]


def task_frame(task: str, source: pd.DataFrame, **columns: Column) -> pd.DataFrame:
    """Frame of tasks of one kind; what isn't given takes a neutral value.

    `link` says whose planting it waits for: 'lot', 'bed' or '' (nobody's); `offset` how many days after it.
    """
    neutral: dict[str, Column] = {
        "round": 1,
        "hours": 0.0,
        "release": 0,
        "slack": 0,
        "group": -1,
        "full_places": 0.0,
        "link": "",
        "offset": 0,
    }
    given: dict[str, Column] = {name: source[name] for name in _COLUMNS}
    return pd.DataFrame(given | {"task": task} | neutral | columns, index=source.index)


def repeated(
    task: str,
    source: pd.DataFrame,
    times: Days,
    clock: Clock,
    *,
    step: Days | int,
    first: Days | int,
    slack: int,
    hours: pd.Series,
    link: str,
) -> pd.DataFrame:
    """Repeat each record `times` times, `step` days apart, the first one `first` days after planting."""
    each = source.loc[source.index.repeat(times)]
    count = np.concatenate([np.arange(n) for n in times]) if len(times) else np.array([], dtype=np.int64)
    step = np.repeat(np.broadcast_to(step, len(times)), times)
    first = np.repeat(np.broadcast_to(first, len(times)), times)
    offset = (first + count * step).astype(np.int64)
    frame = task_frame(
        task,
        each,
        round=count.astype(np.int64) + 1,
        hours=np.repeat(np.asarray(hours), times),
        release=each["plant_day"].to_numpy() + offset,
        slack=slack,
        link=link,
        offset=offset,
    )
    return frame[frame["release"] <= clock.last]
