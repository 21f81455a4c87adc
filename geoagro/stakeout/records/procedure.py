"""How a field is marked with the receiver at hand: the way, its steps, and what it promises."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import pandas as pd

from geoagro.values.layers import Field, LayerSpec
from geoagro.values.words import Sentence

Way = Literal["points", "points_and_tape", "level_and_tape", "pegs_and_tape"]
"""Every stake by receiver; some rows by receiver and the others by tape; base rows by level; base rows from pegs by tape."""

STEPS = LayerSpec(
    "procedure",
    "Steps of marking, in order",
    "none",
    (
        Field("step", "int", "Its place in the order, 1 first."),
        Field("kind", "text", "peg, row, tape or check.", values=("peg", "row", "tape", "check")),
        Field("row", "text", "Row as written on stakes."),
        Field("start", "text", "Where to measure from."),
        Field("end", "text", "Stake or row that it leads to."),
        Field("distance_m", "float", "Distance with the tape held level; empty where a table gives it.", "m"),
        Field("allowed_m", "float", "Farthest that a check may be off (95 %); more means a slip.", "m"),
        Field("text", "text", "What to do."),
    ),
)


@dataclass(frozen=True)
class Findable:
    """A point that is found without a receiver: its name on the page, place, and what it is."""

    name: str
    x: float
    y: float
    what: Sentence


@dataclass(frozen=True, eq=False)
class Procedure:
    """How to mark this field.

    Attributes
    ----------
    base_rows
        Rows (as written on stakes) that are set on their own; all others are taped from them.
    between
        Most tapes from one base row of this field to the next.
    promise_m
        95 % of all rows lie within this of their place among the base rows, were there as many tapes as are allowed.
    tape_sd_m, key_sd_m
        What that rests on: standard deviation of one tape from row to row and of a base row across itself.
    rows_taped
        Rows that are taped.
    times
        How often each base row is levelled, its stakes set in the middle of the marks.
    on_slope_m
        How far off the last row comes to lie if the tape is laid on the slope instead of held level; NaN if heights are
        unknown.
    steps, told
        Table STEPS, and the text of each of its lines to be put into words.
    """

    way: Way
    base_rows: tuple[str, ...]
    between: int
    promise_m: float
    tape_sd_m: float
    key_sd_m: float
    rows_taped: int
    on_slope_m: float
    findable: tuple[Findable, ...]
    steps: pd.DataFrame
    told: tuple[Sentence, ...]
    sentences: tuple[Sentence, ...]
    times: int = 1
