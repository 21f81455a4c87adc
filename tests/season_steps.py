"""Lots, beds, stays and tasks by hand, for tests of single steps of the season. All of it is invented."""

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
from season_cases import CROPS, rule

from geoagro.season.clock import Clock, last_day
from geoagro.season.crops import season_crops
from geoagro.season.schedule import Schedule
from geoagro.season.tasks import Tasks

NAN = float("nan")
CLOCK = Clock(date(2027, 3, 10), -20, last_day(date(2027, 3, 10), 1))
"""From 18 February on; day 0 is 10 March 2027, a Wednesday; the plan ends on 29 February 2028."""


def crop(code="maize", **changes):
    return replace(season_crops([code], CROPS, rule())[code], **changes)


def lots(count=2, **columns):
    values = {
        "lot": np.arange(count), "bed": [f"b{k}" for k in range(count)], "row": 1, "walk": np.arange(count), "planting": "p", "crop": "maize",
        "bed_kind": "vegetable", "planting_no": 1, "places": 10, "plant_day": 0, "from_day": 70, "to_day": 98, "yield_share": 1.0,
        "area_m2": 20.0, "kind": 0, "prunings": [()] * count, "coppicings": [()] * count,
    }  # fmt: skip
    return pd.DataFrame(values | columns)


BEDS = pd.DataFrame({"bed": ["a", "b", "c"], "row": [1, 1, 2], "walk": [0, 1, 2], "area_m2": [20.0, 10.0, 5.0]})


def stands(*rows):
    return pd.DataFrame(rows, columns=["bed", "planting", "crop", "begin", "end"])


def schedule(begin, end):
    one = np.arange(len(begin))
    return Schedule(np.array(begin), np.array(end), one, np.array(begin), np.ones(len(begin)))


def tasks(**columns):
    count = len(next(iter(columns.values())))
    values = {
        "task": "plant",
        "release": 0,
        "slack": 0,
        "hours": 8.0,
        "crop": "maize",
        "full_places": 0.0,
        "places": 10,
        "planting": "p",
    }
    values |= {"row": 1, "bed": "a", "walk": 0, "lot": np.arange(count)}
    none = np.zeros(0, dtype=np.int64)
    return Tasks(pd.DataFrame(values | columns), none, none, none)
