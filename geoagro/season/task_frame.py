"""The record that every task is written down in."""

from __future__ import annotations

from typing import Any

_COLUMNS = ["lot", "bed", "row", "walk", "planting", "crop", "bed_kind", "cycle", "places"]


def task_frame(task: str, source: Any, **columns: Any) -> Any:
    """Frame of tasks of one kind; what isn't given takes a neutral value.

    `link` says whose planting it waits for: 'lot', 'bed' or '' (nobody's); `offset` how many days after it.
    """
    neutral = {
        "round": 1,
        "hours": 0.0,
        "release": 0,
        "slack": 0,
        "group": -1,
        "full_places": 0.0,
        "link": "",
        "offset": 0,
    }
    return source[_COLUMNS].assign(task=task, **(neutral | columns))
